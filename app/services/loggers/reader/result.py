"""What is handed back of a logger file, and the plain sentence about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats, Ints
from app.services.loggers.reader.cells.dates import (
    DAYLIGHT,
    DAYLIGHT_CHANGES,
    IN_STAMPS,
    STANDARD,
    UTC,
)
from app.services.loggers.reader.cells.stamps import Form
from app.services.loggers.reader.guesses import Guess
from app.services.loggers.reader.layout import Layout, choices
from app.services.loggers.reader.left_out import Problem
from app.services.loggers.reader.rows import Ends, Shown
from app.services.loggers.reader.sources import Candidate

COLUMN_KEYS = ("head_column", "columns")  # the questions which column is the head


@dataclass(frozen=True)
class PreviewRow:
    """One row as it stands in the file and as it was understood.

    `figure` is the reading as it stands in the column the head is taken from, None where missing.
    """

    row: int
    text: str
    site_time: str
    head_m: float | None
    figure: float | None = None

    @property
    def no_head(self) -> str:
        """Why there is no head: the reading is missing, or a question about it is open."""
        return "missing" if self.figure is None else f"{self.figure:g} read, head not known yet"


@dataclass(frozen=True, kw_only=True)
class LoggerFile:
    """What a logger file holds. Arrays are sorted by time, one reading a time, shape (n,)."""

    layout: Layout
    sentence: str
    guesses: tuple[Guess, ...]
    problems: tuple[Problem, ...]
    problem_count: int
    row: Ints
    t_s: Ints
    head_m: Floats
    tailwater_m: Floats | None
    first: tuple[PreviewRow, ...]
    last: tuple[PreviewRow, ...]
    step_s: int | None
    gaps: tuple[tuple[int, int], ...]
    duplicates: int
    conflicts: int
    out_of_order: int
    missing: int
    footer: tuple[str, ...]

    @property
    def questions(self) -> tuple[Guess, ...]:
        """The guesses a person has to confirm before anything is stored."""
        return tuple(guess for guess in self.guesses if guess.ask)

    @property
    def choices(self) -> dict[str, Any]:
        """Every choice, to be given as `answers` for the next file of this logger."""
        return choices(self.layout)

    @property
    def serial(self) -> str | None:
        """The serial number the header names, if any."""
        return self.layout.table.serial

    @property
    def candidates(self) -> tuple[Candidate, ...]:
        """The columns that could be the head, while that is a question."""
        keys = {guess.key for guess in self.questions}
        if keys & {*COLUMN_KEYS}:
            return self.layout.candidates
        return tuple(one for one in self.layout.candidates if f"column {one.column}" in keys)

    def ready(self) -> "LoggerFile":
        """Return the file itself, or refuse while a question is open.

        Raises
        ------
        BadInput
            Naming row, column, the question, why it cannot be guessed and what to answer.
        """
        for guess in self.questions:
            number = "".join(sign for sign in guess.key if sign.isdigit())
            column = number or str(self.layout.table.time_at + 1)
            others = ", ".join((guess.chosen, *guess.alternatives))
            shown = [one.words for one in self.candidates if guess.key in COLUMN_KEYS]
            raise BadInput(
                f"row {self.layout.table.first_line + 1}, column {column}",
                guess.chosen,
                "; ".join((f"{guess.key} is not certain: {guess.why}", *shown)),
                f"Say which: {others}.",
            )
        return self


def preview(
    ends: Ends, row: Ints, t: Ints, head_m: Floats, site_offset_min: int
) -> tuple[tuple[PreviewRow, ...], tuple[PreviewRow, ...]]:
    """Return the first and last rows as understood; some of the first hold a reading."""

    def shown(raw: Sequence[Shown]) -> tuple[PreviewRow, ...]:
        out = []
        for one in raw:
            i = int(np.searchsorted(row, one.row))
            moment = np.datetime64(int(t[i]) + site_offset_min * 60, "s")
            head = None if np.isnan(head_m[i]) else float(head_m[i])
            figure = None if np.isnan(one.figure) else one.figure
            when = str(moment).replace("T", " ")
            out.append(PreviewRow(one.row, one.text[:200], when, head, figure))
        return tuple(out)

    first = list(ends.first)
    if all(np.isnan(one.figure) for one in first):
        first += ends.told  # rows without a reading alone show nothing
    return shown(first), shown(list(ends.last))


def _every(step_s: int | None) -> str:
    if not step_s:
        return "at changing intervals"
    for size, word in ((86_400, "day"), (3_600, "h"), (60, "min")):
        if step_s % size == 0:
            return f"every {step_s // size} {word}"
    return f"every {step_s} s"


def _count(number: int, one: str, many: str = "") -> list[str]:
    return [f"{number:,} {one if number == 1 else many or one + 's'}"] if number else []


def sentence(facts: LoggerFile, ends: Ends, resets: int, conflicts: int) -> str:
    """Return what was understood, as one plain sentence."""
    layout = facts.layout
    source = next(c for c in layout.columns if c.index == layout.source)
    what = f"{source.meaning} in {source.unit}" if source.unit else str(source.meaning)
    keys = {guess.key for guess in facts.questions}
    if "head_column" in keys:
        what = "which column is the head is not known yet"
    elif f"column {source.index + 1}" in keys:
        what = f"what column {source.index + 1} measures is not known yet"
    zone = {
        STANDARD: "standard time",
        UTC: "UTC",
        DAYLIGHT: "daylight time",
        DAYLIGHT_CHANGES: "daylight time with its changes",
        IN_STAMPS: "offset in the stamps",
    }.get(layout.zone, f"UTC{layout.zone}")
    if layout.table.form is not Form.CALENDAR:
        zone += f", time as {layout.table.form}"
    others = facts.problem_count - resets - conflicts
    parts = [
        *_count(facts.t_s.size, "row"),
        _every(facts.step_s),
        zone,
        what,
        *_count(len(facts.gaps), "gap"),
        *_count(facts.duplicates, "duplicate"),
        *_count(conflicts, "time with two readings", "times with two readings"),
        *_count(facts.out_of_order, "row out of order", "rows out of order"),
        *_count(facts.missing, "reading missing", "readings missing"),
        *_count(resets, "clock reset"),
        *_count(others, "problem"),
    ]
    if ends.cut_off:
        parts.append("last row cut off")
    return ", ".join(parts)
