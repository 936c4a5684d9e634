"""Who holds the SQLite file: all who work with it share a lock, a restore wants it alone.

The lock is `flock` on a file beside the database, so a killed process lets go by itself. Where
the system has no `flock`, a restore still sees other programs by the log they keep open.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import sqlalchemy as sa

from app.errors import BadInput

try:
    import fcntl
except ImportError:  # pragma: no cover - a system without flock
    fcntl = None  # type: ignore[assignment]


def lock_path(database: Path) -> Path:
    return database.with_name(f"{database.name}.lock")


def database_path(url: str) -> Path | None:
    """Return the file of an SQLite address, None for PostgreSQL and a database in memory."""
    parts = sa.make_url(url)
    if not parts.drivername.startswith("sqlite") or parts.database in (None, "", ":memory:"):
        return None
    return Path(str(parts.database))


class Shared:
    """The part of one engine in the lock: taken with its first connection, kept until disposal."""

    def __init__(self, database: Path) -> None:
        self.path = lock_path(database)
        self.file: IO[str] | None = None

    def take(self) -> None:
        """Take the lock, once.

        Raises
        ------
        sqlite3.OperationalError
            While a restore has the database alone: to be tried again, like any other lock.
        """
        if fcntl is None or self.file is not None:
            return
        try:
            file = self.path.open("a")
        except OSError as error:
            raise sqlite3.OperationalError(f"unable to open database file: {error}") from error
        try:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except OSError:
            file.close()
            raise sqlite3.OperationalError("database is locked: it is being restored") from None
        self.file = file

    def leave(self) -> None:
        if self.file is not None:
            self.file.close()
            self.file = None


def open_elsewhere(database: Path) -> BadInput:
    return BadInput(
        "database",
        database,
        "it is open in another process",
        "Stop the server and every other program that has it open, then try again.",
    )


@contextmanager
def alone(database: Path) -> Iterator[None]:
    """Hold the database while nobody else does.

    Raises
    ------
    BadInput
        When another process has it open.
    """
    with lock_path(database).open("a") as file:
        if fcntl is not None:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                raise open_elsewhere(database) from None
        yield
