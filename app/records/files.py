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


class FileAct(SQLModel, table=True):
    """What somebody did with a waiting logger file: uploaded, discarded, took it up again.

    Append-only; of the acts on one file at one site the newest counts. The bytes stay in
    `kept_file` whatever is said of them.
    """

    __tablename__ = "file_act"

    id: int | None = Field(default=None, primary_key=True)
    sha256: str = Field(foreign_key="kept_file.sent_sha256", max_length=64, index=True)
    site_id: int | None = Field(default=None, foreign_key="site.id")
    act: str = Field(max_length=20)
    reason: str = Field(default="", sa_type=sa.Text)
    by_id: int = Field(foreign_key="person.id")
    at: datetime = Field(sa_type=UtcTime)
