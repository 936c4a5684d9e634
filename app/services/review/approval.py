"""Months of a record on their way: draft, reviewed, approved; who, when and why.

An approved month is left alone by everything. It changes only after it was opened again with a
reason; then it follows what is in force, and the audit trail holds its figures before and after.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series import totals as sums
from app.language.forms import ChangedMeanwhile
from app.language.words import counted, noun
from app.records.audit import write_audit
from app.records.people import Person
from app.records.review import MonthState
from app.services.days import daily
from app.services.days import rebuild as series_store
from app.services.days.state import APPROVED, DRAFT, REVIEWED, states
from app.services.review import queue as review_queue
from app.services.review.items import QueueItem
from app.services.series.flow import inputs_of
from app.services.series.months import (
    day_number,
    first_of,
    month_begins_s,
    month_number,
    month_of_day,
    month_text,
)
from app.services.sites.changes import names_of

STEPS = {DRAFT: (REVIEWED,), REVIEWED: (APPROVED, DRAFT), APPROVED: (DRAFT,)}


@dataclass(frozen=True, kw_only=True)
class MonthLine:
    """One month of a record and where it stands."""

    month: str
    first: date
    last: date
    state: str
    revision: int
    by: str
    at: datetime | None
    reason: str
    open_items: int
    volume_m3: float | None
    volume_uncertainty_m3: float | None
    missing_fraction: float
    next_steps: tuple[str, ...]


def months(session: Session, structure_id: int) -> list[MonthLine]:
    """Return every month on record, oldest first."""
    whole = daily.span(session, structure_id)
    if whole is None:
        return []
    items = review_queue.open_of(session, structure_id)
    return _lines(session, structure_id, month_of_day(whole[0]), month_of_day(whole[1]), items)


def _lines(
    session: Session,
    structure_id: int,
    first: int,
    last: int,
    items: list[QueueItem],
) -> list[MonthLine]:
    begin, end = day_number(first_of(first)), day_number(first_of(last + 1)) - 1
    inputs = inputs_of(session, structure_id)
    found = sums.period_totals(
        daily.arrays(session, structure_id, begin, end), sums.month_starts(begin, end)
    )
    known, names = states(session, structure_id), names_of(session)
    lines = []
    for k, month in enumerate(range(first, last + 1)):
        row = known.get(month)
        a = month_begins_s(month, inputs.offset_min)
        b = month_begins_s(month + 1, inputs.offset_min)
        state = row.state if row else DRAFT
        volume, doubt = float(found.volume_m3[k]), float(found.volume_uncertainty_m3[k])
        lines.append(
            MonthLine(
                month=month_text(month),
                first=first_of(month),
                last=first_of(month + 1) - timedelta(days=1),
                state=state,
                revision=row.revision if row else 0,
                by=names.get(row.by_id, "") if row else "",
                at=row.at if row else None,
                reason=row.reason if row else "",
                open_items=sum(item.from_s < b and item.to_s >= a for item in items),
                volume_m3=None if volume != volume else volume,
                volume_uncertainty_m3=None if doubt != doubt else doubt,
                missing_fraction=float(found.missing_fraction[k]),
                next_steps=STEPS[state],
            )
        )
    return lines


def month_line(session: Session, structure_id: int, month: int) -> MonthLine:
    items = review_queue.open_of(session, structure_id)
    return _lines(session, structure_id, month, month, items)[0]


def move(
    session: Session,
    structure_id: int,
    month: str,
    to: str,
    person: Person,
    now: datetime,
    *,
    reason: str = "",
    revision: int,
) -> MonthLine:
    """Move a month to another state, if nobody moved it since `revision` was looked at.

    Raises
    ------
    BadInput
        When the step is none, a reason is missing, nothing is on record, or work is open.
    ChangedMeanwhile
        When somebody else moved it; nothing is written.
    """
    number = month_number(month)
    before = month_line(session, structure_id, number)
    reason = reason.strip()[:2000]
    if before.revision != revision:
        raise _meanwhile(before)
    if to not in STEPS[before.state]:
        raise BadInput(
            "state",
            to[:20],
            f"{month} is {before.state}",
            f"From there it goes to {' or '.join(STEPS[before.state])}.",
        )
    if to == DRAFT and not reason:
        raise BadInput("reason", "", "this is needed", "Say why the month is opened again.")
    if before.volume_m3 is None and before.missing_fraction >= 1.0 and to != DRAFT:
        raise BadInput("month", month, "holds no record", "Import a logger file first.")
    if to == APPROVED and before.open_items:
        raise BadInput(
            "month",
            month,
            f"{counted(before.open_items, 'item')} of the review queue "
            f"{noun(before.open_items, 'is', 'are')} open in it",
            "Accept or return each of them, then approve the month.",
        )
    assert person.id is not None
    session.add(
        MonthState(
            structure_id=structure_id,
            month=number,
            revision=revision + 1,
            state=to,
            reason=reason,
            by_id=person.id,
            at=now,
        )
    )
    try:
        session.flush()
    except IntegrityError:  # the other step came between look and write
        session.rollback()
        raise _meanwhile(month_line(session, structure_id, number)) from None
    if to == DRAFT:
        offset = inputs_of(session, structure_id).offset_min
        a, b = month_begins_s(number, offset), month_begins_s(number + 1, offset) - 1
        series_store.rebuild(session, structure_id, a, b)
    after = month_line(session, structure_id, number)
    write_audit(
        session,
        person.id,
        f"month {to}" if to != DRAFT else "month opened again",
        "structure",
        structure_id,
        before=_facts(before),
        after=_facts(after),
        reason=reason,
    )
    return after


def _facts(line: MonthLine) -> dict[str, Any]:
    return {
        "month": line.month,
        "state": line.state,
        "revision": line.revision,
        "volume_m3": line.volume_m3,
        "missing_fraction": round(line.missing_fraction, 6),
    }


def _meanwhile(line: MonthLine) -> ChangedMeanwhile:
    return ChangedMeanwhile(
        "month", {"state": line.state, "reason": line.reason}, line.by or "Somebody else"
    )
