"""What was understood of a logger file, each choice with its reason and its alternatives.

A choice with `ask` is a question: the rows are shown by the suggestion, but may not be imported
before a person has answered. Answers are a mapping that can be kept as JSON for the same logger
next time (`choices`):

delimiter, decimal ("point"/"comma"), thousands ("none"/"comma"/"point"/"space"), date_order,
time_zone ("standard"/"utc"/"daylight"/"daylight changes"/"+HH:MM"), missing (list of texts,
read with a decimal point),
columns ({"2": {"meaning", "unit", "zero", "per_unit"}}, columns counted from 1),
sensor_above_crest_m, datum_above_crest_m, bracket_above_crest_m, assumed_air_c,
accept_dates (true), restart_at (list of ISO times), head_column and time_column (counted from 1),
afternoon_mark (what stands by the clock after noon).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.errors import BadInput
from app.services.loggers.reader.cells.dates import IN_STAMPS, date_order, time_zone
from app.services.loggers.reader.cells.numbers import (
    MISSING_TEXTS,
    SURE_MARKERS,
    Numerals,
    looks_numeric,
)
from app.services.loggers.reader.cells.numerals import numerals_of
from app.services.loggers.reader.cells.text import Encoded
from app.services.loggers.reader.columns import HEAD_SOURCES, Column, Fitting
from app.services.loggers.reader.guesses import Guess
from app.services.loggers.reader.roles import choose_columns
from app.services.loggers.reader.sources import Candidate
from app.services.loggers.reader.table import Table


@dataclass(frozen=True, kw_only=True)
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
    candidates: tuple[Candidate, ...] = ()

    @property
    def source(self) -> int:
        """The column the head is taken from, counted from 0."""
        return next(c.index for m in HEAD_SOURCES for c in self.columns if c.meaning is m)

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
    _times_asked(table, guesses)
    numerals = numerals_of(table, candidates, answers, guesses)
    order = date_order(table, answers, guesses)
    zone = time_zone(table, answers, guesses)
    fitting = _fitting(answers)
    chosen = choose_columns(table, candidates, numerals, fitting, answers)
    for key, what, why, others, ask in chosen.choices:
        guesses.append(Guess(key, what, why, others, ask))
    return Layout(
        encoding=encoding,
        table=table,
        numerals=numerals,
        order=order,
        zone=zone,
        columns=chosen.columns,
        fitting=fitting,
        guesses=tuple(guesses),
        candidates=chosen.candidates,
    )


def with_markers(layout: Layout, markers: Sequence[float]) -> Layout:
    """Return a layout that also takes these numbers as missing, as found in later rows."""
    if not markers:
        return layout
    known = tuple(sorted({*layout.numerals.markers, *markers}))
    shown = ", ".join(f"{m:g}" for m in known if m not in SURE_MARKERS)
    why = "far from every other reading in the column"
    guess = Guess("missing", shown, why, ("keep them as readings",))
    guesses = tuple(guess if one.key == "missing" else one for one in layout.guesses)
    return replace(layout, numerals=replace(layout.numerals, markers=known), guesses=guesses)


def _times_asked(table: Table, guesses: list[Guess]) -> None:
    """Ask which of several times is meant, and which mark is the afternoon, where that is open."""
    marks = table.marks
    if table.time_rivals and not table.time_told:
        why = "more than one column holds a time, and they do not agree"
        others = tuple(f"column {table.label(other)}" for other in table.time_rivals)
        chosen = f"column {table.label(table.time_at)}"
        guesses.append(Guess("time_column", chosen, why, others, ask=True))
    if marks.afternoon:
        late = next((mark for mark, after in marks.afternoon if after), "none of them")
        rest = tuple(mark for mark, after in marks.afternoon if not after)
        guesses.append(Guess("afternoon_mark", late, marks.why, rest, ask=not marks.sure))


def _mostly(cells: list[str], test: Any) -> bool:
    return bool(cells) and sum(bool(test(cell)) for cell in cells) * 2 > len(cells)


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
                key, value, f"must be from {low:g} to {high:g}", "Enter a number in that range."
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
                "name": column.name,
            }
            for column in layout.columns
        },
        "assumed_air_c": layout.fitting.assumed_air_c,
    }
    usual = Numerals(layout.numerals.decimal, layout.numerals.thousands)
    if layout.numerals != usual:
        texts = sorted(layout.numerals.texts - MISSING_TEXTS)
        made["missing"] = [*texts, *(f"{marker:.15g}" for marker in layout.numerals.markers)]
    if layout.table.time_told:
        made["time_column"] = layout.table.time_at + 1
    if layout.table.marks.told:
        made["afternoon_mark"] = layout.table.marks.told
    if layout.order_matters:
        made["date_order"] = layout.order
    if layout.zone != IN_STAMPS:
        made["time_zone"] = layout.zone
    for key in ("datum_above_crest_m", "bracket_above_crest_m", "sensor_above_crest_m"):
        value = getattr(layout.fitting, key)
        if value is not None:
            made[key] = value
    return made
