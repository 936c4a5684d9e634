"""Photos and logger files, kept in the database so that one backup holds everything."""

from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from app.records.database import UtcTime


class KeptFile(SQLModel, table=True):
    """A file by the hash of the bytes that were sent; never changed.

    A logger file is kept to the byte. A photo is encoded anew without position or other
    metadata, so its stored hash differs from the sent one that entries cite.
    """

    __tablename__ = "kept_file"

    sent_sha256: str = Field(primary_key=True, max_length=64)
    sha256: str = Field(max_length=64)
    kind: str = Field(max_length=20)
    name: str = Field(max_length=200)
    media_type: str = Field(max_length=60)
    size: int
    content: bytes = Field(sa_type=sa.LargeBinary)
    by_id: int = Field(foreign_key="person.id")
    received_at: datetime = Field(sa_type=UtcTime)
