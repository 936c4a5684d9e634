"""Small files from the field: find the columns by what people call them, give rows of values.

Commas, semicolons, tabs or blanks between values; decimal comma or point; lines that begin with #
and empty lines are left out. Rows count from 1 below the header.
"""

import csv
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from app.errors import BadInput
from app.hydraulics.units import number

Spelling = tuple[str, float]
Spellings = Mapping[str, Sequence[Spelling]]
"""For each column: patterns of its tidied heading, with the factor to the column's own unit."""

_ENCODINGS = ("utf-8-sig", "cp1252")


def read_table(path: Path, spellings: Spellings) -> list[dict[str, str]]:
    """Return rows as {column: text}, columns not asked for left out.

    Raises
    ------
    BadInput
        The file cannot be read, holds no rows, or none of its headings is known.
    """
    lines = [line for line in _text(path).splitlines() if line.strip() and not line.startswith("#")]
    if len(lines) < 2:
        raise BadInput("file", path.name, "holds no rows", "Give a heading line and rows below it.")
    split = _split(lines)
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
    for count, cells in enumerate(split[1:], start=1):
        row = {}
        for column, (place, factor) in places.items():
            text = cells[place].strip() if place < len(cells) else ""
            if factor != 1.0 and text:
                text = repr(number(f"row {count} {column}", text) * factor)
            row[column] = text
        if any(row.values()):
            rows.append(row)
    return rows


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
    return [number(field, part) for part in parts if part.strip()]


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


def _split(lines: Sequence[str]) -> list[list[str]]:
    counts = {mark: lines[0].count(mark) for mark in (";", "\t", ",")}
    mark = max(counts, key=lambda each: counts[each])
    if counts[mark]:
        return list(csv.reader(lines, delimiter=mark))
    return [line.split() for line in lines]
