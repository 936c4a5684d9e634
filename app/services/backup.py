"""Back up and restore the SQLite file, and the epoch that tells phones of a restore.

A restore loses what was stored after the backup was made. Phones keep stored entries for 30 days
and offer them again when the epoch has changed, so the loss heals itself.
"""

import sqlite3
import uuid
from contextlib import closing
from pathlib import Path

import sqlalchemy as sa
from sqlmodel import Session

from app.errors import BadInput
from app.records.audit import ServerFact, write_audit
from app.records.database import insert_new, migrate, open_engine
from app.settings import Settings

EPOCH = "server_epoch"


def ensure_epoch(engine: sa.Engine) -> None:
    """Give a new database its epoch; safe when several workers start together."""
    with Session(engine) as session:
        insert_new(session, ServerFact, [{"key": EPOCH, "value": str(uuid.uuid4())}], "key")
        session.commit()


def sqlite_path(settings: Settings) -> Path:
    """Return the file of an SQLite database.

    Raises
    ------
    BadInput
        When the data lie in PostgreSQL, which has its own tools.
    """
    url = sa.make_url(settings.database_url)
    if not url.drivername.startswith("sqlite") or not url.database:
        raise BadInput(
            "database",
            url.render_as_string(),
            "only an SQLite file is backed up here",
            "Use PostgreSQL's own dump and restore, then run `sillbook new-epoch`.",
        )
    return Path(url.database)


def backup(settings: Settings, target: Path) -> int:
    """Copy the database into a new file while the server runs; return its size in bytes."""
    source = sqlite_path(settings)
    if not source.is_file():
        raise BadInput("database", source, "there is no such file", "Check SILLBOOK_DATA.")
    if target.exists():
        raise BadInput("file", target, "the file exists", "Name a file that does not exist yet.")
    with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(target)) as there:
        here.backup(there)
        broken = there.execute("PRAGMA integrity_check").fetchone()[0] != "ok"
    if broken:
        target.unlink()
        raise BadInput("file", target, "the copy is damaged", "Check the disk and try again.")
    return target.stat().st_size


def restore(settings: Settings, source: Path) -> Path | None:
    """Put a backup in place of the database; return where the replaced file was kept.

    The server must be stopped. The epoch changes, so that phones offer recent entries again.
    """
    target = sqlite_path(settings)
    try:
        with closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as there:
            sound = there.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            sound = sound and bool(there.execute("SELECT count(*) FROM server_fact").fetchone())
    except sqlite3.Error:
        sound = False
    if not sound:
        raise BadInput("file", source, "not a sound Sillbook backup", "Choose another backup.")
    target.parent.mkdir(parents=True, exist_ok=True)
    kept = None
    if target.exists():
        kept = target.with_name(f"{target.name}.replaced-{uuid.uuid4().hex[:8]}")
        with closing(sqlite3.connect(target)) as here:
            here.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        target.rename(kept)
        for ending in ("-wal", "-shm"):
            target.with_name(target.name + ending).unlink(missing_ok=True)
    with closing(sqlite3.connect(source)) as there, closing(sqlite3.connect(target)) as here:
        there.backup(here)
    migrate(settings.database_url)
    new_epoch(settings, f"restored from {source.name}")
    return kept


def new_epoch(settings: Settings, reason: str) -> str:
    """Change the epoch after a restore; phones then offer the last 30 days again."""
    epoch = str(uuid.uuid4())
    engine = open_engine(settings.database_url)
    try:
        with Session(engine) as session:
            session.merge(ServerFact(key=EPOCH, value=epoch))
            write_audit(session, None, "new epoch", "server", "1", reason=reason)
            session.commit()
    finally:
        engine.dispose()
    return epoch
