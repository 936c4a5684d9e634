"""Which column of a logger file means what, from names, units and the size of the readings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from app.hydraulics.base.units import LENGTH_M, PRESSURE_PA, TEMPERATURE_C
from app.services.loggers.reader.cells.numbers import Numerals
from app.services.loggers.reader.cells.text import refuse
from app.services.loggers.reader.cells.units import RAW_UNITS, WATER_COLUMN, unit_exact
from app.services.loggers.reader.columns import (
    SCALED,
    Column,
    Fitting,
    Meaning,
    meaning_of,
    units_for,
    with_choice,
)
from app.services.loggers.reader.guesses import told_columns
from app.services.loggers.reader.sources import (
    AIR_PA,
    LARGEST_HEAD_M,
    LOWEST_USUAL_M,
    Candidate,
    Choice,
    Figures,
    candidates_of,
    figures_of,
    pointed,
    settle,
)
from app.services.loggers.reader.table import Table

_HUNG = (Meaning.PRESSURE, Meaning.ABSOLUTE)  # sensors that measure the water above themselves


@dataclass(frozen=True)
class Roles:
    """The columns that are read, the choices made, and what a person may point at as the head.

    A choice is key, chosen, why, alternatives, ask.
    """

    columns: tuple[Column, ...]
    choices: tuple[Choice, ...]
    candidates: tuple[Candidate, ...]


def choose_columns(
    table: Table,
    candidates: Sequence[int],
    numerals: Numerals,
    fitting: Fitting,
    answers: Mapping[str, Any],
) -> Roles:
    """Give every column of numbers a meaning and a unit.

    Raises
    ------
    BadInput
        If there is no column of numbers, or an answer names a column or unit that is none.
    """
    told = told_columns(table, answers)
    at = pointed(table, answers)
    candidates = sorted({*candidates, *told, *(() if at is None else (at,))})
    figures = {index: figures_of(table.cells(index), numerals) for index in candidates}
    if not any(held.count for held in figures.values()):
        raise refuse(
            table.first_line + 1,
            table.time_at + table.time_columns + 1,
            "no numbers",
            "no column beside the time holds numbers in most rows",
            "Check the delimiter and the decimal sign.",
        )
    columns, choices = [], []
    for index in candidates:
        unit = str(told.get(index, {}).get("unit") or table.units[index] or "")
        column, made = _first_guess(index, table.names[index], unit, figures[index].middle)
        if index in told:
            column = with_choice(_by_unit(column, told[index]), told[index])
            made = [] if "meaning" in told[index] else made
        columns.append(_with_unit_column(table, column))
        choices += made
    columns = _against_barometer(columns, figures, told)
    columns, more, source = settle(table, columns, figures, told, at)
    choices += more
    open_source = any(key == "head_column" and ask for key, _, _, _, ask in more)
    final = []
    for column in columns:
        if column.meaning is Meaning.IGNORED:
            final.append(replace(column, unit=""))
            continue
        column = _from_unit_line(table, column, source)
        fixed, asked = _unit(column, figures[column.index].middle, table)
        final.append(fixed)
        if open_source and column.index == source:
            continue  # asked when the column is known
        if any(key == f"column {column.index + 1}" and ask for key, _, _, _, ask in more):
            asked = [(*one[:3], _any_unit(one), one[4]) for one in asked]
        choices += asked
        choices += _scale(fixed, told)
    if not any(
        ask and key in ("head_column", f"column {source + 1}") for key, _, _, _, ask in more
    ):
        choices += _heights(final, fitting)
    for column in final:
        what = f"{column.meaning} in {column.unit}" if column.unit else str(column.meaning)
        if column.index == source and open_source:
            what = "not known yet"
        others = tuple(meaning for meaning in Meaning if meaning is not column.meaning)
        why = f"column {column.label}"
        if not figures[column.index].count:
            why += ", which holds not one number in the rows looked at"
        choices.append((f"column {column.index + 1}", what, why, others, False))
    used = tuple(column for column in final if column.meaning is not Meaning.IGNORED)
    return Roles(used, tuple(choices), candidates_of(columns, figures, source))


def _any_unit(asked: Choice) -> tuple[str, ...]:
    """Return the units of a column that may yet be a length or a pressure, each once."""
    every = dict.fromkeys((*asked[3], *LENGTH_M, *PRESSURE_PA))
    return tuple(unit for unit in every if unit != asked[1])


def _with_unit_column(table: Table, column: Column) -> Column:
    """Give a column without a unit the one that stands beside each of its readings."""
    if column.unit or column.index + 1 not in table.shape.values:
        return column
    beside = {cell for cell in table.cells(column.index + 1) if cell}
    unit = unit_exact(next(iter(beside))) if len(beside) == 1 else None
    return _in_unit(column, unit) if unit else column


def _against_barometer(
    columns: list[Column], figures: Mapping[int, Figures], told: Mapping[int, Mapping[str, Any]]
) -> list[Column]:
    """Take a pressure that is little more than the barometer beside it as not vented."""
    baro = next((c for c in columns if c.meaning is Meaning.BAROMETER), None)
    if baro is None:
        return columns

    def size(column: Column, other: Column) -> float:
        both = column.unit in PRESSURE_PA and other.unit in PRESSURE_PA
        return figures[column.index].middle * (PRESSURE_PA[column.unit] if both else 1.0)

    out = []
    for column in columns:
        said = "meaning" in told.get(column.index, {})
        if column.meaning is Meaning.PRESSURE and not said:
            air = size(baro, column)
            if air > 0.0 and 0.9 <= size(column, baro) / air <= 2.0:
                column = replace(column, meaning=Meaning.ABSOLUTE)
        out.append(column)
    return out


def _from_unit_line(table: Table, column: Column, source: int) -> Column:
    """Give a column without a unit the one of the header's unit line, where that can be meant."""
    if column.unit or not table.unit_lines or column.index in table.two_units:
        return column
    named = [unit for words, unit in table.unit_lines if words and meaning_of(words)]
    for words, unit in table.unit_lines:
        if words and meaning_of(words) is column.meaning:
            return _in_unit(column, unit)
    plain = {unit for words, unit in table.unit_lines if not (words and meaning_of(words))}
    if column.index == source and not named and len(plain) == 1:
        return _in_unit(column, next(iter(plain)))
    return column


def _in_unit(column: Column, unit: str) -> Column:
    if column.meaning in (Meaning.PRESSURE, Meaning.ABSOLUTE, Meaning.BAROMETER):
        unit = WATER_COLUMN.get(unit, unit)
    return replace(column, unit=unit) if unit in units_for(column.meaning) else column


def _scale(column: Column, told: Mapping[int, Mapping[str, Any]]) -> list[Choice]:
    """Ask zero and span of raw figures: without them they are no metres."""
    said = told.get(column.index, {})
    if column.unit != SCALED or ("zero" in said and "per_unit" in said):
        return []
    key = f"scale of column {column.index + 1}"
    if said.get("unit") != SCALED:
        return []  # the unit itself is the question
    why = "raw figures need the head at raw 0 (zero) and the metres of one raw unit (per_unit)"
    return [(key, "not known", why, ("zero and per_unit in metres",), True)]


def _by_unit(column: Column, choice: Mapping[str, Any]) -> Column:
    """Give a column without a meaning the one its told unit speaks for."""
    if column.meaning is Meaning.IGNORED and meaning_of(column.name) is None:
        unit = choice.get("unit")
        if unit in LENGTH_M or unit == SCALED:
            return replace(column, meaning=Meaning.HEAD)
        if unit in PRESSURE_PA:
            return replace(column, meaning=Meaning.PRESSURE)
    return column


def _first_guess(index: int, name: str, unit: str, middle: float) -> tuple[Column, list[Choice]]:
    meaning = meaning_of(name)
    key = f"column {index + 1}"
    made: list[Choice] = []
    if meaning is None and unit:
        fits = dict.fromkeys((*TEMPERATURE_C, "V", "mV"), Meaning.IGNORED)
        meaning = fits.get(unit, Meaning.HEAD if unit in LENGTH_M else None)
        meaning = Meaning.PRESSURE if meaning is None and unit in PRESSURE_PA else meaning
    if meaning in (Meaning.HEAD, Meaning.LEVEL) and unit in PRESSURE_PA:
        why = f"{name} is in {unit}, which is a pressure"
        made.append((key, Meaning.PRESSURE, why, (Meaning.ABSOLUTE,), False))
        meaning = Meaning.PRESSURE
    if meaning in (Meaning.PRESSURE, Meaning.ABSOLUTE, Meaning.BAROMETER):
        unit = WATER_COLUMN.get(unit, unit)
    if meaning is Meaning.PRESSURE and middle * PRESSURE_PA.get(unit, np.nan) >= AIR_PA:
        why = f"{middle:g} {unit} is the weight of the air: the sensor is not vented"
        made.append((key, Meaning.ABSOLUTE, why, (Meaning.PRESSURE,), False))
        meaning = Meaning.ABSOLUTE
    metres = middle * LENGTH_M.get(unit, 0.0)
    if meaning is Meaning.HEAD and (metres < LOWEST_USUAL_M or metres > LARGEST_HEAD_M):
        why = f"{middle:g} {unit} cannot be a head: it must count from a datum"
        made.append((key, Meaning.LEVEL, why, (Meaning.HEAD,), False))
        meaning = Meaning.LEVEL
    return Column(index, name, meaning or Meaning.IGNORED, unit), made


def _unit(column: Column, middle: float, table: Table) -> tuple[Column, list[Choice]]:
    """Return the column with a unit it may have; ask when the file does not say."""
    allowed = units_for(column.meaning)
    two = column.index in table.two_units and column.unit == ""
    if column.unit in allowed:
        return column, []
    if column.meaning is Meaning.AIR and not column.unit:
        return replace(column, unit="degC"), []
    size = abs(middle)
    if column.unit in RAW_UNITS and SCALED in allowed:
        guess = SCALED
    elif allowed[0] in PRESSURE_PA:
        guess = "kPa" if size < 200.0 else "hPa" if size < 2000.0 else "Pa"
    elif column.meaning is Meaning.AIR:
        guess = "degC"
    else:
        guess = "m" if size < 10.0 else "cm" if size < 30.0 else "mm"
    if two:
        why = f"the rows of names disagree on the unit; readings are about {middle:g}"
    elif column.unit in RAW_UNITS:
        why = f"the file says {column.unit}, which needs a zero and a span, or another unit"
    elif column.unit:
        why = f"the file says {column.unit}, which is no unit of {column.meaning}"
    elif table.unit_lines:
        units = ", ".join(unit for _, unit in table.unit_lines)
        why = f"the header says {units}, not of which column; readings are about {middle:g}"
    else:
        why = f"the file does not say; readings are about {middle:g}"
    others = tuple(unit for unit in allowed if unit != guess)
    asked = (f"unit of column {column.index + 1}", guess, why, others, True)
    return replace(column, unit=guess), [asked]


def _heights(columns: Sequence[Column], fitting: Fitting) -> list[Choice]:
    asked: list[Choice] = []
    meanings = {column.meaning for column in columns}
    needs = (
        (Meaning.LEVEL, "datum_above_crest_m", fitting.datum_above_crest_m, "the datum's zero"),
        (Meaning.DISTANCE, "bracket_above_crest_m", fitting.bracket_above_crest_m, "the sensor"),
        *((m, "sensor_above_crest_m", fitting.sensor_above_crest_m, "the sensor") for m in _HUNG),
    )
    for meaning, key, value, what in needs:
        if meaning in meanings and value is None:
            why = f"the height of {what} over the crest turns it into a head"
            if meaning in _HUNG:
                why += "; minus when it hangs below the crest, 0 when level with it"
            asked.append((key, "not known", why, ("metres",), True))
    if Meaning.DISTANCE in meanings and Meaning.AIR not in meanings:
        why = "no air temperature in the file: the distance is taken as the sensor gave it"
        asked.append(("air temperature", "not used", why, (), False))
    return asked
