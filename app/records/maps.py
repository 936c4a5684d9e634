"""Lines of one's own on the map: a race, a channel, a boundary."""

from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class RaceLine(SQLModel, table=True):
    """Lines that somebody brought as one file; taken off the map with a reason, never changed.

    `parts` is a list of lines, each a list of [longitude, latitude] in degrees of WGS 84.
    """

    __tablename__ = "race_line"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=80)
    file_name: str = Field(max_length=200)
    sha256: str = Field(max_length=64, index=True)
    parts: list[list[list[float]]] = Field(sa_type=sa.JSON)
    by_id: int = Field(foreign_key="person.id")
    added_at: datetime = Field(sa_type=UtcTime)
    withdrawn_at: datetime | None = Field(default=None, sa_type=UtcTime)
    withdrawn_by_id: int | None = Field(default=None, foreign_key="person.id")
    withdraw_reason: str = Field(default="", sa_type=sa.Text)
