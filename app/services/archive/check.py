"""Read every row of an archive before any is stored: what is wrong is named with its place."""

from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa

from app.language.words import counted
from app.records.people import ROLES
from app.services.archive import contents
from app.services.archive.opened import Archive
from app.services.archive.rows import Cells, from_line, refused

Key = tuple[Any, ...]
Keys = dict[str, set[Any]]
"""Keys that were read so far, of tables that others cite."""


def check(archive: Archive, schema: str, *, lengths: bool) -> None:
    """Compare every file with its sum, and read every row with what it cites.

    Parameters
    ----------
    schema
        The revision of the tables that the rows are to go into.
    lengths
        As in `from_line`.

    Raises
    ------
    BadInput
        At the first thing that is wrong: file, line, field.
    """
    said = archive.manifest
    if said.schema != schema:
        rule = f"its tables are of another release ({said.made_by}); this one has {schema}"
        remedy = "Take it in with that release, then bring the data to this one by `migrate`."
        raise refused(f"{contents.MANIFEST}, schema", said.schema, rule, remedy)
    named = {table.name: table for table in contents.tables()}
    for name in sorted(set(said.counts) ^ set(named)):
        rule = "this release has no such table" if name in said.counts else "not counted"
        raise refused(f"{contents.MANIFEST}, counts", name, rule)
    rows_names = {contents.rows_name(table) for table in named.values()}
    for name in sorted(rows_names - set(said.files)):
        raise refused(name, "", "the rows of this table are missing")
    for name in said.files:
        if name.startswith("rows/") and name not in rows_names:
            raise refused(name, "", "this release has no such table")
        if name not in rows_names:
            for _ in archive.blocks(name):
                pass
    known: Keys = {}
    originals: dict[str, int] = {}
    for table in named.values():
        for row in table_rows(archive, table, known, lengths=lengths):
            if table.name == "kept_file":
                originals[row["sha256"]] = row["size"]
    _compare_originals(archive, originals)


def _compare_originals(archive: Archive, cited: dict[str, int]) -> None:
    files = archive.manifest.files
    for sha256, size in cited.items():
        name = contents.original_name(sha256)
        if name not in files:
            raise refused(name, "", "rows/kept_file.jsonl names it, and it is not there")
        if files[name].sha256 != sha256 or files[name].size != size:
            raise refused(name, "", "not the content that its name and its row say")
    for name in files:
        if name.startswith("originals/") and name.removeprefix("originals/") not in cited:
            raise refused(name, "", "no row of rows/kept_file.jsonl names it")


def table_rows(archive: Archive, table: sa.Table, known: Keys, *, lengths: bool) -> Iterator[Cells]:
    """Yield the rows of a table, each checked by itself and against what was read before."""
    name = contents.rows_name(table)
    own = known.setdefault(table.name, set()) if table.name in contents.cited() else None
    once: dict[tuple[str, ...], set[Key]] = {names: set() for names in _unique(table)}
    primary = [column.name for column in table.primary_key.columns]
    last: Key | None = None
    number = 0
    for number, line in archive.lines(name):
        place = f"{name}, line {number}"
        row = from_line(table, line, place, lengths=lengths)
        key = tuple(row[column] for column in primary)
        if last is not None and key <= last:
            at = f"{place}, {', '.join(primary)}"
            raise refused(at, ", ".join(map(str, key)), "not above the one of the line before")
        last = key
        for names, seen in once.items():
            value = tuple(row[column] for column in names)
            if None not in value and value in seen:
                raise refused(f"{place}, {', '.join(names)}", value, "stands there twice")
            seen.add(value)
        _check_links(table, row, place, known, own)
        if own is not None:
            own.add(key[0])
        if table.name == "person" and row["role"] not in ROLES:
            raise refused(f"{place}, role", row["role"], f"not one of {', '.join(ROLES)}")
        yield row
    said = archive.manifest.counts[table.name]
    if number != said:
        raise refused(name, counted(number, "row"), f"the manifest counts {said}")


def _unique(table: sa.Table) -> set[tuple[str, ...]]:
    """Return what no two rows of a table may share, beside its key."""
    found = {
        tuple(column.name for column in one.columns)
        for one in table.constraints
        if isinstance(one, sa.UniqueConstraint)
    }
    found |= {tuple(c.name for c in one.columns) for one in table.indexes if one.unique}
    return found


def _check_links(
    table: sa.Table, row: Cells, place: str, known: Keys, own: set[Any] | None
) -> None:
    for column, target in contents.links_of(table):
        held = own if target == table.name and own is not None else known.get(target, set())
        if row[column] is not None and row[column] not in held:
            raise refused(f"{place}, {column}", row[column], f"no such row in rows/{target}.jsonl")
