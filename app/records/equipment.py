"""The instruments of the house: what each is, where it was, how it was calibrated; append-only.

A row is never changed. Of the facts of an instrument the newest said counts; of its places the
latest begun; a calibration is put right by another one that names it.
"""

from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class Instrument(SQLModel, table=True):
    """One instrument; what it is stands in its facts."""

    id: int | None = Field(default=None, primary_key=True)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)


class InstrumentFact(SQLModel, table=True):
    """What an instrument is, as somebody said it; the newest row counts.

    `interval_days` is the time after which a calibration or a check without a due date of its own
    is overdue.
    """

    __tablename__ = "instrument_fact"

    id: int | None = Field(default=None, primary_key=True)
    instrument_id: int = Field(foreign_key="instrument.id", index=True)
    kind: str = Field(max_length=20)
    described: str = Field(max_length=200)
    serial: str = Field(default="", max_length=60)
    interval_days: int | None = None
    note: str = Field(default="", sa_type=sa.Text)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)


class InstrumentPlace(SQLModel, table=True):
    """Where an instrument is from a day on: at a site, in a store, with a person, gone."""

    __tablename__ = "instrument_place"

    id: int | None = Field(default=None, primary_key=True)
    instrument_id: int = Field(foreign_key="instrument.id", index=True)
    since: date
    place: str = Field(max_length=10)
    site_id: int | None = Field(default=None, foreign_key="site.id", index=True)
    person_id: int | None = Field(default=None, foreign_key="person.id")
    words: str = Field(default="", max_length=200)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)


class Calibration(SQLModel, table=True):
    """A calibration or a check of an instrument on a day.

    `due_on` is fixed when the row is made, so that a later change of the interval does not judge
    old observations anew. `replaces_id` names the row that this one puts right; `void` says that
    there was no such calibration.
    """

    id: int | None = Field(default=None, primary_key=True)
    instrument_id: int = Field(foreign_key="instrument.id", index=True)
    on_day: date
    by_whom: str = Field(default="", max_length=200)
    outcome: str = Field(max_length=10)
    result: str = Field(default="", sa_type=sa.Text)
    coefficients: list[dict[str, Any]] = Field(default_factory=list, sa_type=sa.JSON)
    due_on: date | None = None
    certificate_sha256: str | None = Field(
        default=None, foreign_key="kept_file.sent_sha256", max_length=64
    )
    replaces_id: int | None = Field(default=None, foreign_key="calibration.id")
    void: bool = False
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)


class InstrumentNaming(SQLModel, table=True):
    """The office's word on which instrument an entry was made with; the newest counts.

    Without an instrument: it is not known which.
    """

    __tablename__ = "instrument_naming"

    id: int | None = Field(default=None, primary_key=True)
    entry_id: str = Field(foreign_key="entry.id", max_length=36, index=True)
    instrument_id: int | None = Field(default=None, foreign_key="instrument.id", index=True)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)
