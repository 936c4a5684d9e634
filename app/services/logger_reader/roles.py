"""Which column of a logger file means what, from names, units and the size of the readings.

Public: Roles, choose_columns(table, candidates, numerals, fitting, answers) -> Roles
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.units import LENGTH_M, PRESSURE_PA
from app.services.logger_reader.columns import (
    HEAD_SOURCES,
    SCALED,
    Column,
    Fitting,
    Meaning,
    meaning_of,
    units_for,
    with_choice,
)
from app.services.logger_reader.numbers import Numerals, read_numbers
from app.services.logger_reader.table import Table
from app.services.logger_reader.text import refuse

Choice = tuple[str, str, str, tuple[str, ...], bool]

_WATER_COLUMN = {"m": "mH2O", "cm": "cmH2O", "mm": "mmH2O", "ft": "ftH2O", "in": "inH2O"}
_AIR_PRESSURE_PA = (60_000.0, 112_000.0)  # sea level to 4 km, with weather; plus a metre of water
_HUNG = (Meaning.PRESSURE, Meaning.ABSOLUTE)  # sensors that measure the water above themselves
_LARGEST_HEAD_M = 6.0  # common practice: no small flume runs deeper, a larger reading is no head


@dataclass(frozen=True)
class Roles:
    """The columns that are read, and the choices made: key, chosen, why, alternatives, ask."""

    columns: tuple[Column, ...]
    choices: tuple[Choice, ...]


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
    told = _told(table, answers)
    candidates = sorted({*candidates, *told})
    if not candidates:
        raise refuse(
            table.first_line + 1,
            table.time_at + table.time_columns + 1,
            "no numbers",
            "no column beside the time holds numbers in most rows",
            "Check the delimiter and the decimal sign.",
        )
    middles = {index: _middle(table.cells(index), numerals) for index in candidates}
    columns, choices = [], []
    for index in candidates:
        name = table.names[index] if index < len(table.names) else ""
        unit = table.units[index] if index < len(table.units) else None
        said = told.get(index, {})
        if said.get("unit") in LENGTH_M or said.get("unit") in PRESSURE_PA:
            unit = str(said["unit"])  # the size of the readings means something in this unit
        column, made = _first_guess(index, name, unit, middles[index])
        if index in told:
            column = with_choice(_by_unit(column, said), said)
            made = [] if "meaning" in said else made
        columns.append(column)
        choices += made
    columns, more = _settle(columns, told)
    choices += more
    final = []
    for column in columns:
        if column.meaning is Meaning.IGNORED:
            final.append(replace(column, unit=""))
            continue
        fixed, asked = _unit(column, middles[column.index])
        final.append(fixed)
        choices += asked
    choices += _heights(final, fitting)
    for column in final:
        what = f"{column.meaning} in {column.unit}" if column.unit else str(column.meaning)
        others = tuple(meaning for meaning in Meaning if meaning is not column.meaning)
        why = f"column {column.label}"
        choices.append((f"column {column.index + 1}", what, why, others, False))
    used = tuple(column for column in final if column.meaning is not Meaning.IGNORED)
    return Roles(used, tuple(choices))


def _by_unit(column: Column, choice: Mapping[str, Any]) -> Column:
    """Give a column without a meaning the one its told unit speaks for."""
    if column.meaning is Meaning.IGNORED and meaning_of(column.name) is None:
        unit = choice.get("unit")
        if unit in LENGTH_M or unit == SCALED:
            return replace(column, meaning=Meaning.HEAD)
        if unit in PRESSURE_PA:
            return replace(column, meaning=Meaning.PRESSURE)
    return column


def _told(table: Table, answers: Mapping[str, Any]) -> dict[int, Mapping[str, Any]]:
    given = answers.get("columns") or {}
    if not isinstance(given, Mapping):
        raise BadInput("row 1, column 1", given, "columns is a mapping", 'Such as {"2": {...}}.')
    told = {}
    timed = range(table.time_at, table.time_at + table.time_columns)
    for key, choice in given.items():
        text = str(key)
        index = int(text) - 1 if text.isascii() and text.isdigit() and len(text) < 5 else -1
        if not 0 <= index < table.fields or index in timed or not isinstance(choice, Mapping):
            raise BadInput(
                f"row {table.first_line + 1}, column {text}",
                choice,
                f"the file has {table.fields} columns, the time apart",
                "Say the columns again for this file.",
            )
        told[index] = choice
    return told


def _middle(cells: Sequence[str], numerals: Numerals) -> float:
    values, _ = read_numbers(cells, numerals)
    values = values[np.isfinite(values)]
    return float(np.median(values)) if values.size else float("nan")


def _first_guess(
    index: int, name: str, unit: str | None, middle: float
) -> tuple[Column, list[Choice]]:
    meaning = meaning_of(name)
    key = f"column {index + 1}"
    made: list[Choice] = []
    if meaning is None and unit is not None:
        fits = {"degC": Meaning.IGNORED, "V": Meaning.IGNORED, "mV": Meaning.IGNORED}
        meaning = fits.get(unit, Meaning.HEAD if unit in LENGTH_M else None)
        meaning = Meaning.PRESSURE if meaning is None and unit in PRESSURE_PA else meaning
    if meaning in (Meaning.HEAD, Meaning.LEVEL) and unit in PRESSURE_PA:
        why = f"{name} is in {unit}, which is a pressure"
        made.append((key, Meaning.PRESSURE, why, (Meaning.ABSOLUTE,), False))
        meaning = Meaning.PRESSURE
    if meaning is Meaning.PRESSURE:
        unit = _WATER_COLUMN.get(unit or "", unit)
        low, high = _AIR_PRESSURE_PA
        if low <= middle * PRESSURE_PA.get(unit or "", np.nan) <= high + 10_000.0:
            why = f"{middle:g} {unit} is the weight of the air: the sensor is not vented"
            made.append((key, Meaning.ABSOLUTE, why, (Meaning.PRESSURE,), False))
            meaning = Meaning.ABSOLUTE
    if meaning is Meaning.HEAD and abs(middle) * LENGTH_M.get(unit or "", 0.0) > _LARGEST_HEAD_M:
        why = f"{middle:g} {unit} cannot be a head: it must count from a datum"
        made.append((key, Meaning.LEVEL, why, (Meaning.HEAD,), False))
        meaning = Meaning.LEVEL
    return Column(index, name, meaning or Meaning.IGNORED, unit or ""), made


def _settle(columns: list[Column], told: Mapping[int, object]) -> tuple[list[Column], list[Choice]]:
    """Keep one column a meaning and one source of head; ask where two could be it."""
    choices: list[Choice] = []
    sources = [column for column in columns if column.meaning in HEAD_SOURCES]
    if not sources:
        free = [c for c in columns if c.index not in told and not meaning_of(c.name)]
        if not free:
            raise refuse(
                1,
                columns[0].index + 1,
                ", ".join(column.name or str(column.index + 1) for column in columns),
                "no column gives a head",
                "Say which column is the head, level, pressure or distance.",
            )
        sources = [replace(free[0], meaning=Meaning.HEAD)]
        columns = [sources[0] if c.index == free[0].index else c for c in columns]
        if len(free) > 1 or free[0].name:
            others = tuple(f"column {column.label}" for column in free[1:])
            why = "no column says what it is; the first is taken"
            choices.append(("columns", f"column {sources[0].label} is the head", why, others, True))
    # a person's word first, then the surest source
    best = min(sources, key=lambda c: (c.index not in told, HEAD_SOURCES.index(c.meaning), c.index))
    same = [c for c in sources if c.meaning is best.meaning and c.index != best.index]
    if same and best.index not in told:
        others = tuple(f"column {column.label}" for column in same)
        why = "more than one column could be it"
        choices.append(("columns", f"column {best.label} is the head", why, others, True))
    kept: dict[Meaning, int] = {best.meaning: best.index}
    settled = []
    for column in columns:
        if column.meaning in HEAD_SOURCES and column.index != best.index:
            column = replace(column, meaning=Meaning.IGNORED)
        elif column.meaning is not Meaning.IGNORED:
            first = kept.setdefault(column.meaning, column.index)
            if first != column.index:
                column = replace(column, meaning=Meaning.IGNORED)
        settled.append(column)
    if best.meaning is Meaning.ABSOLUTE and Meaning.BAROMETER not in kept:
        why = "an absolute pressure needs the barometer of the same time"
        what = "no column is the barometer"
        choices.append(
            ("columns", what, why, ("say the sensor is vented", "add a barometer"), True)
        )
    return settled, choices


def _unit(column: Column, middle: float) -> tuple[Column, list[Choice]]:
    """Return the column with a unit it may have; ask when the file does not say."""
    allowed = units_for(column.meaning)
    if column.unit in allowed:
        return column, []
    if column.meaning is Meaning.AIR:
        return replace(column, unit="degC"), []
    size = abs(middle)
    if allowed[0] in PRESSURE_PA:
        guess = "kPa" if size < 200.0 else "hPa" if size < 2000.0 else "Pa"
    else:
        guess = "m" if size < 10.0 else "cm" if size < 30.0 else "mm"
    if column.unit:
        why = f"the file says {column.unit}, which needs a zero and a span, or another unit"
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
