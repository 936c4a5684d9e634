"""What people saw and wrote in the field: append-only, exactly as sent.

Every kind of observation shares one table and one road, so that a new kind needs a body model
and no migration. Triggers refuse UPDATE and DELETE on both engines; a correction is a new row.
"""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class Entry(SQLModel, table=True):
    """One observation; its id was made on the phone."""

    __table_args__ = (
        sa.Index("ix_entry_site_kind_observed", "site_id", "kind", "observed_at"),
        sa.Index("ix_entry_structure_kind_observed", "structure_id", "kind", "observed_at"),
    )

    id: str = Field(primary_key=True, max_length=36)
    kind: str = Field(max_length=30)
    site_id: int = Field(foreign_key="site.id")
    structure_id: int | None = Field(default=None, foreign_key="structure.id")
    visit_id: str | None = Field(default=None, max_length=36, index=True)
    observed_at: datetime = Field(sa_type=UtcTime)
    utc_offset_min: int
    by_id: int = Field(foreign_key="person.id")
    saved_at: datetime = Field(sa_type=UtcTime)
    received_at: datetime = Field(sa_type=UtcTime)
    phone: str = Field(max_length=64)
    corrects_id: str | None = Field(default=None, max_length=36, index=True)
    reason: str | None = Field(default=None, sa_type=sa.Text)
    by_role: str | None = Field(default=None, max_length=10)  # when received; None before 0005
    moves: bool | None = Field(default=None)  # a correction made to move the entry elsewhere
    body: dict[str, Any] = Field(sa_type=sa.JSON)
    content_sha256: str = Field(max_length=64)


class RefusedEntry(SQLModel, table=True):
    """An entry the server refused, kept whole with the reason: nothing a phone sent is lost."""

    __tablename__ = "refused_entry"

    sha256: str = Field(primary_key=True, max_length=64)
    entry_id: str = Field(max_length=80, index=True)
    by_id: int = Field(foreign_key="person.id")
    phone: str = Field(max_length=64)
    received_at: datetime = Field(sa_type=UtcTime)
    content: str = Field(sa_type=sa.Text)
    field: str = Field(max_length=80)
    value: str = Field(sa_type=sa.Text)
    rule: str = Field(sa_type=sa.Text)
    remedy: str = Field(sa_type=sa.Text)
    settled: bool = False
