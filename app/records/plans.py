"""Plans of a structure to come, what was chosen from them, and signed sheets; append-only."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime, utc_now


class Plan(SQLModel, table=True):
    """One plan: what was asked, as typed, and what came out of it at the time."""

    id: int | None = Field(default=None, primary_key=True)
    site_id: int = Field(foreign_key="site.id", index=True)
    name: str = Field(max_length=80)
    inputs: dict[str, Any] = Field(sa_type=sa.JSON)
    result: dict[str, Any] = Field(sa_type=sa.JSON)
    engine: str = Field(max_length=40)
    entry_id: str | None = Field(default=None, max_length=36, unique=True)
    by_id: int = Field(foreign_key="person.id")
    created_at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)


class PlanChoice(SQLModel, table=True):
    """A candidate of a plan taken as the intended design of a structure; the newest holds."""

    __tablename__ = "plan_choice"

    id: int | None = Field(default=None, primary_key=True)
    plan_id: int = Field(foreign_key="plan.id", index=True)
    candidate: int
    structure_id: int = Field(foreign_key="structure.id", index=True)
    rating_id: int = Field(foreign_key="rating.id")
    crest_rl_m: float
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)


class FitSheet(SQLModel, table=True):
    """A commissioning sheet as a person signed it, with everything it said then."""

    __tablename__ = "fit_sheet"

    id: int | None = Field(default=None, primary_key=True)
    structure_id: int = Field(foreign_key="structure.id", index=True)
    fit_from: datetime = Field(sa_type=UtcTime)
    signed_name: str = Field(max_length=80)
    words: str = Field(default="", sa_type=sa.Text)
    sheet: dict[str, Any] = Field(sa_type=sa.JSON)
    by_id: int = Field(foreign_key="person.id")
    signed_at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)
