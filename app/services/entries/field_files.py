"""Small files from the field: find the columns by what people call them, give rows of values.

Commas, semicolons, tabs or blanks between values; decimal comma or point; lines that begin with #
and empty lines are left out. Rows count from 1 below the header.
"""

import csv
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from app.errors import BadInput
from app.hydraulics.base.figures import exact
from app.hydraulics.base.units import number, times
from app.language import typed

Spelling = tuple[str, float]
Spellings = Mapping[str, Sequence[Spelling]]
"""For each column: patterns of its tidied heading, with the factor to the column's own unit."""

_ENCODINGS = ("utf-8-sig", "cp1252")


def read_table(
    path: Path, spellings: Spellings, units: Mapping[str, str] | None = None
) -> list[dict[str, str]]:
    """Return rows as {column: text}, columns not asked for left out; figures in plain notation.

    Parameters
    ----------
    units : unit by column of figures; without it all columns are figures, their units by name

    Raises
    ------
    BadInput
        The file cannot be read, holds no rows, none of its headings is known, or a figure can be
        two that no other one of its column or file decides.
    """
    lines = [line for line in _text(path).splitlines() if line.strip() and not line.startswith("#")]
    if len(lines) < 2:
        raise BadInput("file", path.name, "holds no rows", "Give a heading line and rows below it.")
    split, by_commas = _split(lines)
    headings = [heading(cell) for cell in split[0]]
    places: dict[str, tuple[int, float]] = {}
    for column, patterns in spellings.items():
        for place, name in enumerate(headings):
            factor = next((f for p, f in patterns if re.fullmatch(p, name)), None)
            if factor is not None and place not in [taken for taken, _ in places.values()]:
                places[column] = (place, factor)
                break
    if not places:
        known = ", ".join(spellings)
        raise BadInput("file", path.name, "has no heading that is known", f"Head columns {known}.")
    rows = []
    for cells in split[1:]:
        row = {
            column: cells[place].strip() if place < len(cells) else ""
            for column, (place, _) in places.items()
        }
        if any(row.values()):
            rows.append(row)
    figures = {column: _unit(column, factor) for column, (_, factor) in places.items()}
    if units is not None:
        figures = {column: unit for column, unit in units.items() if column in places}
    typed.settled(rows, figures, "." if by_commas else "")
    for column, (_, factor) in places.items():
        for count, row in enumerate(rows if factor != 1.0 else (), start=1):
            if row[column]:
                value = number(f"row {count} {column}", row[column])
                row[column] = exact(times(value, factor))
    return rows


def _unit(column: str, factor: float) -> str:
    """Return the unit that decides between two meanings: m, m/s, % never reach a thousand."""
    if factor != 1.0:
        return ""
    if re.fullmatch("v|v0[268]", column):
        return "m/s"
    return {"m": "m", "pct": "%"}.get(column.rpartition("_")[2], "")


def numbers(rows: Sequence[Mapping[str, str]], column: str) -> list[float]:
    """Return one column as numbers.

    Raises
    ------
    BadInput
        Naming the row and column that is empty or no number, or the column that is missing.
    """
    need(rows, column)
    return [number(f"row {i} {column}", row[column]) for i, row in enumerate(rows, start=1)]


def need(rows: Sequence[Mapping[str, str]], *columns: str) -> None:
    """Refuse a table that lacks a column."""
    for column in columns:
        if not rows or column not in rows[0]:
            raise BadInput(column, "missing", "the file has no such column", f"Head it {column}.")


def has(rows: Sequence[Mapping[str, str]], column: str) -> bool:
    """Say whether the table has this column with anything in it."""
    return any(row.get(column) for row in rows)


def number_list(field: str, text: str) -> list[float]:
    """Return numbers typed one after another, such as 8.2,8.4,8.1 or 8,2; 8,4."""
    if ";" in text:
        parts = text.split(";")
    elif "." not in text and re.search(r"\d,\d+\s+\d", text):
        parts = text.split()  # decimal commas, blanks between
    else:
        parts = re.split(r"[,\s]+", text)
    found = [part.strip() for part in parts if part.strip()]
    values = typed.column(field, found)
    return [number(field, t) if v is None else v for t, v in zip(found, values, strict=True)]


def heading(text: str) -> str:
    """Return a column heading tidied: lower case, words joined by underscores, units kept."""
    plain = text.strip().lower().replace("µ", "u").replace("μ", "u").replace("³", "3")
    return re.sub(r"[^a-z0-9]+", "_", plain).strip("_")


def _text(path: Path) -> str:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise BadInput(
            "file", str(path), "cannot be read", "Check the name and the folder."
        ) from error
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    if b"\x00" in raw:
        raise BadInput("file", path.name, "is no text file", "Save it as CSV.")
    for encoding in _ENCODINGS:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1")


def _split(lines: Sequence[str]) -> tuple[list[list[str]], bool]:
    """Return the cells, and whether commas part them, so that none is a decimal comma."""
    counts = {mark: lines[0].count(mark) for mark in (";", "\t", ",")}
    mark = max(counts, key=lambda each: counts[each])
    if counts[mark]:
        return list(csv.reader(lines, delimiter=mark)), mark == ","
    return [line.split() for line in lines], False
