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


SCOPES = {
    "read": "fetches lists, exports and the archive",
    "write": "the same, and sends entries as this person",
}
"""What a token may do in the name of its person, never more than the role may."""


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


class AccessToken(SQLModel, table=True):
    """Lets a script ask in the name of a person; only its hash is kept, and its row stays."""

    __tablename__ = "access_token"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    name: str = Field(max_length=80)
    scope: str = Field(max_length=20)
    token_hash: str = Field(unique=True, max_length=64)
    begins: str = Field(max_length=16)
    created_at: datetime = Field(sa_type=UtcTime)
    expires_at: datetime = Field(sa_type=UtcTime)
    used_at: datetime | None = Field(default=None, sa_type=UtcTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcTime)
