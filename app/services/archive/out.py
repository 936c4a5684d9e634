"""Take everything out: one zip, made from one consistent snapshot while it is sent."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic.migration import MigrationContext
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language import csvw
from app.language.clock import iso
from app.language.columns import MADE_BY
from app.records.database import reading_session
from app.records.files import KeptFile
from app.records.sites import Site
from app.services.archive import contents, lists, rows, words
from app.services.archive.zipped import Packing
from app.services.sync.accept import server_epoch
from app.services.upkeep.backup import throw_away, write_through

AT_A_TIME = 500  # rows fetched of a table of plain figures
BLOCKS_AT_A_TIME = 4  # of one that holds blocks of bytes, some MB each


@contextmanager
def snapshot(engine: sa.Engine) -> Iterator[Session]:
    """Give a session that sees one moment of the database while phones go on sending."""
    with reading_session(engine) as session:
        if engine.dialect.name == "postgresql":  # on SQLite a transaction that reads is one
            session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
        yield session


def blocks(engine: sa.Engine, now: datetime) -> Iterator[bytes]:
    """Yield the archive, made while it is sent; opens a session of its own."""
    with snapshot(engine) as session:
        yield from of_session(session, now)


def of_session(session: Session, now: datetime) -> Iterator[bytes]:
    """Yield the archive of what a session sees."""
    packing, counts = Packing(), {}
    invented = bool(session.exec(select(Site.id).where(col(Site.demo)).limit(1)).first())
    yield from packing.add(contents.README, [words.readme(invented).encode()])
    for name, found in lists.all_lists(session):
        at, (columns, listed) = lists.csv_name(name), found()
        yield from packing.add(at, lists.csv_blocks(columns, listed))
        yield from packing.add(at + csvw.ENDING, [lists.description(name, columns)])
    for sha256 in sorted(session.exec(select(KeptFile.sha256).distinct()).all()):
        yield from packing.add(contents.original_name(sha256), _original(session, sha256))
    for table in contents.tables():
        counts[table.name] = 0

        def counted(table: sa.Table = table) -> Iterator[bytes]:
            for line in _lines(session, table):
                counts[table.name] += 1
                yield line

        yield from packing.add(contents.rows_name(table), counted())
    manifest = {
        "format": contents.NAME,
        "version": contents.FORMAT,
        "made_by": MADE_BY,
        "made_at": iso(now),
        "epoch": server_epoch(session),
        "schema": schema_of(session),
        "invented": invented,
        "counts": counts,
        "files": {name: vars(member) for name, member in packing.members.items()},
    }
    text = json.dumps(manifest, indent=1, sort_keys=True) + "\n"
    yield from packing.add(contents.MANIFEST, [text.encode()])
    yield from packing.end()


def _original(session: Session, sha256: str) -> Iterator[bytes]:
    found = select(KeptFile.content).where(KeptFile.sha256 == sha256).limit(1)
    yield session.exec(found).one()


def _lines(session: Session, table: sa.Table) -> Iterator[bytes]:
    """Yield the rows of a table in the order of its key, the same on every engine."""
    columns = contents.columns_of(table)
    heavy = any(isinstance(column.type, sa.LargeBinary) for column in columns)
    order: list[Any] = list(table.primary_key.columns)
    if session.get_bind().dialect.name == "postgresql":  # its own order of letters is a locale's
        order = [c.collate("C") if c.type.python_type is str else c for c in order]
    found = session.connection().execute(
        sa.select(*columns).order_by(*order),
        execution_options={"yield_per": BLOCKS_AT_A_TIME if heavy else AT_A_TIME},
    )
    for row in found.mappings():
        yield rows.to_line(table, dict(row))


def schema_of(session: Session) -> str:
    """Return the revision of the tables of this database."""
    return MigrationContext.configure(session.connection()).get_current_revision() or ""


def to_file(session: Session, target: Path, now: datetime) -> int:
    """Write the archive into a new file; return its size in bytes.

    Raises
    ------
    BadInput
        When there is such a file, or no such folder.
    """
    if target.exists():
        raise BadInput("file", target, "the file exists", "Name a file that does not exist yet.")
    if not target.parent.is_dir():
        raise BadInput("file", target, "no such folder", "Check the name, or make it first.")
    part = target.with_name(f"{target.name}.part")
    engine = session.get_bind()
    assert isinstance(engine, sa.Engine)
    try:
        with part.open("wb") as file:
            file.writelines(blocks(engine, now))
        write_through(part)
        part.replace(target)  # one that was cut short never bears the name
    finally:
        throw_away(part)
    return target.stat().st_size
