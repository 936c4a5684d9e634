"""Which column the head is taken from: said by the header, by a person, or asked.

A header that names the columns, or a person, decides; everything else is a question, with what
each candidate holds and what it would mean.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.units import LENGTH_M, PRESSURE_PA, G
from app.services.loggers.reader.cells.numbers import Numerals, read_numbers
from app.services.loggers.reader.cells.text import refuse
from app.services.loggers.reader.cells.units import RAW_UNITS
from app.services.loggers.reader.columns import (
    HEAD_SOURCES,
    Column,
    Meaning,
    is_secondary,
    meaning_of,
)
from app.services.loggers.reader.table import Table

Choice = tuple[str, str, str, tuple[str, ...], bool]

LARGEST_HEAD_M = 6.0  # common practice: no small flume runs deeper, a larger reading is no head
LOWEST_USUAL_M = -0.1  # half of the readings so far under the crest count from elsewhere
AIR_PA = 60_000.0  # the least weight of the air, at 4 km: what presses more is not vented
_STANDARD_AIR_PA = 101_325.0  # standard atmosphere, ISO 2533
_SHOWN = 3
NO_BAROMETER = "no column is the barometer"


@dataclass(frozen=True)
class Figures:
    """The readings of one column of the sample: how many, least, middle, largest, as written."""

    count: int
    low: float
    middle: float
    high: float
    first: tuple[str, ...]


def figures_of(cells: Sequence[str], numerals: Numerals) -> Figures:
    """Return what a column holds; NaN without a number."""
    values, _ = read_numbers(cells, numerals)
    known = np.isfinite(values)
    first = tuple(cells[i][:20] for i in np.flatnonzero(known)[:_SHOWN].tolist())
    if not known.any():
        return Figures(0, np.nan, np.nan, np.nan, first)
    good = values[known]
    return Figures(good.size, float(good.min()), float(np.median(good)), float(good.max()), first)


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A column that could be the head: number from 1, what it holds, what it would mean."""

    column: int
    name: str
    first: tuple[str, ...]
    low: float
    high: float
    means: tuple[str, ...]
    suggested: bool

    @property
    def words(self) -> str:
        """Column, first values and range in one line."""
        said = f" ({self.name})" if self.name else ""
        return (
            f"column {self.column}{said}: {', '.join(self.first)} …, {self.low:g} to {self.high:g}"
        )


def candidates_of(
    columns: Sequence[Column], figures: Mapping[int, Figures], suggested: int
) -> tuple[Candidate, ...]:
    """Return the columns a person may point at, with what each would mean."""
    found = []
    for column in columns:
        held = figures[column.index]
        if held.count:
            means = _means(held, column.unit)
            number = column.index + 1
            found.append(
                Candidate(
                    column=number,
                    name=column.name,
                    first=held.first,
                    low=held.low,
                    high=held.high,
                    means=means,
                    suggested=column.index == suggested,
                )
            )
    return tuple(found)


def _means(held: Figures, unit: str) -> tuple[str, ...]:
    """Say what a column's readings are in metres of water, by the units they may have."""
    said: list[str] = []
    for name in [unit] if unit in LENGTH_M else [] if unit else ["mm", "cm", "m"]:
        low, high = held.low * LENGTH_M[name], held.high * LENGTH_M[name]
        if unit or 0.005 <= abs(held.middle) * LENGTH_M[name] <= LARGEST_HEAD_M:
            said.append(f"a head of {_span(low, high)} m in {name}")
    pressures = [unit] if unit in PRESSURE_PA else [] if unit else ["cmH2O", "hPa", "kPa"]
    for name in pressures:
        one = PRESSURE_PA[name]
        over = held.middle * one
        if over >= AIR_PA:
            if over < 3.0 * _STANDARD_AIR_PA:
                deep = [(x * one - _STANDARD_AIR_PA) / (1000.0 * G) for x in (held.low, held.high)]
                said.append(f"air and about {_span(*deep)} m of water in {name}, not vented")
        elif unit or over >= 500.0:
            deep = [x * one / (1000.0 * G) for x in (held.low, held.high)]
            said.append(f"{_span(*deep)} m of water over a vented sensor in {name}")
    if not unit and held.low >= -40.0 and held.high <= 50.0:
        said.append("or a temperature")
    return tuple(said) or ("not a head in any usual unit",)


def _span(low: float, high: float) -> str:
    return f"{low:.3f} to {high:.3f}"


def pointed(table: Table, answers: Mapping[str, Any]) -> int | None:
    """Return the column a person pointed at as the head, counted from 0.

    Raises
    ------
    BadInput
        If the file has no such column, or the time stands in it.
    """
    given = answers.get("head_column")
    if given is None:
        return None
    text = str(given).strip()
    index = int(text) - 1 if text.isascii() and text.isdigit() and len(text) < 5 else -1
    if isinstance(given, bool) or index not in table.shape.values:
        raise BadInput(
            f"row {table.first_line + 1}, column {text[:20]}",
            given,
            f"head_column is one of the file's {table.fields} columns, the time apart",
            "Give the number of the column, counted from 1.",
        )
    return index


def settle(
    table: Table,
    columns: list[Column],
    figures: Mapping[int, Figures],
    told: Mapping[int, Mapping[str, Any]],
    at: int | None,
) -> tuple[list[Column], list[Choice], int]:
    """Keep one source of head and one column a meaning; ask where the file does not say.

    Returns
    -------
    columns, choices, and the index of the column the head is taken from (a suggestion while asked)
    """
    best, choices = _best(table, columns, figures, told, at)
    unused = {*HEAD_SOURCES}
    unused |= set() if best.meaning is Meaning.ABSOLUTE else {Meaning.BAROMETER}
    unused |= set() if best.meaning is Meaning.DISTANCE else {Meaning.AIR}
    kept: dict[Meaning, int] = {best.meaning: best.index}
    settled = []
    for column in columns:
        if column.index == best.index:
            column = best
        elif column.meaning in unused:
            column = replace(column, meaning=Meaning.IGNORED)
        elif column.meaning is not Meaning.IGNORED:
            first = kept.setdefault(column.meaning, column.index)
            if first != column.index:
                column = replace(column, meaning=Meaning.IGNORED)
        settled.append(column)
    if best.meaning is Meaning.ABSOLUTE and Meaning.BAROMETER not in kept:
        why = "an absolute pressure needs the barometer of the same time"
        what = NO_BAROMETER
        others = ("say the sensor is vented", "add a barometer")
        choices.append(("columns", what, why, others, True))
    return settled, choices, best.index


def _best(
    table: Table,
    columns: Sequence[Column],
    figures: Mapping[int, Figures],
    told: Mapping[int, Mapping[str, Any]],
    at: int | None,
) -> tuple[Column, list[Choice]]:
    """Return the column the head is taken from, with the questions about it."""
    if at is not None:
        best = next(column for column in columns if column.index == at)
        return _with_meaning(best, told, sure=table.named)
    said = [c for c in columns if c.index in told and c.meaning in HEAD_SOURCES]
    if said:
        return min(said, key=lambda c: (HEAD_SOURCES.index(c.meaning), c.index)), []
    held = [c for c in columns if figures[c.index].count and c.index not in told]
    sources = [c for c in held if c.meaning in HEAD_SOURCES]
    plain = [c for c in sources if not _is_raw(c)] or sources
    # a unit alone does not say what is measured: a distance is in cm as well
    plain = [c for c in plain if meaning_of(c.name) is not None]
    if table.named and plain:
        best = min(plain, key=lambda c: (HEAD_SOURCES.index(c.meaning), c.index))
        same = [c for c in plain if c.meaning is best.meaning and c.index != best.index]
        better = [c for c in columns if not figures[c.index].count and c.index not in told]
        better = [c for c in better if c.meaning in HEAD_SOURCES]
        if same:
            return best, [_which("columns", best, same, "more than one column could be it")]
        if better and not any(_rank(c) > _rank(best) for c in better):
            why = f"column {better[0].label} holds not one number in the rows looked at"
            return best, [_which("head_column", best, [c for c in held if c != best], why)]
        return best, []
    free = held if not table.named else [c for c in held if meaning_of(c.name) is None]
    tail = [c for c in held if c.meaning is Meaning.TAILWATER]
    if not free and tail:
        return _with_meaning(tail[0], told, sure=False)
    if not free:
        raise refuse(
            1,
            columns[0].index + 1,
            ", ".join(column.name or str(column.index + 1) for column in columns)[:200],
            "no column gives a head",
            "Say which column is the head, level, pressure or distance.",
        )
    if len(free) == 1 and (table.named or len(held) == 1):
        return _with_meaning(free[0], told, sure=False)
    hinted = [c for c in free if meaning_of(c.name) in HEAD_SOURCES]
    best = min(hinted or free, key=lambda c: (_is_raw(c), c.index))
    why = "no header names the columns" if not table.named else "no name says which one it is"
    asked = _which("head_column", best, [c for c in free if c != best], why)
    if best.meaning not in HEAD_SOURCES:
        best = replace(best, meaning=Meaning.HEAD)
    return best, [asked]


def _rank(column: Column) -> int:
    return HEAD_SOURCES.index(column.meaning)


def _is_raw(column: Column) -> bool:
    return is_secondary(column.name) or column.unit in RAW_UNITS


def _which(key: str, best: Column, others: Sequence[Column], why: str) -> Choice:
    rest = tuple(f"column {column.label}" for column in others)
    return (key, f"column {best.label} is the head", why, rest, True)


def _with_meaning(
    column: Column, told: Mapping[int, Mapping[str, Any]], *, sure: bool
) -> tuple[Column, list[Choice]]:
    """Return a column as a source of head; ask what it measures when nobody says so."""
    said = told.get(column.index, {})
    known = column.meaning in HEAD_SOURCES and (sure or "meaning" in said or "unit" in said)
    if known:
        return column, []
    guess = column.meaning if column.meaning in HEAD_SOURCES else Meaning.HEAD
    others = tuple(meaning for meaning in HEAD_SOURCES if meaning is not guess)
    why = "nothing in the file says for certain what this column measures"
    asked = (f"column {column.index + 1}", str(guess), why, others, True)
    return replace(column, meaning=guess), [asked]
