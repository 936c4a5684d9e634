"""Limits on what may be taken, dated, as a permit or an agreement words them."""

from datetime import date, datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class TakeLimit(SQLModel, table=True):
    """One limit at a structure from a day on; ended by a last day, never changed.

    `amount` is in m3/s for rate and residual, in m3 for daily, monthly and season. A season runs
    from `season_begins` to `season_ends` (MM-DD), over New Year when it ends before it begins.
    """

    __tablename__ = "take_limit"

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id", index=True)
    kind: str = Field(max_length=10)
    amount: float
    window_s: int = 0
    valid_from: date
    valid_to: date | None = None
    season_begins: str = Field(default="07-01", max_length=5)
    season_ends: str = Field(default="06-30", max_length=5)
    note: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)
    ended_at: datetime | None = Field(default=None, sa_type=UtcTime)
    end_reason: str = Field(default="", sa_type=sa.Text)


class RaceCapacity(SQLModel, table=True):
    """What a race can carry at most at a structure, from a day on; rows are added, never changed.

    `amount` is a head over the crest, m, at bank-full for the kind head, m3/s for the kind flow,
    and nothing for the kind unknown: from then on nobody knows.
    """

    __tablename__ = "race_capacity"

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id", index=True)
    kind: str = Field(max_length=10)
    amount: float | None = None
    valid_from: date
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)
