"""What people decided in review, and in which state each month of a record is; append-only."""

from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class ReviewDecision(SQLModel, table=True):
    """One answer to one item of the review queue; `revision` counts the answers to that item.

    The pair is unique, so that of two people who answer at once one sees the other's answer.
    """

    __tablename__ = "review_decision"
    __table_args__ = (sa.UniqueConstraint("item_key", "revision"),)

    id: int | None = Field(default=None, primary_key=True)
    item_key: str = Field(max_length=160)
    revision: int
    site_id: int | None = Field(default=None, foreign_key="site.id", index=True)
    action: str = Field(max_length=10)
    text: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    at: datetime = Field(sa_type=UtcTime)


class MonthState(SQLModel, table=True):
    """A step of one site month: draft, reviewed, approved; the newest step holds."""

    __tablename__ = "month_state"

    structure_id: int = Field(foreign_key="structure.id", primary_key=True)
    month: int = Field(primary_key=True)
    revision: int = Field(primary_key=True)
    state: str = Field(max_length=10)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    at: datetime = Field(sa_type=UtcTime)
