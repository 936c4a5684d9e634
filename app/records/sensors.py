"""Loggers, their raw readings, the corrections over them, and the flows derived from both.

Raw readings are kept as blocks: one row a file, quantity and month, times and values as arrays of
bytes (little-endian int64 seconds and float64 metres). Why not a row a reading: ten years every
quarter of an hour are 350,000 rows, and moving those through a cursor costs ten times the whole
hydraulics; the blocks come back in milliseconds, and every block belongs to one file, so that
taking a file back removes exactly its readings and lets those of an overlapping file stand again.
Blocks are never changed; the series is the union of all blocks, of two readings at one time the
one that was there first.

Derived rows (series, daily flow, found faults) may be made again at any time.
"""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime, utc_now


class Logger(SQLModel, table=True):
    """A logger at a structure. `reads` says what its figures stand over: staff zero or crest.

    `remembered` holds the answers that read its last file.
    """

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id", index=True)
    name: str = Field(max_length=80)
    serial: str = Field(default="", max_length=40)
    quantity: str = Field(default="head", max_length=10)
    reads: str = Field(default="staff", max_length=10)
    remembered: dict[str, Any] = Field(default_factory=dict, sa_type=sa.JSON)
    by_id: int | None = Field(default=None, foreign_key="person.id")
    created_at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)


class LoggerImport(SQLModel, table=True):
    """One file taken into the record: which kept file, how it was understood, by whom."""

    __tablename__ = "logger_import"

    id: int | None = Field(default=None, primary_key=True)
    logger_id: int = Field(foreign_key="logger.id", index=True)
    sha256: str = Field(foreign_key="kept_file.sent_sha256", max_length=64, index=True)
    name: str = Field(max_length=200)
    sentence: str = Field(sa_type=sa.Text)
    choices: dict[str, Any] = Field(default_factory=dict, sa_type=sa.JSON)
    rows: int
    from_s: int = Field(sa_type=sa.BigInteger)
    to_s: int = Field(sa_type=sa.BigInteger)
    step_s: int | None = None
    conflicts: int = 0
    problems: int = 0
    layer_id: int | None = None
    by_id: int = Field(foreign_key="person.id")
    at: datetime = Field(sa_type=UtcTime)
    undone_at: datetime | None = Field(default=None, sa_type=UtcTime)
    undone_by_id: int | None = Field(default=None, foreign_key="person.id")
    undo_reason: str = Field(default="", sa_type=sa.Text)


class LoggerBlock(SQLModel, table=True):
    """Readings of one file in one UTC month, as they came: never changed."""

    __tablename__ = "logger_block"
    __table_args__ = (
        sa.Index("ix_logger_block_place", "structure_id", "quantity", "from_s", "to_s"),
    )

    import_id: int = Field(foreign_key="logger_import.id", primary_key=True)
    quantity: str = Field(primary_key=True, max_length=10)
    from_s: int = Field(primary_key=True, sa_type=sa.BigInteger)
    to_s: int = Field(sa_type=sa.BigInteger)
    structure_id: int = Field(foreign_key="structure.id")
    logger_id: int = Field(foreign_key="logger.id")
    count: int
    times: bytes = Field(sa_type=sa.LargeBinary)
    values: bytes = Field(sa_type=sa.LargeBinary)


class CorrectionLayer(SQLModel, table=True):
    """One correction over the raw series; append-only, taken back by a withdrawal."""

    __tablename__ = "correction_layer"
    __table_args__ = (sa.Index("ix_correction_layer_place", "structure_id", "quantity"),)

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id")
    quantity: str = Field(max_length=10)
    shape: str = Field(max_length=20)
    from_s: int = Field(sa_type=sa.BigInteger)
    to_s: int = Field(sa_type=sa.BigInteger)
    at_s: int | None = Field(default=None, sa_type=sa.BigInteger)
    amount: float | None = None
    amount_end: float | None = None
    uncertainty_m: float = 0.0
    reason: str = Field(sa_type=sa.Text)
    offer_key: str = Field(default="", max_length=120)
    by_id: int = Field(foreign_key="person.id")
    at: datetime = Field(sa_type=UtcTime)


class LayerWithdrawal(SQLModel, table=True):
    """A correction taken back; the correction itself stays on record."""

    __tablename__ = "layer_withdrawal"

    layer_id: int = Field(foreign_key="correction_layer.id", primary_key=True)
    reason: str = Field(sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    at: datetime = Field(sa_type=UtcTime)


class SeriesBlock(SQLModel, table=True):
    """The derived series of one structure in one site month; may be made again.

    Columns of bytes are arrays of one length: int64 for times and flags, int8 for `flow` and
    `how`, float32 for the uncertainty, float64 for the rest. `versions` lists what each stretch
    was computed with. `sketches` are envelopes by the day for drawing many years.
    """

    __tablename__ = "series_block"

    structure_id: int = Field(foreign_key="structure.id", primary_key=True)
    month: int = Field(primary_key=True)  # months since 1970-01 on the site's clock
    from_s: int = Field(sa_type=sa.BigInteger)
    to_s: int = Field(sa_type=sa.BigInteger)
    count: int
    engine: str = Field(max_length=20)
    token: str = Field(max_length=64)
    versions: dict[str, Any] = Field(default_factory=dict, sa_type=sa.JSON)
    made_at: datetime = Field(sa_type=UtcTime)
    discharge_sketch: bytes = Field(sa_type=sa.LargeBinary)
    head_sketch: bytes = Field(sa_type=sa.LargeBinary)
    t_s: bytes = Field(sa_type=sa.LargeBinary)
    discharge_m3s: bytes = Field(sa_type=sa.LargeBinary)
    uncertainty_pct: bytes = Field(sa_type=sa.LargeBinary)
    how: bytes = Field(sa_type=sa.LargeBinary)
    flow: bytes = Field(sa_type=sa.LargeBinary)
    flags: bytes = Field(sa_type=sa.LargeBinary)
    head_m: bytes = Field(sa_type=sa.LargeBinary)
    raw_m: bytes = Field(sa_type=sa.LargeBinary)
    tailwater_m: bytes = Field(sa_type=sa.LargeBinary)


class DailyFlow(SQLModel, table=True):
    """Flow of one structure on one site day (days since 1970-01-01); may be made again.

    NULL volume: nothing covered. `flows` has bit 1 << Flow for every flow word of the day.
    """

    __tablename__ = "daily_flow"
    __table_args__ = ({"sqlite_with_rowid": False},)

    structure_id: int = Field(foreign_key="structure.id", primary_key=True)
    day: int = Field(primary_key=True)
    volume_m3: float | None = None
    measured_m3: float | None = None
    estimated_m3: float | None = None
    volume_uncertainty_m3: float | None = None
    mean_m3s: float | None = None
    low_m3s: float | None = None
    low_at_s: int | None = Field(default=None, sa_type=sa.BigInteger)
    high_m3s: float | None = None
    high_at_s: int | None = Field(default=None, sa_type=sa.BigInteger)
    readings: int = 0
    measured_s: float = 0.0
    estimated_s: float = 0.0
    missing_fraction: float = 1.0
    undetermined: int = 0
    flows: int = 0
    flags: int = Field(default=0, sa_type=sa.BigInteger)


class FoundFault(SQLModel, table=True):
    """What the automatic checks found; made again with the series. People's answers lie apart."""

    __tablename__ = "found_fault"
    __table_args__ = (sa.Index("ix_found_fault_place", "structure_id", "quantity", "from_s"),)

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id")
    quantity: str = Field(max_length=10)
    month: int
    kind: str = Field(max_length=40)
    from_s: int = Field(sa_type=sa.BigInteger)
    to_s: int = Field(sa_type=sa.BigInteger)
    size: float
    unit: str = Field(max_length=8)
    words: str = Field(sa_type=sa.Text)


# The same as tables, for whole blocks of rows at once.
BLOCKS: sa.Table = LoggerBlock.__table__  # type: ignore[attr-defined]
SERIES: sa.Table = SeriesBlock.__table__  # type: ignore[attr-defined]
DAILY: sa.Table = DailyFlow.__table__  # type: ignore[attr-defined]
FAULTS: sa.Table = FoundFault.__table__  # type: ignore[attr-defined]
