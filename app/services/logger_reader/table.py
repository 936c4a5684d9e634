"""Finding the table in a logger file: delimiter, where the time stands, header, first row.

Public: DELIMITERS, split_line(line, delimiter), Table, find_table(head, further, answers)
"""

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from app.errors import BadInput
from app.services.logger_reader.columns import meaning_of, unit_of
from app.services.logger_reader.numbers import MISSING_TEXTS, looks_numeric
from app.services.logger_reader.text import refuse
from app.services.logger_reader.times import Form, recognise

# in order of trust when two fit equally well
DELIMITERS: dict[str, str] = {
    "semicolon": ";",
    "tab": "\t",
    "comma": ",",
    "bar": "|",
    "space": " ",
}
_FORMS = (Form.CALENDAR, Form.EPOCH_MS, Form.EPOCH, Form.DAY_OF_YEAR, Form.SERIAL)
_LOOKED_AT = 150  # lines of the head, and as many of the rest, by which delimiters are judged
_ROWS = 400  # rows of the head, and as many of the rest, by which columns are judged
_TIME_WITHIN = 5  # the time begins in one of the first columns
_SERIAL_NUMBER = re.compile(
    r"(?:serial|s/n|sn)\W{0,3}(?:no\.?|number|nr\.?)?\W{0,3}([A-Za-z0-9][A-Za-z0-9-]{2,23})", re.I
)


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


@dataclass(frozen=True)
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

    def times(self) -> list[str]:
        """Return the time cells of the sample, columns joined by one space."""
        end = self.time_at + self.time_columns
        return [" ".join(row[self.time_at : end]) for row in self.rows]

    def cells(self, index: int) -> list[str]:
        """Return the cells of one column of the sample."""
        return [row[index].strip() for row in self.rows if index < len(row)]


_Place = tuple[Form, int, int]


def _is_value(cell: str) -> bool:
    return looks_numeric(cell) or cell.strip().lower() in MISSING_TEXTS


def _has_reading(cells: Sequence[str], place: _Place) -> bool:
    _, at, columns = place
    others = [cell for i, cell in enumerate(cells) if not at <= i < at + columns]
    return any(looks_numeric(cell) for cell in others) or (
        bool(others) and all(_is_value(cell) for cell in others)
    )


def _fits(cells: Sequence[str], place: _Place) -> bool:
    form, at, columns = place
    return (
        len(cells) > at and recognise(cells, at) == (form, columns) and _has_reading(cells, place)
    )


def _rises(rows: Sequence[Sequence[str]], at: int) -> bool:
    """Tell whether a column of numbers rises nearly always, as time does."""
    values = [float(row[at].replace(",", ".")) for row in rows]
    steps = [b - a for a, b in pairwise(values)]
    return bool(steps) and sum(step > 0 for step in steps) >= 0.9 * len(steps)


def _best_place(rows: Sequence[Sequence[str]]) -> tuple[int, _Place] | None:
    """Return how many rows have the time at the best place, and the place."""
    votes: Counter[_Place] = Counter()
    for cells in rows:
        for at in range(min(_TIME_WITHIN, len(cells))):
            found = recognise(cells, at)
            if found and _has_reading(cells, (found[0], at, found[1])):
                votes[found[0], at, found[1]] += 1
    for form in _FORMS:
        places = [place for place in votes if place[0] is form]
        places.sort(key=lambda place: (-votes[place], place[1]))
        for place in places:
            if form is Form.CALENDAR:
                # one date in a numeric table is a header's, not the table's
                if votes[place] * 4 >= max(votes.values()):
                    return votes[place], place
            else:
                chosen = [cells for cells in rows if _fits(cells, place)]
                if form is Form.DAY_OF_YEAR or _rises(chosen, place[1]):
                    return votes[place], place
    return None


def find_table(head: Sequence[str], further: Sequence[str], answers: Mapping[str, Any]) -> Table:
    """Return where the readings are.

    Raises
    ------
    BadInput
        If no row with a time and a number is found, or an answer names an unknown delimiter.
    """
    asked = answers.get("delimiter")
    if asked is not None and asked not in DELIMITERS:
        known = ", ".join(DELIMITERS)
        raise BadInput("row 1, column 1", asked, "is a known delimiter", f"One of {known}.")
    found: dict[str, tuple[int, _Place]] = {}
    sample = [*head[:_LOOKED_AT], *further[:: 1 + len(further) // _LOOKED_AT]]
    for delimiter in DELIMITERS if asked is None else (asked,):
        best = _best_place([split_line(line, delimiter) for line in sample])
        if best is not None:
            found[delimiter] = best
    if not found:
        # name the line that looks most like a reading
        row = max(range(len(head[:_ROWS])), key=lambda i: sum(map(str.isdigit, head[i][:80])))
        raise refuse(
            row + 1,
            1,
            repr(head[row][:60]),
            "no row with a time and a reading was found",
            "Export the readings as text, one row a time: date, time, reading.",
        )
    most = max(score for score, _ in found.values())
    delimiter = next(name for name, (score, _) in found.items() if score == most)
    rivals = tuple(name for name, (score, _) in found.items() if score == most)
    place = found[delimiter][1]
    first, rows = _rows(head, delimiter, place, _ROWS)
    head_rows = len(rows)
    rows += _rows(further[:: 1 + len(further) // _ROWS], delimiter, place, _ROWS)[1]
    fields = Counter(len(cells) for cells in rows).most_common(1)[0][0]
    header = list(head[:first])
    names, units = _names_and_units([split_line(line, delimiter) for line in header], fields)
    _refuse_double_comma(delimiter, names, fields, place, first, rows)
    serial = next((m[1] for line in header if (m := _SERIAL_NUMBER.search(line[:200]))), None)
    return Table(
        delimiter=delimiter,
        rivals=rivals,
        form=place[0],
        time_at=place[1],
        time_columns=place[2],
        first_line=first,
        fields=fields,
        names=tuple(names),
        units=tuple(units),
        header=tuple(header[-60:]),
        rows=tuple(tuple(cells) for cells in rows),
        head_rows=head_rows,
        serial=serial,
    )


def _rows(
    lines: Sequence[str], delimiter: str, place: _Place, most: int
) -> tuple[int, list[list[str]]]:
    """Return the number of the first line that is a row, and up to `most` rows."""
    first, rows = len(lines), []
    for number, line in enumerate(lines):
        cells = split_line(line, delimiter)
        if _fits(cells, place):
            first = min(first, number)
            rows.append(cells)
            if len(rows) == most:
                break
    return first, rows


def _names_and_units(
    above: Sequence[Sequence[str]], fields: int
) -> tuple[list[str], list[str | None]]:
    """Return column names and units from the lines above the first row."""
    # a name is short: a long one would only make the patterns below slow
    lines = [[cell.strip().strip('"')[:80] for cell in cells] for cells in above if len(cells) > 1]
    lines = [cells for cells in lines if any(cells)][-6:]
    # the row of names is the one that says most of its columns; the later of equals
    said = [sum(_says_something(cell) for cell in cells) for cells in lines]
    names: list[str] = []
    units: list[str | None] = [None] * fields
    if lines:
        at = max(range(len(lines)), key=lambda i: (said[i], i))
        if said[at] or any(re.search(r"[A-Za-z]{2}", cell) for cell in lines[at]):
            names = lines[at]
        for cells in lines[at + 1 :]:
            told = [cell for cell in cells if cell]
            if all(_only_unit(cell) for cell in told):
                units = [unit_of(cell) if cell else None for cell in cells]
    short = fields - len(names)
    if names and short == 1 and re.fullmatch(r"(?i)\W*date\W*(?:&|and)?\W*time.*", names[0]):
        names = [names[0], "", *names[1:]]
    names += [""] * (fields - len(names))
    units += [None] * (fields - len(units))
    for i, name in enumerate(names[:fields]):
        units[i] = units[i] or unit_of(name)
    return names[:fields], units[:fields]


def _says_something(cell: str) -> bool:
    return len(cell) <= 60 and (
        meaning_of(cell) is not None or re.search(r"(?i)date|time|stamp", cell) is not None
    )


def _only_unit(cell: str) -> bool:
    bare = cell.strip("()[]{}\"' ").lower()
    return (unit_of(cell) is not None and len(bare) <= 8) or bool(
        re.fullmatch(r"-|utc|date|time|[ymdhs\-/:. ]{4,}", bare)
    )


def _refuse_double_comma(
    delimiter: str,
    names: Sequence[str],
    fields: int,
    place: _Place,
    first: int,
    rows: Sequence[Sequence[str]],
) -> None:
    """Refuse a file whose comma is delimiter and decimal sign at once: it cannot be read."""
    named = sum(bool(name) for name in names)
    values, titles = fields - place[2], named - place[2]
    if delimiter != "comma" or titles < 1 or values != 2 * titles or any(names[named:]):
        return
    if all(re.fullmatch(r"\s*\d+\s*", cell) for row in rows for cell in row[place[2] : fields]):
        raise refuse(
            first + 1,
            place[2] + 2,
            ",".join(rows[0])[:60],
            f"{named} columns have names and {fields} have values: the comma seems to part "
            "columns and decimals at once",
            "Export again with a point as the decimal sign, or with semicolons.",
        )
