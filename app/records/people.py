"""People, their sign-ins, and failed attempts."""

from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime, utc_now

ROLES = {
    "crew": "captures in the field, corrects own entries",
    "office": "keeps the record: sites, ratings, review, exports",
    "steward": "people and settings, and all that the office may do",
}


class Person(SQLModel, table=True):
    """Somebody who signs in; never deleted, because entries cite them."""

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True, max_length=80)
    role: str = Field(max_length=20)
    password_hash: str = Field(max_length=200)
    active: bool = True
    created_at: datetime = Field(default_factory=utc_now, sa_type=UtcTime)


class SignIn(SQLModel, table=True):
    """A server-side session; only the hash of its token is kept."""

    __tablename__ = "sign_in"

    token_hash: str = Field(primary_key=True, max_length=64)
    person_id: int = Field(foreign_key="person.id", index=True)
    created_at: datetime = Field(sa_type=UtcTime)
    seen_at: datetime = Field(sa_type=UtcTime)
    expires_at: datetime = Field(sa_type=UtcTime)


class SignInFailure(SQLModel, table=True):
    """One failed sign-in, for the throttle; kept in the database so that workers share it."""

    __tablename__ = "sign_in_failure"
    __table_args__ = (sa.Index("ix_sign_in_failure_name_address", "name", "address"),)

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=80)
    address: str = Field(max_length=64)
    at: datetime = Field(sa_type=UtcTime)
