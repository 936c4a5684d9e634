"""The same form sent twice by one person within a minute makes one row.

A slow page is tapped again, a browser sends a form again: the second must neither double a row
nor be refused as taken. What differs in any figure is new; so is the same after a minute,
or after something else of that person.
"""

from datetime import timedelta
from typing import Any, TypeVar

from sqlmodel import Session, SQLModel, select

from app.records.audit import AuditEntry
from app.records.database import utc_now
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.records.takes import RaceCapacity, TakeLimit

WITHIN = timedelta(minutes=1)
MADE_AT = ("added_at", "created_at")
Made = TypeVar("Made", TakeLimit, RaceCapacity, Rating, GaugeZero)
Said = TypeVar("Said", bound=SQLModel)


def sent_again(session: Session, row: Made) -> Made | None:
    """Return the newest row of the same person at the structure if it says what `row` says.

    `row` is not in the session yet. One at a time a structure: two forms may arrive together.
    """
    if row.by_id is None:
        return None
    session.exec(select(Structure.id).where(Structure.id == row.structure_id).with_for_update())
    return said_again(session, row, "structure_id")


def said_again(session: Session, row: Said, of: str) -> Said | None:
    """Return the newest row of the same person of the same thing if it says what `row` says.

    `of` is the column that names the thing; the caller holds it where two may write at once.
    """
    model: Any = type(row)
    newest = session.exec(
        select(model)
        .where(getattr(model, of) == getattr(row, of), model.by_id == getattr(row, "by_id", None))
        .order_by(model.id.desc())
        .limit(1)
    ).first()
    if newest is None:
        return None
    own = {"id", *MADE_AT}
    same = newest.model_dump(exclude=own) == row.model_dump(exclude=own)
    made_at = next(getattr(newest, name) for name in MADE_AT if hasattr(newest, name))
    now = next(getattr(row, name) for name in MADE_AT if hasattr(row, name))
    found: Said | None = newest if same and abs(now - made_at) <= WITHIN else None
    return found


def added_again(
    session: Session, known: Site | Structure | None, subject: str, by_id: int | None
) -> bool:
    """Tell whether a person has just added what a name or code belongs to, as it still stands.

    `known` is the row that holds the name; the caller compares what else the form says.
    """
    if known is None or by_id is None or known.revision != 1:
        return False
    line = session.exec(
        select(AuditEntry)
        .where(
            AuditEntry.subject == subject,
            AuditEntry.subject_id == str(known.id),
            AuditEntry.action == "added",
        )
        .limit(1)
    ).first()
    return line is not None and line.by_id == by_id and utc_now() - line.at <= WITHIN
