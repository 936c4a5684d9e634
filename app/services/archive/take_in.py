"""Take an archive into an empty database: all of it, row for row with its ids, or nothing."""

import json
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import IO, Any

import sqlalchemy as sa
from alembic.script import ScriptDirectory
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from app.errors import BadInput
from app.language.clock import iso
from app.records.audit import AuditEntry, ServerFact
from app.records.database import alembic_config
from app.records.guards import append_only, drop_append_only
from app.records.people import AccessToken, Person, SignIn, SignInFailure
from app.records.trouble import trouble_of
from app.services.archive import contents
from app.services.archive.check import Keys, check, table_rows
from app.services.archive.compare import Difference, differences
from app.services.archive.opened import Archive, Manifest, opened
from app.services.archive.rows import Cells, refused, shown
from app.services.upkeep.backup import set_epoch

TAKEN_IN = "archive_taken_in"
"""The fact that says where the record of this database is from."""

NO_PASSWORD = ""  # opens for nobody
AT_A_TIME = 200  # rows of a statement
HEAVY_ONES = 4  # of a table that holds blocks of bytes or whole files
BESIDE = {"person", "audit_entry"}
"""Tables that may hold rows already: whoever takes in has signed in."""


@dataclass(frozen=True)
class TakenIn:
    """What was taken in, and what is worked out another way now."""

    manifest: Manifest
    differences: list[Difference]


def occupied(session: Session) -> str | None:
    """Return a table with something on record, None in a database that is empty but for people."""
    for table in contents.tables():
        if table.name not in BESIDE:
            held = session.connection().execute(
                sa.select(sa.literal(1)).select_from(table).limit(1)
            )
            if held.first() is not None:
                return table.name
    return None


def refuse_occupied(session: Session) -> None:
    """Raise BadInput where anything is on record."""
    held = occupied(session)
    if held is not None:
        raise BadInput(
            "database",
            held,
            "something is on record here, and an archive is taken into an empty database only",
            "Begin a new data folder: `sillbook archive in FILE --data NEW-FOLDER`.",
        )


def take_in(session: Session, source: Path | IO[bytes], now: datetime, by: str = "") -> TakenIn:
    """Take an archive in, in the caller's transaction.

    All of it is read and compared with its sums first; until then nothing is written, and nobody
    waits. People that are there already stay: one whose name and role are in the archive keeps the
    password, any other gets the next free id. All sign-ins end, and the epoch is new, so that
    phones offer their entries of the last 30 days again.

    Raises
    ------
    BadInput
        When something is on record, or the archive is damaged, changed or of another release.
    """
    refuse_occupied(session)
    dialect = session.get_bind().dialect.name
    session.rollback()
    schema = ScriptDirectory.from_config(alembic_config()).get_current_head() or ""
    with opened(source) as archive:
        check(archive, schema, lengths=dialect == "postgresql")
        _hold(session)
        refuse_occupied(session)
        people, lines = _set_aside(session)
        _store(
            session, archive, {(one["name"], one["role"]): one["password_hash"] for one in people}
        )
        _bring_back(session, people, lines)
        _go_on_counting(session)
        found = _worked_out(session, now)
        done = TakenIn(archive.manifest, found)
    set_epoch(session)
    said = {
        "at": iso(now),
        "by": by,
        "made_at": done.manifest.made_at,
        "made_by": done.manifest.made_by,
        "rows": done.manifest.row_count,
        "differences": [vars(one) for one in found],
    }
    session.merge(ServerFact(key=TAKEN_IN, value=json.dumps(said)))
    session.flush()
    return done


def taken_in(session: Session) -> dict[str, Any] | None:
    """Return what was said when the record of this database was taken in, None if it grew here."""
    fact = session.get(ServerFact, TAKEN_IN)
    return json.loads(fact.value) if fact else None


def _hold(session: Session) -> None:
    """Keep everybody else from writing until this is done; on SQLite the transaction does."""
    connection = session.connection()
    if connection.dialect.name == "postgresql":
        quote = connection.dialect.identifier_preparer.quote
        names = ", ".join(quote(table.name) for table in contents.tables())
        connection.exec_driver_sql(f"LOCK TABLE {names} IN SHARE ROW EXCLUSIVE MODE")


def _set_aside(session: Session) -> tuple[list[Cells], list[Cells]]:
    """Take out the people who are there and the trail about them, and end every sign-in."""
    connection = session.connection()
    person, audit = _table(Person), _table(AuditEntry)
    people = [dict(r) for r in connection.execute(sa.select(person).order_by("id")).mappings()]
    lines = [dict(r) for r in connection.execute(sa.select(audit).order_by("id")).mappings()]
    for model in (SignIn, SignInFailure, AccessToken):
        connection.execute(sa.delete(_table(model)))
    if lines:
        # The trail is moved behind the archive's within this transaction; it loses no line.
        for statement in drop_append_only(connection.dialect.name, audit.name):
            connection.exec_driver_sql(statement)
        connection.execute(sa.delete(audit))
        for statement in append_only(connection.dialect.name, audit.name):
            connection.exec_driver_sql(statement)
    connection.execute(sa.delete(person))
    session.expire_all()
    return people, lines


def _table(model: Any) -> sa.Table:
    table: sa.Table = model.__table__
    return table


def _writable(table: sa.Table) -> sa.TableClause:
    """Return a table that takes None as NULL in every column, those of JSON too."""
    plain = [
        sa.column(c.name, sa.JSON(none_as_null=True) if isinstance(c.type, sa.JSON) else c.type)
        for c in table.columns
    ]
    return sa.table(table.name, *plain)


def _store(session: Session, archive: Archive, passwords: dict[tuple[str, str], str]) -> None:
    connection = session.connection()
    lengths = connection.dialect.name == "postgresql"
    known: Keys = {}
    for table in contents.tables():
        rows = table_rows(archive, table, known, lengths=lengths)
        if table.name == "person":
            rows = (
                row | {"password_hash": passwords.get((row["name"], row["role"]), NO_PASSWORD)}
                for row in rows
            )
        if table.name == "kept_file":
            rows = (row | {"content": _original(archive, row["sha256"])} for row in rows)
        heavy = any(isinstance(column.type, sa.LargeBinary) for column in table.columns)
        insert, first = sa.insert(_writable(table)), 1
        while batch := list(islice(rows, HEAVY_ONES if heavy else AT_A_TIME)):
            try:
                connection.execute(insert, batch)
            except DBAPIError as error:
                if trouble_of(error) is not None:
                    raise
                place = f"{contents.rows_name(table)}, lines {first} to {first + len(batch) - 1}"
                raise refused(place, "", f"cannot be stored ({shown(error.orig)})") from None
            first += len(batch)


def _original(archive: Archive, sha256: str) -> bytes:
    return b"".join(archive.blocks(contents.original_name(sha256)))


def _bring_back(session: Session, people: list[Cells], lines: list[Cells]) -> None:
    """Store the people who were there before under free ids, and the trail about them behind."""
    connection = session.connection()
    person, audit = _table(Person), _table(AuditEntry)
    came = {r.name: r for r in connection.execute(sa.select(person))}
    for one in people:
        there = came.get(one["name"])
        if one["role"] != "steward" or not one["active"] or there is None:
            continue
        if there.role != "steward" or not there.active:
            raise refused(
                "rows/person.jsonl",
                one["name"],
                "a steward here, and not in the archive: nobody of this name could sign in",
                "Rename yourself here first, or take it in on the server into a new folder.",
            )
    held = {name: row.id for name, row in came.items()}
    next_id = max(held.values(), default=0) + 1
    moved: dict[int, int] = {}
    for one in people:
        if one["name"] not in held:
            connection.execute(sa.insert(person), one | {"id": next_id})
            held[one["name"]] = next_id
            next_id += 1
        moved[one["id"]] = held[one["name"]]
    last = connection.execute(sa.select(sa.func.max(audit.c.id))).scalar() or 0
    for number, line in enumerate(lines, last + 1):
        about = line["subject_id"]
        if line["subject"] == "person" and about.isdigit():
            about = str(moved.get(int(about), about))
        by_id = None if line["by_id"] is None else moved[line["by_id"]]
        row = line | {"id": number, "by_id": by_id, "subject_id": about}
        connection.execute(sa.insert(_writable(audit)), row)


def _go_on_counting(session: Session) -> None:
    """Let PostgreSQL give ids behind those that were taken in; SQLite does so by itself."""
    connection = session.connection()
    if connection.dialect.name != "postgresql":
        return
    for table in contents.tables():
        for column in table.primary_key.columns:
            name = sa.func.pg_get_serial_sequence(table.name, column.name)
            sequence = connection.execute(sa.select(name)).scalar()
            last = connection.execute(sa.select(sa.func.max(column))).scalar()
            if sequence is not None and last is not None:
                connection.execute(sa.select(sa.func.setval(sequence, last)))


def _worked_out(session: Session, now: datetime) -> list[Difference]:
    try:
        return differences(session, now)
    except BadInput as error:
        raise refused("", error.value, f"{error.field}: {error.rule}") from None
    except Exception as error:
        if trouble_of(error) is not None:
            raise
        rule = f"its rows cannot be worked with ({type(error).__name__}: {shown(error)})"
        raise refused("", "", rule) from None
