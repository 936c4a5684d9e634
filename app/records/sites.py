"""Sites, their structures, and the two dated histories a discharge rests on."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime, utc_now

LEVEL_DECIMALS = 9  # below any level: takes the noise of subtracting two reduced levels away


class Site(SQLModel, table=True):
    """A place on a race or stream where flow is measured."""

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True, max_length=20)
    name: str = Field(max_length=80)
    latitude: float | None = None
    longitude: float | None = None
    utc_offset_min: int = 0
    head_unit: str = Field(default="mm", max_length=2)
    hazards: str = Field(default="", sa_type=sa.Text)
    notes: str = Field(default="", sa_type=sa.Text)
    demo: bool = False
    created_at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)
    revision: int = 1


class Structure(SQLModel, table=True):
    """The flume or weir of a site; `family` and `dims` are its newest named or as-built form."""

    id: int | None = Field(default=None, primary_key=True)
    site_id: int = Field(foreign_key="site.id", index=True)
    name: str = Field(max_length=80)
    family: str = Field(max_length=40)
    dims: dict[str, Any] = Field(default_factory=dict, sa_type=sa.JSON)
    tailwater_gauge: bool = False
    pond_area_m2: float | None = None
    head_uncertainty_m: float = 0.003
    revision: int = 1


class Rating(SQLModel, table=True):
    """A rating in force from a date; rows are added, never changed."""

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id", index=True)
    valid_from: datetime = Field(sa_type=UtcTime)
    family: str = Field(max_length=40)
    dims: dict[str, Any] = Field(default_factory=dict, sa_type=sa.JSON)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int | None = Field(default=None, foreign_key="person.id")
    created_at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)


class GaugeZero(SQLModel, table=True):
    """Reduced levels of crest and gauge zero from a date; rows are added, never changed.

    Head over the crest = staff reading + `zero_rl_m` - `crest_rl_m`.
    """

    __tablename__ = "gauge_zero"

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id", index=True)
    valid_from: datetime = Field(sa_type=UtcTime)
    crest_rl_m: float
    zero_rl_m: float
    tail_zero_rl_m: float | None = None
    reason: str = Field(default="", sa_type=sa.Text)
    run_entry_id: str | None = Field(default=None, max_length=36)
    by_id: int | None = Field(default=None, foreign_key="person.id")
    created_at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)

    @property
    def offset_m(self) -> float:
        """Return what is added to a staff reading to get head over the crest."""
        return round(self.zero_rl_m - self.crest_rl_m, LEVEL_DECIMALS)

    @property
    def tail_offset_m(self) -> float:
        """Return what is added to a tail staff reading; the same offset without an own zero."""
        zero = self.zero_rl_m if self.tail_zero_rl_m is None else self.tail_zero_rl_m
        return round(zero - self.crest_rl_m, LEVEL_DECIMALS)
