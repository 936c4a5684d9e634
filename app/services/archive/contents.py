"""What the archive holds: every table there is, but for those named here with the reason."""

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

DERIVED = {
    "flow_value": "discharges of the readings, with all that ever stood",
    "series_block": "the long record",
    "daily_flow": "its days",
    "found_fault": "what was found amiss in it",
}
"""Tables that the services work out from the others: carried as seen, and worked out again."""

INVENTED_KEY = "demo"  # of a site


def tables() -> list[sa.Table]:
    """Return the tables of the archive, each behind those that it cites."""
    return [table for table in SQLModel.metadata.sorted_tables if table.name not in LEFT_OUT]


def columns_of(table: sa.Table) -> list[sa.Column[object]]:
    """Return the columns of a table that its rows in the archive have."""
    return [column for column in table.columns if (table.name, column.name) not in WITHHELD]


def rows_name(table: sa.Table) -> str:
    return f"rows/{table.name}.jsonl"


def original_name(sha256: str) -> str:
    return f"originals/{sha256}"
