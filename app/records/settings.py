"""What the office has set for everybody; append-only, the newest row of a key holds."""

from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class Setting(SQLModel, table=True):
    """One change of one setting; `revision` counts the changes of that key.

    `value` is JSON, NULL where the built-in default holds again. The pair is unique, so that of two
    people who set it at once one sees the other's value. Nobody is named where a verb on the
    server set it.
    """

    __tablename__ = "setting"
    __table_args__ = (sa.UniqueConstraint("key", "revision"),)

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(max_length=40)
    revision: int
    value: str | None = Field(default=None, sa_type=sa.Text)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int | None = Field(default=None, foreign_key="person.id")
    at: datetime = Field(sa_type=UtcTime)
