"""How often a site is to be visited, by whom, and how one gets there; append-only."""

from datetime import date, datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class VisitPlan(SQLModel, table=True):
    """The plan of a site from a day on; of two begun together the newer holds.

    `interval_days` holds from `season_begins` to `season_ends` (MM-DD, over New Year when it ends
    before it begins; both empty: all year), `outside_days` in the rest of the year. None: no
    visit is asked for then.
    """

    __tablename__ = "visit_plan"

    id: int | None = Field(default=None, primary_key=True)
    site_id: int = Field(foreign_key="site.id", index=True)
    valid_from: date
    interval_days: int | None = None
    outside_days: int | None = None
    season_begins: str = Field(default="", max_length=5)
    season_ends: str = Field(default="", max_length=5)
    person_id: int | None = Field(default=None, foreign_key="person.id")
    round: str = Field(default="", max_length=40)
    to_do: str = Field(default="", sa_type=sa.Text)
    access: str = Field(default="", sa_type=sa.Text)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)
