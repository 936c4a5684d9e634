"""What the archive holds: every table there is, but for those named here with the reason."""

from functools import cache

import sqlalchemy as sa
from sqlmodel import SQLModel

import app.records  # noqa: F401 - every table is known from here on

FORMAT = 1
"""Version of the form of the archive; a reader refuses a higher one."""
NAME = "sillbook-archive"
MANIFEST = "manifest.json"
README = "README.txt"

LEFT_OUT = {
    "sign_in": "who is signed in now; all sign in again",
    "sign_in_failure": "failed attempts of the last minutes",
    "access_token": "opens the record to scripts; new ones are made",
    "server_fact": "of one database alone; its epoch stands in the manifest",
}
"""Tables that are in no archive, and why."""

WITHHELD = {
    ("person", "password_hash"): "everybody gets a new password from the command line",
    ("kept_file", "content"): "stands as a file of its own in originals/",
}
"""Columns that the rows leave out, and why."""

CARRIED = {
    "flow_value": "discharges of the readings, with all that ever stood",
    "series_block": "the long record",
    "daily_flow": "its days",
    "found_fault": "what was found amiss in it",
}
"""Tables that the services work out from the others: carried as seen, and worked out again."""


@cache
def tables() -> tuple[sa.Table, ...]:
    """Return the tables of the archive, each behind those that it cites."""
    return tuple(t for t in SQLModel.metadata.sorted_tables if t.name not in LEFT_OUT)


@cache
def columns_of(table: sa.Table) -> tuple[sa.Column[object], ...]:
    """Return the columns of a table that its rows in the archive have."""
    return tuple(column for column in table.columns if (table.name, column.name) not in WITHHELD)


@cache
def links_of(table: sa.Table) -> tuple[tuple[str, str], ...]:
    """Return which columns of a table cite another, and which one."""
    return tuple(
        (column.name, link.target_fullname.partition(".")[0])
        for column in table.columns
        for link in column.foreign_keys
    )


@cache
def cited() -> frozenset[str]:
    """Return the tables that rows of the archive cite."""
    return frozenset(target for table in tables() for _, target in links_of(table))


def rows_name(table: sa.Table) -> str:
    return f"rows/{table.name}.jsonl"


def original_name(sha256: str) -> str:
    return f"originals/{sha256}"
