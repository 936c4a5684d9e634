"""A list that a person reads as a page, and a program as CSV or JSON: one description for all."""

import csv
import io
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar

from app.hydraulics.base.rounding import carried

Piece = TypeVar("Piece")

ALL = 10_000_000  # rows: a list for programs is not cut short
PAGE_ROWS = 5000  # of one answer in JSON: half a second and 2 MB; the CSV is whole


def part_of(rows: Sequence[Piece], part: int, size: int) -> tuple[Sequence[Piece], int, int]:
    """Return one part of a long list, its number and how many parts there are; the last if past."""
    parts = max(1, math.ceil(len(rows) / size))
    part = min(part, parts)
    return rows[(part - 1) * size : part * size], part, parts


@dataclass(frozen=True)
class Column:
    """One column: its key (with unit suffix) and what a person reads above it."""

    key: str
    title: str


@dataclass(frozen=True)
class Table:
    """Columns and rows; a row maps column keys to values, None where a value is missing."""

    name: str
    columns: tuple[Column, ...]
    rows: list[dict[str, Any]]


# A cell that starts with one of these runs as a formula in a spreadsheet; a text cell gets an
# apostrophe in front (OWASP, CSV Injection). Numbers are never touched.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_cell(value: object) -> str:
    """Return a value as a CSV cell: digits as carried, instants in ISO 8601, None empty."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return "" if value != value else repr(carried(value))
    if isinstance(value, int):
        return str(value)
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, list | tuple):
        return csv_cell("; ".join(_part(part) for part in value))
    text = str(value)
    return "'" + text if text.startswith(FORMULA_STARTS) else text


def _part(value: object) -> str:
    return repr(carried(value)) if isinstance(value, float) else str(value)


def csv_lines(columns: Iterable[Column], rows: Iterable[dict[str, Any]]) -> Iterator[str]:
    """Yield CSV text (RFC 4180: comma, CRLF, doubled quotes, one header row), in blocks."""
    columns = tuple(columns)
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([column.key for column in columns])
    for count, row in enumerate(rows, 1):
        writer.writerow([csv_cell(row.get(column.key)) for column in columns])
        if count % 1000 == 0:
            yield buffer.getvalue()
            buffer.seek(0)
            buffer.truncate()
    yield buffer.getvalue()


def json_value(value: object) -> object:
    """Return a value as JSON can carry it, whole; not-a-number becomes null."""
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return None if value != value else carried(value)
    if isinstance(value, list | tuple):
        return [json_value(part) for part in value]
    if isinstance(value, dict):
        return {key: json_value(part) for key, part in value.items()}
    return value


def plain(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row as JSON can carry it."""
    return {key: json_value(value) for key, value in row.items()}
