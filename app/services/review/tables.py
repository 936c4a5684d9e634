"""Lists of review: the queue as a table, and what the audit trail can be asked for."""

from collections.abc import Sequence

import sqlalchemy as sa
from sqlmodel import Session, col

from app.errors import BadInput
from app.language.tables import ALL, Column, Table
from app.records.audit import AuditEntry
from app.records.sites import Site
from app.services.review import queue as review_queue
from app.services.review.items import QueueItem
from app.services.review.kinds import KINDS
from app.services.review.trail import AuditLine
from app.services.series.months import month_begins_s, month_number

QUEUE_COLUMNS = (
    Column("key", "Item"),
    Column("kind", "Kind"),
    Column("title", "What"),
    Column("words", "Said of it"),
    Column("site_code", "Site"),
    Column("structure_id", "Structure id"),
    Column("quantity", "Of"),
    Column("from_at", "From, UTC"),
    Column("to_at", "To, UTC"),
    Column("size", "Size"),
    Column("unit", "Unit"),
    Column("state", "State"),
    Column("last_by", "Last answer by"),
    Column("last_at", "Last answer, UTC"),
)


def filtered(
    session: Session, site_id: int | None, state: str, month: str, kind: str = ""
) -> list[QueueItem]:
    """Return every item of a site (or all), a state, a month and a kind (or any), newest first.

    Raises
    ------
    BadInput
        When state, month or kind is none.
    """
    if kind and kind not in KINDS:
        raise BadInput("kind", kind[:20], "no kind of item", "Choose one of the list.")
    items = review_queue.queue(session, site_id, state=state, limit=ALL)
    items = [item for item in items if kind in ("", item.kind)]
    return of_month(session, items, month) if month else items


def of_month(session: Session, items: Sequence[QueueItem], month: str) -> list[QueueItem]:
    """Return the items that lie in a site month, written such as 2025-07; raises BadInput."""
    number = month_number(month)
    offsets = dict(session.execute(sa.select(col(Site.id), col(Site.utc_offset_min))).all())
    found = []
    for item in items:
        offset = offsets.get(item.site_id, 0)
        begins, ends = month_begins_s(number, offset), month_begins_s(number + 1, offset)
        if item.from_s < ends and item.to_s >= begins:
            found.append(item)
    return found


def queue_table(items: Sequence[QueueItem]) -> Table:
    """Return items of the queue as a table."""
    return Table(
        "review", QUEUE_COLUMNS, [{c.key: getattr(x, c.key) for c in QUEUE_COLUMNS} for x in items]
    )


def audit_subjects(session: Session) -> list[str]:
    """Return the kinds of things that the audit trail speaks of."""
    found = session.execute(sa.select(col(AuditEntry.subject)).distinct()).scalars()
    return sorted(found)


AUDIT_COLUMNS = (
    Column("id", "Line"),
    Column("at", "When, UTC"),
    Column("by", "Who"),
    Column("action", "What"),
    Column("site_code", "Site"),
    Column("subject", "Of"),
    Column("subject_id", "Id"),
    Column("before", "Before"),
    Column("after", "After"),
    Column("reason", "Reason"),
    Column("named", "Name of it"),
    Column("about", "Which one"),
)


def audit_table(lines: list[AuditLine]) -> Table:
    return Table("audit", AUDIT_COLUMNS, [line.as_row() for line in lines])
