"""What was understood of a logger file, each choice with its reason and its alternatives.

A choice with `ask` is a question: the rows are shown by the suggestion, but may not be imported
before a person has answered. Answers are a mapping that can be kept as JSON for the same logger
next time (`choices`):

delimiter, decimal ("point"/"comma"), thousands ("none"/"comma"/"point"/"space"), date_order,
time_zone ("standard"/"utc"/"daylight"/"daylight changes"/"+HH:MM"), missing (list of texts,
read with a decimal point),
columns ({"2": {"meaning", "unit", "zero", "per_unit"}}, columns counted from 1),
sensor_above_crest_m, datum_above_crest_m, bracket_above_crest_m, assumed_air_c,
accept_dates (true), restart_at (list of ISO times).

Public: Layout, lay_out(table, encoding, answers) -> Layout, choices(layout) -> answers
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from app.errors import BadInput
from app.services.logger_reader.columns import Column, Fitting
from app.services.logger_reader.dates import IN_STAMPS, date_order, time_zone
from app.services.logger_reader.guesses import Guess, choice
from app.services.logger_reader.numbers import (
    LIKELY_MARKERS,
    MISSING_TEXTS,
    SURE_MARKERS,
    Notation,
    Numerals,
    decide_numerals,
    looks_numeric,
    read_numbers,
)
from app.services.logger_reader.roles import choose_columns
from app.services.logger_reader.table import Table
from app.services.logger_reader.text import Encoded


@dataclass(frozen=True)
class Layout:
    """How a file is read."""

    encoding: Encoded
    table: Table
    numerals: Numerals
    order: str
    zone: str
    columns: tuple[Column, ...]
    fitting: Fitting
    guesses: tuple[Guess, ...]

    @property
    def order_matters(self) -> bool:
        """Whether day, month and year stand in an order that had to be decided."""
        return any(g.key == "date_order" and g.chosen == self.order for g in self.guesses)

    @property
    def questions(self) -> tuple[Guess, ...]:
        """The choices a person has to make."""
        return tuple(guess for guess in self.guesses if guess.ask)


def lay_out(table: Table, encoding: Encoded, answers: Mapping[str, Any]) -> Layout:
    """Decide how a file is read, from the sample and from the answers.

    Raises
    ------
    BadInput
        If an answer is not one of the choices, or no column can be a reading.
    """
    guesses = [
        Guess("encoding", encoding.words, encoding.why),
        Guess(
            "delimiter",
            table.delimiter,
            f"{table.fields} columns in nearly every row",
            tuple(name for name in table.rivals if name != table.delimiter),
        ),
    ]
    columns = range(table.fields)
    timed = range(table.time_at, table.time_at + table.time_columns)
    candidates = [
        index
        for index in columns
        if index not in timed
        and _mostly(table.cells(index), lambda c: looks_numeric(c) or c.lower() in MISSING_TEXTS)
    ]
    numerals = _numerals(table, candidates, answers, guesses)
    order = date_order(table, answers, guesses)
    zone = time_zone(table, answers, guesses)
    fitting = _fitting(answers)
    chosen = choose_columns(table, candidates, numerals, fitting, answers)
    for key, what, why, others, ask in chosen.choices:
        guesses.append(Guess(key, what, why, others, ask))
    return Layout(encoding, table, numerals, order, zone, chosen.columns, fitting, tuple(guesses))


def _mostly(cells: list[str], test: Any) -> bool:
    return bool(cells) and sum(bool(test(cell)) for cell in cells) * 2 > len(cells)


def _numerals(
    table: Table, candidates: list[int], answers: Mapping[str, Any], guesses: list[Guess]
) -> Numerals:
    cells = [cell for index in candidates for cell in table.cells(index)]
    found = decide_numerals(cells, DELIMITER_SIGN.get(table.delimiter, ""))
    decimal = choice(answers, "decimal", ("point", "comma"))
    thousands = choice(answers, "thousands", ("none", "comma", "point", "space"))
    if decimal is not None:
        left = found.thousands if decimal == found.decimal else "none"
        if thousands is None and decimal == "point" and found.decimal == "comma":
            left = "comma" if found.open_choice else "none"
        found = Notation(decimal, left, "as answered")
    if thousands is not None:
        found = Notation(found.decimal, thousands, "as answered")
    if found.thousands == found.decimal:
        raise BadInput(
            "row 1, column 1",
            found.decimal,
            "one sign cannot part thousands and decimals",
            "Choose another thousands sign, or none.",
        )
    other = "comma" if found.decimal == "point" else "point"
    guesses.append(Guess("decimal", found.decimal, found.why, (other,), ask=found.open_choice))
    if found.thousands != "none":
        guesses.append(Guess("thousands", found.thousands, found.why, ("none",)))
    texts, markers, why = set(MISSING_TEXTS), list(SURE_MARKERS), "texts and numbers loggers use"
    given = answers.get("missing")
    base = Numerals(found.decimal, found.thousands, frozenset(texts), tuple(markers))
    if given is not None:
        if not isinstance(given, list) or not all(isinstance(item, str) for item in given):
            raise BadInput(
                "row 1, column 1", given, "missing is a list of texts", 'Such as ["-1"].'
            )
        markers, why = [], "as answered"
        for item in given:
            value, bad = read_numbers([item], Numerals(markers=()))
            if bad[0] or np.isnan(value[0]):
                texts.add(item.strip().lower())
            else:
                markers.append(float(value[0]))
    else:
        extra = _likely_markers(table, candidates, base)
        markers += extra
        if extra:
            why = "far from every other reading in the column"
    seen = [f"{marker:g}" for marker in markers if marker not in SURE_MARKERS or given is not None]
    guesses.append(
        Guess("missing", ", ".join(seen) or "the usual marks", why, ("keep them as readings",))
    )
    return Numerals(found.decimal, found.thousands, frozenset(texts), tuple(markers))


DELIMITER_SIGN = {"comma": ","}


def _likely_markers(table: Table, candidates: list[int], numerals: Numerals) -> list[float]:
    """Return the usual marker numbers that stand far from the other readings of their column."""
    found: set[float] = set()
    for index in candidates:
        values, _ = read_numbers(table.cells(index), numerals)
        values = values[np.isfinite(values)]
        rest = values[~np.isin(values, LIKELY_MARKERS)]
        if rest.size == 0:
            continue
        reach = 3.0 * float(np.max(np.abs(rest))) + 1.0
        for marker in LIKELY_MARKERS:
            below = marker < 0.0 and float(rest.min()) >= -1.0
            if np.any(values == marker) and (abs(marker) > reach or below):
                found.add(marker)
    return sorted(found)


def _fitting(answers: Mapping[str, Any]) -> Fitting:
    given: dict[str, float] = {}
    for key, low, high in (
        ("sensor_above_crest_m", -20.0, 20.0),
        ("datum_above_crest_m", -10_000.0, 10_000.0),
        ("bracket_above_crest_m", 0.0, 50.0),
        ("assumed_air_c", -60.0, 70.0),
    ):
        value = answers.get(key)
        if value is None:
            continue
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not low <= value <= high
        ):
            raise BadInput(
                "row 1, column 1", value, f"{key} is from {low:g} to {high:g}", "Enter a number."
            )
        given[key] = float(value)
    return Fitting(**given)


def choices(layout: Layout) -> dict[str, Any]:
    """Return every choice made, as an answer for the next file of the same logger."""
    made: dict[str, Any] = {
        "delimiter": layout.table.delimiter,
        "decimal": layout.numerals.decimal,
        "thousands": layout.numerals.thousands,
        "columns": {
            str(column.index + 1): {
                "meaning": str(column.meaning),
                "unit": column.unit,
                "zero": column.zero,
                "per_unit": column.per_unit,
            }
            for column in layout.columns
        },
        "assumed_air_c": layout.fitting.assumed_air_c,
    }
    usual = Numerals(layout.numerals.decimal, layout.numerals.thousands)
    if layout.numerals != usual:
        texts = sorted(layout.numerals.texts - MISSING_TEXTS)
        made["missing"] = [*texts, *(f"{marker:.15g}" for marker in layout.numerals.markers)]
    if layout.order_matters:
        made["date_order"] = layout.order
    if layout.zone != IN_STAMPS:
        made["time_zone"] = layout.zone
    for key in ("datum_above_crest_m", "bracket_above_crest_m", "sensor_above_crest_m"):
        value = getattr(layout.fitting, key)
        if value is not None:
            made[key] = value
    return made
