"""Back up and restore the SQLite file, and the epoch that tells phones of a restore.

A restore loses what was stored after the backup was made. Phones keep stored entries for 30 days
and offer them again when the epoch has changed, so the loss heals itself.
"""

import os
import shutil
import sqlite3
import uuid
from contextlib import closing
from pathlib import Path

import sqlalchemy as sa
from alembic.util import CommandError
from sqlmodel import Session, col

from app.errors import BadInput
from app.records import holding
from app.records.audit import ServerFact, write_audit
from app.records.database import insert_new, migrate, open_engine, utc_now
from app.records.people import AccessToken, SignIn
from app.settings import Settings

EPOCH = "server_epoch"
LOG_ENDINGS = ("-wal", "-shm", "-journal")


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
    path = holding.database_path(settings.database_url)
    if path is None:
        raise BadInput(
            "database",
            sa.make_url(settings.database_url).render_as_string(),
            "only an SQLite file is backed up here",
            "Use PostgreSQL's own dump and restore, then run `sillbook new-epoch`.",
        )
    return path


def backup(settings: Settings, target: Path) -> int:
    """Copy the database into a new file while the server runs; return its size in bytes."""
    source = sqlite_path(settings)
    if not source.is_file():
        raise BadInput("database", source, "there is no such file", "Check SILLBOOK_DATA.")
    if target.exists():
        raise BadInput("file", target, "the file exists", "Name a file that does not exist yet.")
    if not target.parent.is_dir():
        raise BadInput("file", target, "no such folder", "Check the name, or make it first.")
    part = target.with_name(f"{target.name}.part")
    throw_away(part)
    try:
        with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(part)) as there:
            here.backup(there)
            broken = there.execute("PRAGMA integrity_check").fetchone()[0] != "ok"
        if broken:
            raise BadInput("file", target, "the copy is damaged", "Check the disk and try again.")
        write_through(part)
        os.replace(part, target)  # a backup that was cut short never bears the name of one
    finally:
        throw_away(part)
    return target.stat().st_size


def restore(settings: Settings, source: Path) -> Path | None:
    """Put a backup in place of the database; return where the replaced file was kept.

    Everything is made ready in a file beside it (this release's schema, the new epoch, no
    sign-in), and then takes the name in one step: a kill at any moment leaves the old database or
    the new one, whole. The new epoch makes phones offer their recent entries again.

    Raises
    ------
    BadInput
        When another process has the database open, or the backup cannot be used; nothing changed.
    """
    target = sqlite_path(settings)
    if not target.parent.is_dir():
        raise BadInput("data", target.parent, "no such folder", "Check the name, or make it first.")
    with holding.alone(target):
        fresh = target.with_name(f"{target.name}.restoring")
        throw_away(fresh)  # what a killed restore left
        try:
            copy_sound(source, fresh)
            bring_up_to_date(fresh, source)
            kept = set_aside(target)
            os.replace(fresh, target)
            write_through(target.parent)
        finally:
            throw_away(fresh)
    return kept


def copy_sound(source: Path, fresh: Path) -> None:
    try:
        with (
            closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as there,
            closing(sqlite3.connect(fresh)) as here,
        ):
            there.backup(here)
            sound = here.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            sound = sound and bool(here.execute("SELECT count(*) FROM server_fact").fetchone())
    except sqlite3.OperationalError as error:
        if "full" in str(error):
            raise
        sound = False
    except sqlite3.DatabaseError:
        sound = False
    if not sound:
        raise BadInput("file", source, "not a sound Sillbook backup", "Choose another backup.")


def bring_up_to_date(fresh: Path, source: Path) -> None:
    """Give the copy this release's schema and a new epoch, end its sign-ins, write it through."""
    url = f"sqlite:///{fresh}"
    try:
        migrate(url)
    except CommandError:
        raise BadInput(
            "file",
            source,
            "this backup was made by a newer release",
            "Restore it with that release, or a later one.",
        ) from None
    renew_epoch(url, f"restored from {source.name}")
    with closing(sqlite3.connect(fresh)) as here:
        here.execute("PRAGMA journal_mode=DELETE")  # one file, nothing beside it
    write_through(fresh)


def set_aside(target: Path) -> Path | None:
    """Keep the database under a second name; return it, or None when there was none.

    Raises
    ------
    BadInput
        When a log beside it shows that another program has it open.
    """
    if not target.exists():
        for ending in LOG_ENDINGS:
            target.with_name(target.name + ending).unlink(missing_ok=True)
        return None
    kept = target.with_name(f"{target.name}.replaced-{uuid.uuid4().hex[:8]}")
    log = target.with_name(target.name + "-wal")
    try:
        with closing(sqlite3.connect(target)) as here:
            here.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError:  # damaged: it is kept with whatever lies beside it
        if log.exists():
            log.rename(kept.with_name(kept.name + "-wal"))
    if log.exists():  # the last program to close a database removes its log
        raise holding.open_elsewhere(target)
    target.with_name(target.name + "-shm").unlink(missing_ok=True)
    try:
        os.link(target, kept)
    except OSError:  # a file system without links
        shutil.copy2(target, kept)
    return kept


def write_through(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the disk itself."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def throw_away(database: Path) -> None:
    for ending in ("", *LOG_ENDINGS, ".lock"):
        database.with_name(database.name + ending).unlink(missing_ok=True)


def new_epoch(settings: Settings, reason: str) -> str:
    """Say that the database was restored by other means: phones offer the last 30 days again."""
    return renew_epoch(settings.database_url, reason)


def renew_epoch(url: str, reason: str) -> str:
    """Change the epoch and end every sign-in: who was shut out since must not be let in again."""
    engine = open_engine(url)
    try:
        with Session(engine) as session:
            epoch = set_epoch(session)
            session.connection().execute(sa.delete(SignIn))
            # one that was revoked since the backup must not open anything again
            running = sa.update(AccessToken).where(col(AccessToken.revoked_at).is_(None))
            session.connection().execute(running.values(revoked_at=utc_now()))
            write_audit(session, None, "new epoch", "server", "1", reason=reason)
            session.commit()
    finally:
        engine.dispose()
    return epoch


def set_epoch(session: Session) -> str:
    """Give the database a new epoch in the caller's transaction, and return it."""
    epoch = str(uuid.uuid4())
    session.merge(ServerFact(key=EPOCH, value=epoch))
    return epoch
