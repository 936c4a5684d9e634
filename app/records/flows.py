"""Discharges: derived from readings, replaceable, each citing what it was computed with."""

from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class FlowValue(SQLModel, table=True):
    """The discharge of one reading by one rating and gauge zero.

    A re-rating adds rows and clears `current` on the old ones, so that a published number can
    always be found again. NULL discharge means not determined; `reason` says why.
    `limits` are the office's own by which the reading was judged, NULL where all were built in.
    """

    __tablename__ = "flow_value"
    __table_args__ = (
        sa.Index("ix_flow_value_site_current_at", "site_id", "current", "at"),
        sa.Index("ix_flow_value_entry_current", "entry_id", "current"),
    )

    id: int | None = Field(default=None, primary_key=True)
    entry_id: str = Field(foreign_key="entry.id", max_length=36)
    site_id: int = Field(foreign_key="site.id")
    structure_id: int = Field(foreign_key="structure.id", index=True)
    at: datetime = Field(sa_type=UtcTime)
    head_m: float | None = None
    head_uncertainty_m: float | None = None
    tailwater_m: float | None = None
    discharge_m3s: float | None = None
    uncertainty_pct: float | None = None
    submergence_ratio: float | None = None
    flow: int
    flags: int = 0
    steadiness: str = Field(default="unknown", max_length=12)
    rating_id: int | None = Field(default=None, foreign_key="rating.id")
    gauge_zero_id: int | None = Field(default=None, foreign_key="gauge_zero.id")
    structure_head_uncertainty_m: float | None = None
    structure_pond_area_m2: float | None = None
    limits: str | None = Field(default=None, sa_type=sa.Text)
    engine: str = Field(max_length=20)
    reason: str = Field(default="", sa_type=sa.Text)
    rated_at: datetime = Field(sa_type=UtcTime)
    current: bool = True
