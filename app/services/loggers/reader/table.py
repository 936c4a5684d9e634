"""Finding the table in a logger file: delimiter, where the time stands, header, first row."""

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from app.errors import BadInput
from app.services.loggers.reader.cells.marks import Marks, find_marks
from app.services.loggers.reader.cells.stamps import Form
from app.services.loggers.reader.cells.text import refuse
from app.services.loggers.reader.header import Shape, read_header
from app.services.loggers.reader.places import Found, Place, best_place, fits
from app.services.loggers.reader.unreadable import (
    refuse_clock_apart,
    refuse_double_comma,
    refuse_one_quantity_a_row,
)

# in order of trust when two fit equally well
DELIMITERS: dict[str, str] = {
    "semicolon": ";",
    "tab": "\t",
    "comma": ",",
    "bar": "|",
    "space": " ",
}
_LOOKED_AT = 150  # lines of the head, and as many of the rest, by which delimiters are judged
_ROWS = 400  # rows of the head, and as many of the rest, by which columns are judged
_FEW = 3  # rows above a row of names that are a part of the header


def split_line(line: str, delimiter: str) -> list[str]:
    """Return the cells of a line; quotes are honoured within the line only."""
    sign = DELIMITERS[delimiter]
    if '"' in line:
        try:
            cells = next(csv.reader([line], delimiter=sign, skipinitialspace=True), [])
        except csv.Error:
            cells = line.split(sign)
        return [cell for cell in cells if cell] if delimiter == "space" else cells
    return line.split() if delimiter == "space" else line.split(sign)


@dataclass(frozen=True, kw_only=True)
class Table:
    """Where the readings are: rows and columns counted from 0 here, from 1 for people."""

    delimiter: str
    rivals: tuple[str, ...]  # delimiters that fit as many rows
    form: Form
    time_at: int
    time_columns: int
    first_line: int
    fields: int
    names: tuple[str, ...]
    units: tuple[str | None, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]  # sample rows, head first
    head_rows: int
    serial: str | None
    named: bool  # a row of names stands over the columns
    two_units: frozenset[int]  # columns whose rows of names disagree on the unit
    unit_lines: tuple[tuple[str, str], ...]  # units of header lines, with the words before
    shape: Shape
    time_rivals: tuple[int, ...]  # other columns that hold a time as well
    time_told: bool  # a person named the column of the time
    marks: Marks

    def times(self) -> list[str]:
        """Return the time cells of the sample, columns joined by one space."""
        end = self.time_at + self.time_columns
        return [" ".join(row[self.time_at : end]) for row in self.rows]

    def label(self, index: int) -> str:
        """Return number from 1 and name of a column, as questions name it."""
        name = self.names[index] if index < len(self.names) else ""
        return f"{index + 1} ({name})" if name else str(index + 1)

    def cells(self, index: int) -> list[str]:
        """Return the cells of one column of the sample."""
        return [row[index].strip() for row in self.rows if index < len(row)]


def find_table(head: Sequence[str], further: Sequence[str], answers: Mapping[str, Any]) -> Table:
    """Return where the readings are.

    Raises
    ------
    BadInput
        If no row with a time and a number is found, or an answer names an unknown delimiter or
        a column without a time.
    """
    asked = answers.get("delimiter")
    if asked is not None and asked not in DELIMITERS:
        known = ", ".join(DELIMITERS)
        raise BadInput("row 1, column 1", asked, "is no delimiter known here", f"One of {known}.")
    timed = _time_column(answers)
    sample = [*head[:_LOOKED_AT], *further[:: 1 + len(further) // _LOOKED_AT]]
    found: dict[str, tuple[Found, Marks]] = {}
    for delimiter in DELIMITERS if asked is None else (asked,):
        marks = find_marks(sample, delimiter, answers.get("afternoon_mark"))
        rows = [split_line(line, delimiter) for line in marks.plain(sample)]
        best = best_place(rows, timed)
        if best is not None:
            every = best if timed is None else best_place(rows)
            found[delimiter] = replace(best, rivals=_beside(best, every)), marks
    if not found:
        raise _no_table(head, timed)
    most = max(best.votes for best, _ in found.values())
    delimiter = next(name for name, (best, _) in found.items() if best.votes == most)
    rivals = tuple(name for name, (best, _) in found.items() if best.votes == most)
    best, marks = found[delimiter]
    head, further = marks.plain(head), marks.plain(further)
    lines, rows = _rows(head, delimiter, best.place, _ROWS)
    head_rows = len(rows)
    rows += _rows(further[:: 1 + len(further) // _ROWS], delimiter, best.place, _ROWS)[1]
    fields = Counter(len(cells) for cells in rows).most_common(1)[0][0]
    filled = {i for cells in rows for i, cell in enumerate(cells[:fields]) if cell.strip()}
    shape = Shape(fields, best.place[1], best.place[2], frozenset(filled))
    refuse_clock_apart(rows, shape, lines[0])
    refuse_one_quantity_a_row(rows[:head_rows], shape, lines[0])
    sign = DELIMITERS[delimiter]
    first = _after_names(head, lines, rows, delimiter, shape)
    header = list(head[:first])
    said = read_header(header, delimiter, shape, sign)
    titles = [split_line(line, delimiter) for line in header[-1:]]
    refuse_double_comma(delimiter, said, shape, first, rows, titles[0] if titles else [])
    return Table(
        delimiter=delimiter,
        rivals=rivals,
        form=best.place[0],
        time_at=best.place[1],
        time_columns=best.place[2],
        first_line=first,
        fields=fields,
        names=said.names,
        units=said.units,
        header=tuple(header[-60:]),
        rows=tuple(tuple(cells) for cells in rows),
        head_rows=head_rows,
        serial=said.serial,
        named=said.named,
        two_units=said.two_units,
        unit_lines=said.loose_units,
        shape=shape,
        time_rivals=_other_times(best, said.names, rows),
        time_told=timed is not None,
        marks=marks,
    )


def _beside(best: Found, every: Found | None) -> tuple[Place, ...]:
    """Return the other places with a time, the one a person named apart."""
    if every is None:
        return ()
    return tuple(place for place in (every.place, *every.rivals) if place != best.place)


def _time_column(answers: Mapping[str, Any]) -> int | None:
    given = answers.get("time_column")
    if given is None:
        return None
    text = str(given).strip()
    if isinstance(given, bool) or not (text.isascii() and text.isdigit() and 0 < len(text) < 4):
        raise BadInput(
            "row 1, column 1", given, "time_column is a column counted from 1", "Such as 6."
        )
    if int(text) < 1:
        raise BadInput("row 1, column 1", given, "columns are counted from 1", "Such as 6.")
    return int(text) - 1


def _no_table(head: Sequence[str], timed: int | None) -> BadInput:
    # name the line that looks most like a reading
    row = max(range(len(head[:_ROWS])), key=lambda i: sum(map(str.isdigit, head[i][:80])))
    if timed is not None:
        return refuse(
            row + 1,
            timed + 1,
            repr(head[row][:60]),
            "no time was found in the column that was said to hold it",
            "Say another time_column, counted from 1, or leave it out.",
        )
    return refuse(
        row + 1,
        1,
        repr(head[row][:60]),
        "no row with a time and a reading was found",
        "Export the readings as text, one row a time: date, time, reading; with hours from 0 to "
        "24, or with marks of morning and afternoon behind the clock.",
    )


def _other_times(
    best: Found, names: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[int, ...]:
    """Return other columns that hold a time just as well and say another moment."""
    if not best.rivals:
        return ()
    at, wide = best.place[1], best.place[2]
    others = []
    for _, other, columns in best.rivals:
        if any(row[at : at + wide] != row[other : other + columns] for row in rows):
            others.append(other)
    told = re.compile(r"(?i)receiv|upload|sent|server|transm|download|insert|creat|import|stored")
    second = [other for other in others if not told.search(names[other])]
    return () if others and not second and not told.search(names[at]) else tuple(others)


def _rows(
    lines: Sequence[str], delimiter: str, place: Place, most: int
) -> tuple[list[int], list[list[str]]]:
    """Return the numbers of the first lines that are rows, and their cells, up to `most`."""
    numbers, rows = [], []
    for number, line in enumerate(lines):
        cells = split_line(line, delimiter)
        if fits(cells, place):
            numbers.append(number)
            rows.append(cells)
            if len(rows) == most:
                break
    return numbers or [len(lines)], rows


def _after_names(
    head: Sequence[str],
    lines: Sequence[int],
    rows: Sequence[Sequence[str]],
    delimiter: str,
    shape: Shape,
) -> int:
    """Return the first line of the table: a stray date above the row of names is none of it."""
    first = lines[0]
    whole = [
        number for number, cells in zip(lines, rows, strict=False) if len(cells) == shape.fields
    ]
    if whole and lines.index(whole[0]) <= _FEW:
        first = whole[0]
    for k, (before, after) in enumerate(pairwise(lines[: _FEW + 1])):
        between = list(head[before + 1 : after])
        if between and len(lines) > 3 * (k + 1):
            said = read_header(between, delimiter, shape, DELIMITERS[delimiter])
            if said.named and any(said.names) and not _stands_above(head[:before], between):
                first = after
    return first


def _stands_above(above: Sequence[str], between: Sequence[str]) -> bool:
    """Tell whether a row of names is only a repeated one."""
    known = {line.strip() for line in above}
    return any(line.strip() in known for line in between if line.strip())
