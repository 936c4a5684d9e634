"""What a database that cannot write just now is suffering from: full, busy, or away.

None of these is the fault of what was asked, and none lasts: the caller keeps what it has and
tries again. The engines word them differently, so they are told apart here and nowhere else.
"""

import sqlite3
from dataclasses import dataclass

from sqlalchemy.exc import DBAPIError

from app.errors import BadInput

# SQLSTATE classes of PostgreSQL, appendix A "PostgreSQL Error Codes" of its manual.
DEADLOCKS = {"40P01", "40001"}  # deadlock_detected, serialization_failure
BUSY = {"55P03", "57014", "53300"}  # lock_not_available, query_canceled, too_many_connections
FULL = {"53100"}  # disk_full


@dataclass(frozen=True)
class Trouble:
    """A trouble: its HTTP status, when to try again, and whether at once may help."""

    status: int
    retry_after_s: int
    at_once: bool
    error: BadInput


def _trouble(status: int, retry_after_s: int, rule: str, remedy: str, at_once: bool) -> Trouble:
    return Trouble(status, retry_after_s, at_once, BadInput("database", "", rule, remedy))


_FULL = _trouble(
    507,
    60,
    "the disk of the office computer is full",
    "Nothing that was stored is lost, and nothing new is stored until a steward makes room.",
    False,
)
_BUSY = _trouble(
    503,
    5,
    "the database is busy with somebody else's work",
    "Nothing was stored. Try again in a few seconds.",
    False,
)
_CROSSED = _trouble(
    503,
    1,
    "two people's work crossed in the database",
    "Nothing was stored. Try again.",
    True,
)
_AWAY = _trouble(
    503,
    10,
    "the database does not answer",
    "Nothing was stored. Try again; if it lasts, a steward looks after the database.",
    False,
)


def trouble_of(error: BaseException) -> Trouble | None:
    """Return what ails the database, or None when the error says something else."""
    cause: BaseException | None = error
    if isinstance(error, DBAPIError):
        cause = error.orig
    if isinstance(cause, sqlite3.OperationalError):
        words = str(cause)
        if "full" in words:
            return _FULL
        if "locked" in words or "busy" in words:
            return _BUSY
        if "unable to open" in words or "disk I/O" in words or "readonly" in words:
            return _AWAY
        return None
    state = getattr(cause, "sqlstate", None)
    if state in FULL:
        return _FULL
    if state in DEADLOCKS:
        return _CROSSED
    if state in BUSY:
        return _BUSY
    lost = isinstance(error, DBAPIError) and error.connection_invalidated
    if lost or (state or "").startswith(("08", "57P")):
        return _AWAY
    if type(cause).__name__ == "OperationalError" and state is None:
        return _AWAY  # a connection that was never made carries no state
    return None
