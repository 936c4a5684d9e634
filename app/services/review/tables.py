"""Lists of review: the queue as a table, and what the audit trail can be asked for."""

from collections.abc import Sequence

import sqlalchemy as sa
from sqlmodel import Session, col

from app.language.tables import Column, Table
from app.records.audit import AuditEntry
from app.services.review.items import QueueItem
from app.services.review.trail import AuditLine

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
