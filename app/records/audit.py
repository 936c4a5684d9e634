"""Who changed what and why, and the few facts the server keeps about itself."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Field, Session, SQLModel

from app.records.database import UtcTime, utc_now


class AuditEntry(SQLModel, table=True):
    """One change made in the office; append-only like the field entries."""

    __tablename__ = "audit_entry"
    __table_args__ = (sa.Index("ix_audit_entry_subject", "subject", "subject_id"),)

    id: int | None = Field(default=None, primary_key=True)
    at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)
    by_id: int | None = Field(default=None, foreign_key="person.id")
    action: str = Field(max_length=60)
    subject: str = Field(max_length=40)
    subject_id: str = Field(max_length=40)
    before: dict[str, Any] | None = Field(default=None, sa_type=sa.JSON)
    after: dict[str, Any] | None = Field(default=None, sa_type=sa.JSON)
    reason: str = Field(default="", sa_type=sa.Text)


class ServerFact(SQLModel, table=True):
    """A named fact, such as the server epoch that a restore from backup changes."""

    __tablename__ = "server_fact"

    key: str = Field(primary_key=True, max_length=40)
    value: str = Field(sa_type=sa.Text)


def write_audit(
    session: Session,
    by_id: int | None,
    action: str,
    subject: str,
    subject_id: object,
    *,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    reason: str = "",
) -> None:
    """Add one line to the audit trail in the caller's transaction."""
    session.add(
        AuditEntry(
            by_id=by_id,
            action=action,
            subject=subject,
            subject_id=str(subject_id),
            before=before,
            after=after,
            reason=reason,
        )
    )
