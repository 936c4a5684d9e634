"""Keep a logger file that the office uploads, so that looking and importing use the same bytes."""

import hashlib
from datetime import datetime

from sqlmodel import Session

from app.errors import NotFound
from app.records.files import KeptFile
from app.records.people import Person
from app.services.entries import kept_files
from app.services.entries.kept_files import LOGGER_FILE
from app.services.loggers.waiting import note_upload


def keep_upload(
    session: Session, person: Person, site_id: int, name: str, content: bytes, now: datetime
) -> str:
    """Keep the bytes as they are, waiting at the site, and return their hash.

    Raises
    ------
    BadInput
        When the file is empty or too large.
    """
    sha256 = hashlib.sha256(content).hexdigest()
    kept_files.keep(
        session,
        person,
        LOGGER_FILE,
        name=name,
        sent_sha256=sha256,
        content=content,
        received_at=now,
    )
    note_upload(session, person, sha256, site_id, now)
    return sha256


def kept_file(session: Session, sha256: str) -> KeptFile:
    """Return a kept logger file; raises NotFound, also when the hash is that of a photo."""
    found = kept_files.kept(session, sha256)
    if found.kind != LOGGER_FILE:
        raise NotFound(f"logger file {sha256}")
    return found
