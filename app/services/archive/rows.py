"""One row as a line of JSON and back: exact, the same from both engines."""

import base64
import binascii
import json
import math
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel.sql.sqltypes import AutoString

from app.errors import BadInput
from app.records.database import UtcTime
from app.services.archive.contents import columns_of

WHOLE = {sa.BigInteger: 2**63, sa.Integer: 2**31}
RETAKE = "The archive is damaged or was changed: take it out again, or use another copy."

Column = sa.Column[Any]
Cells = dict[str, Any]
"""What stands in the columns of a row."""


def refused(place: str, value: object, rule: str, remedy: str = RETAKE) -> BadInput:
    """Return a refusal of the archive that names the place, and what stands there."""
    stands = shown(value)
    return BadInput("archive", place, f"{rule}; it says “{stands}”" if stands else rule, remedy)


def to_line(table: sa.Table, row: Mapping[str, Any]) -> bytes:
    """Return a row as a line of JSON, columns in their order."""
    cells = {column.name: _cell(column, row[column.name]) for column in columns_of(table)}
    try:
        return json.dumps(cells, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
    except UnicodeEncodeError:  # half a character, which only an escape can say
        return json.dumps(cells, separators=(",", ":")).encode() + b"\n"


def _cell(column: Column, value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bytes):
        return base64.b64encode(value).decode()
    if isinstance(column.type, sa.Float) and value is not None and not math.isfinite(value):
        return repr(value)  # JSON has no word for it
    return value


def from_line(table: sa.Table, line: bytes, place: str, *, lengths: bool) -> Cells:
    """Read a line of JSON as a row for the database.

    Parameters
    ----------
    place
        Where the line stands, for the words of a refusal.
    lengths
        Refuse texts that are longer than their column: an engine that keeps to them would.

    Raises
    ------
    BadInput
        When it is no row of this table; the field names member, line and column.
    """
    try:
        cells = json.loads(line)
    except (ValueError, RecursionError):
        raise refused(place, line[:60], "not a line of JSON") from None
    if not isinstance(cells, dict):
        raise refused(place, line[:60], "not a row")
    columns = columns_of(table)
    names = [column.name for column in columns]
    for name in (name for name in names if name not in cells):
        raise refused(f"{place}, {name}", "", "the field is missing")
    for name in (name for name in cells if name not in names):
        raise refused(f"{place}, {shown(name)}", "", "no field of this table")
    return {c.name: _value(c, cells[c.name], f"{place}, {c.name}", lengths) for c in columns}


def _value(column: Column, cell: Any, place: str, lengths: bool) -> Any:
    kind = column.type
    if cell is None:
        if column.nullable:
            return None
        raise refused(place, "", "this is needed")
    read = next(reader for of, reader in READERS if isinstance(kind, of))
    try:
        value = read(kind, cell)
    except (ValueError, TypeError, binascii.Error, OverflowError):
        raise refused(place, cell, f"not {WORDS[read]}") from None
    most = getattr(kind, "length", None) if read is _text else None
    if lengths and most is not None and len(value) > most:
        raise refused(
            place,
            f"{len(value)} characters",
            f"this database keeps at most {most}",
            "Take it into an SQLite database, shorten it there, and take that one out.",
        )
    return value


def _instant(_: Any, cell: Any) -> datetime:
    if not cell.endswith("Z"):
        raise ValueError(cell)
    return datetime.fromisoformat(cell).astimezone(UTC)


def _day(_: Any, cell: Any) -> date:
    return date.fromisoformat(cell)


def _json(_: Any, cell: Any) -> Any:
    return cell


def _tick(_: Any, cell: Any) -> bool:
    if not isinstance(cell, bool):
        raise TypeError(cell)
    return cell


def _whole(kind: Any, cell: Any) -> int:
    if not isinstance(cell, int) or isinstance(cell, bool):
        raise TypeError(cell)
    most = next(bound for of, bound in WHOLE.items() if isinstance(kind, of))
    if not -most <= cell < most:
        raise ValueError(cell)
    return cell


def _number(_: Any, cell: Any) -> float:
    if isinstance(cell, str) and cell in {"nan", "inf", "-inf"}:
        return float(cell)
    if not isinstance(cell, int | float) or isinstance(cell, bool):
        raise TypeError(cell)
    return float(cell)


def _bytes(_: Any, cell: Any) -> bytes:
    return base64.b64decode(cell.encode("ascii"), validate=True)


def _text(_: Any, cell: Any) -> str:
    if not isinstance(cell, str) or "\0" in cell:
        raise TypeError(cell)
    cell.encode()
    return cell


Reader = Callable[[Any, Any], Any]
READERS: tuple[tuple[type[Any], Reader], ...] = (
    (UtcTime, _instant),
    (sa.Date, _day),
    (sa.JSON, _json),
    (sa.Boolean, _tick),
    (sa.Integer, _whole),
    (sa.Float, _number),
    (sa.LargeBinary, _bytes),
    (sa.String, _text),
    (AutoString, _text),
)
WORDS: dict[Reader, str] = {
    _instant: "an instant in UTC such as 2026-07-01T04:00:00Z",
    _day: "a day such as 2026-07-01",
    _json: "an object",
    _tick: "true or false",
    _whole: "a whole number that the column holds",
    _number: "a number",
    _bytes: "bytes in base64",
    _text: "a text",
}


def shown(value: object) -> str:
    """Return what stands in a place, cut short, in letters that any terminal prints."""
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    text = str(value)[:60]
    return "".join(c if c.isprintable() else "?" for c in text)
