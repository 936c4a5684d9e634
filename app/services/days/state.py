"""In which state each month of a record is, and the refusal to change an approved one."""

from collections.abc import Collection, Iterator
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.review import MonthState
from app.services.series.months import month_of, month_text
from app.services.sites.structures import place

DRAFT, REVIEWED, APPROVED = "draft", "reviewed", "approved"


def states(session: Session, structure_id: int) -> dict[int, MonthState]:
    """Return the newest step of each month that has one."""
    return states_of(session, [structure_id]).get(structure_id, {})


def states_of(session: Session, ids: Collection[int]) -> dict[int, dict[int, MonthState]]:
    """Return the newest step of each month that has one, by structure."""
    newest = (
        sa.select(
            col(MonthState.structure_id),
            col(MonthState.month),
            sa.func.max(col(MonthState.revision)).label("revision"),
        )
        .where(col(MonthState.structure_id).in_(ids))
        .group_by(col(MonthState.structure_id), col(MonthState.month))
        .subquery()
    )
    found: dict[int, dict[int, MonthState]] = {}
    for row in session.exec(
        select(MonthState).join(
            newest,
            sa.and_(
                newest.c.structure_id == col(MonthState.structure_id),
                newest.c.month == col(MonthState.month),
                newest.c.revision == col(MonthState.revision),
            ),
        )
    ):
        found.setdefault(row.structure_id, {})[row.month] = row
    return found


def approved_months(session: Session, structure_id: int) -> set[int]:
    found = states(session, structure_id)
    return {month for month, row in found.items() if row.state == APPROVED}


def refuse_if_approved(
    session: Session, structure_id: int, from_s: int, to_s: int, what: str
) -> None:
    """Refuse a change that touches an approved month, both ends included.

    Raises
    ------
    BadInput
        Naming the month, since when it is approved, and the remedy.
    """
    for month, row in _approved_in(session, structure_id, from_s, to_s):
        raise BadInput(
            "month",
            month_text(month),
            f"approved on {row.at:%Y-%m-%d}: {what} would change it",
            "Open the month again with a reason, then repeat this.",
        )


def refuse_if_approved_since(
    session: Session, structure_id: int, from_s: int, to_s: int, since: datetime
) -> None:
    """Refuse to open what an approval rests on: a month approved after `since`, ends included.

    Raises
    ------
    BadInput
        Naming the month, since when it is approved, and the remedy.
    """
    for month, row in _approved_in(session, structure_id, from_s, to_s):
        if row.at >= since:
            raise BadInput(
                "month",
                month_text(month),
                f"approved on {row.at:%Y-%m-%d}, after this answer was given",
                "Open the month again with a reason, then take the answer back.",
            )


def _approved_in(
    session: Session, structure_id: int, from_s: int, to_s: int
) -> Iterator[tuple[int, MonthState]]:
    """Yield the approved months that a stretch touches, both ends included, oldest first."""
    site, _ = place(session, structure_id)
    first, last = (month_of(t, site.utc_offset_min) for t in (from_s, to_s))
    for month, row in sorted(states(session, structure_id).items()):
        if row.state == APPROVED and first <= month <= last:
            yield month, row
