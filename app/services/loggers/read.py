"""Logger files: bytes in, understood readings out. Nothing here knows a database or a clock.

One call reads a file, says in a plain sentence what it understood, gives every guess with its
reason and alternatives, shows the first and last rows, names every problem by row and column,
and returns time (epoch s, UTC), head over the crest (m) and the file's row numbers as arrays.
Questions that only a person can answer stay open: `LoggerFile.ready()` refuses until they are
answered through `answers` (see `logger_reader.layout` for its keys; `LoggerFile.choices` is what to
remember for the same logger). Text is read in blocks, so memory grows by the arrays only.

Public functions
----------------
read_logger_file(source, *, utc_offset_min, answers=None, progress=None) -> LoggerFile
LoggerFile.ready() -> LoggerFile (raises BadInput while a question is open)
"""

import io
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.series.stretches import DEFAULT_GAP_S, STRETCHED, usual_step_s
from app.language.progress import Progress
from app.services.loggers.reader.cells.clock import (
    clock_changes,
    find_resets,
    restarts,
    to_utc,
    twelve_hours,
)
from app.services.loggers.reader.cells.dates import DAYLIGHT_CHANGES, STANDARD, ZONES
from app.services.loggers.reader.cells.strays import Strays
from app.services.loggers.reader.cells.text import encoding_of, refuse, sample_lines
from app.services.loggers.reader.columns import SCALED, Meaning, heads, to_si
from app.services.loggers.reader.guesses import Guess as Guess
from app.services.loggers.reader.layout import Layout, lay_out, with_markers
from app.services.loggers.reader.left_out import Problem as Problem
from app.services.loggers.reader.left_out import conflict_of, two_series
from app.services.loggers.reader.result import LoggerFile as LoggerFile
from app.services.loggers.reader.result import PreviewRow as PreviewRow
from app.services.loggers.reader.result import preview, sentence
from app.services.loggers.reader.rows import Ends, read_blocks
from app.services.loggers.reader.table import find_table

MANY = 10  # conflicting times from which on a file may hold two series
KEPT_PROBLEMS = 500  # the rest is counted, not listed


class _Problems:
    """Problems as they come: the first ones kept, all of them counted."""

    def __init__(self) -> None:
        self.kept: list[Problem] = []
        self.count = 0

    def add(self, problems: "tuple[Problem, ...] | list[Problem]") -> None:
        self.count += len(problems)
        self.kept.extend(problems[: max(0, KEPT_PROBLEMS - len(self.kept))])


def read_logger_file(
    source: bytes | BinaryIO,
    *,
    utc_offset_min: int,
    answers: Mapping[str, Any] | None = None,
    progress: Progress | None = None,
) -> LoggerFile:
    """Read a logger file.

    Parameters
    ----------
    source : bytes or seekable binary file
        A file is read twice and left open.
    utc_offset_min : int
        The site's fixed offset, minutes ahead of UTC.
    answers : mapping
        What a person said, or what was remembered for this logger.
    progress : callable
        Called with bytes read and bytes in all; what it raises ends the reading (cancel).

    Raises
    ------
    BadInput
        If no reading can be taken from the file; its field names row and column.
    """
    raw: BinaryIO = io.BytesIO(source) if isinstance(source, bytes | bytearray) else source
    if answers is not None and not isinstance(answers, Mapping):
        raise refuse(1, 1, answers, "answers are names and values", "Answer the questions again.")
    told = dict(answers or {})
    encoding = encoding_of(raw)
    head, further = sample_lines(raw, encoding)
    layout = lay_out(find_table(head, further, told), encoding, told)
    size = raw.seek(0, io.SEEK_END)
    ends, problems = Ends(), _Problems()
    parts: dict[str, list[Any]] = {"row": [], "local": [], "offset": [], "head": [], "tail": []}
    tail = next((c for c in layout.columns if c.meaning is Meaning.TAILWATER), None)
    strays = Strays()
    for block in read_blocks(raw, layout, ends):
        strays.add(block.values[layout.source])
        parts["row"].append(block.row)
        parts["local"].append(block.local_s)
        parts["offset"].append(block.offset_min)
        parts["head"].append(_heads(block.values, layout))
        if tail is not None:
            parts["tail"].append(to_si(block.values[tail.index], tail))
        problems.add(block.problems)
        if progress is not None:
            progress(min(raw.tell(), size), size)
    row, local, offset, head_m = (
        np.concatenate(parts[key]) for key in ("row", "local", "offset", "head")
    )
    tail_m = np.concatenate(parts["tail"]) if tail is not None else None
    if row.size == 0:
        raise _nothing(layout, problems)
    if "missing" not in told:
        found = strays.markers()
        head_m[[i for at in found.values() for i in at]] = np.nan
        layout = with_markers(layout, list(found))
    return _finish(
        layout,
        told,
        site_offset_min=utc_offset_min,
        ends=ends,
        problems=problems,
        row=row,
        local=local,
        offset=offset,
        head_m=head_m,
        tail_m=tail_m,
    )


def _heads(values: dict[int, Floats], layout: Layout) -> Floats:
    """Return heads, all missing while a question about them is open."""
    waiting = ("head_column", f"column {layout.source + 1}", f"scale of column {layout.source + 1}")
    if any(g.key in waiting or g.chosen == SCALED for g in layout.questions):
        return np.full(next(iter(values.values())).shape, np.nan)
    try:
        return heads(values, layout.columns, layout.fitting)
    except BadInput:
        if not layout.questions:
            raise
        return np.full(next(iter(values.values())).shape, np.nan)


def _nothing(layout: Layout, problems: _Problems) -> BadInput:
    if problems.kept:
        first = problems.kept[0]
        return BadInput(
            f"row {first.row}, column {first.column}", first.value, first.rule, first.remedy
        )
    return refuse(
        layout.table.first_line + 1,
        layout.table.time_at + 1,
        "no row",
        "no row with a time and a reading was found",
        "Check the date order and the delimiter.",
    )


def _finish(
    layout: Layout,
    told: Mapping[str, Any],
    *,
    site_offset_min: int,
    ends: Ends,
    problems: _Problems,
    row: Ints,
    local: Ints,
    offset: Ints,
    head_m: Floats,
    tail_m: Floats | None,
) -> LoggerFile:
    at = layout.table.time_at
    name = layout.table.names[at] if at < len(layout.table.names) else ""
    column = f"{at + 1} ({name})" if name else str(at + 1)
    if twelve_hours(local):
        raise refuse(
            int(row[0]),
            at + 1,
            "no hour over 12",
            "the clock counts to 12 twice a day without marks of morning and afternoon",
            "Export with hours from 0 to 24.",
        )
    step = usual_step_s(local)
    guesses = _ask_daylight(layout, told, local, step, row)
    t, keep, unplaced = to_utc(local, offset, layout.zone, site_offset_min, row, column)
    problems.add(unplaced)
    reset = _resets(t, keep, row, column, told, site_offset_min)
    problems.add(reset)
    shown = preview(ends, row, t, head_m, site_offset_min)
    kept = np.flatnonzero(keep)
    if kept.size == 0:
        raise _nothing(layout, problems)
    out_of_order = int(np.count_nonzero(np.diff(t[kept]) < 0))
    unsorted = bool(np.any(np.diff(t[kept]) <= 0))
    order = kept
    repeated = np.empty(0, dtype=np.int64)
    conflict: list[Problem] = []
    if unsorted:
        # by time, a reading before a missing one, then as in the file
        order = kept[np.lexsort((kept, np.isnan(head_m[kept]), t[kept]))]
        again = np.append(False, np.diff(t[order]) == 0)
        group = np.maximum.accumulate(np.where(again, 0, np.arange(order.size)))
        repeated, held = order[again], order[group[again]]
        differs = head_m[repeated] != head_m[held]
        differs &= ~np.isnan(head_m[repeated])
        for i, j in zip(repeated[differs].tolist(), held[differs].tolist(), strict=True):
            conflict.append(conflict_of(int(row[i]), int(row[j]), head_m[i], head_m[j], column))
        order = order[~again]
    if len(conflict) >= MANY and 3 * len(conflict) >= order.size:
        raise two_series(conflict[0])
    problems.add(conflict)
    t, head_m, row = t[order], head_m[order], row[order]
    step = usual_step_s(t)
    limit = STRETCHED * step if step else DEFAULT_GAP_S
    gap_at = np.flatnonzero(np.diff(t) > limit)
    facts = LoggerFile(
        layout=layout,
        sentence="",
        guesses=guesses,
        problems=tuple(sorted(problems.kept, key=lambda problem: problem.row)),
        problem_count=problems.count,
        row=row,
        t_s=t,
        head_m=head_m,
        tailwater_m=None if tail_m is None else tail_m[order],
        first=shown[0],
        last=shown[1],
        step_s=step,
        gaps=tuple(zip(t[gap_at].tolist(), t[gap_at + 1].tolist(), strict=True)),
        duplicates=repeated.size - len(conflict),
        conflicts=len(conflict),
        out_of_order=out_of_order,
        missing=_missing(head_m, layout),
        footer=tuple(ends.footer),
    )
    return replace(facts, sentence=sentence(facts, ends, len(reset), len(conflict)))


def _missing(head_m: Floats, layout: Layout) -> int:
    """Count missing readings; heads that only wait for an answer are none."""
    count = int(np.count_nonzero(np.isnan(head_m)))
    return 0 if layout.questions and count == head_m.size else count


def _ask_daylight(
    layout: Layout, told: Mapping[str, Any], local: Ints, step: int | None, row: Ints
) -> tuple[Guess, ...]:
    """Turn the guess on time into a question when an hour is repeated or missing at night."""
    if told.get("time_zone") is not None or layout.zone != STANDARD:
        return layout.guesses
    at, sign = clock_changes(local, step)
    if at.size == 0:
        return layout.guesses
    what = "an hour is repeated" if sign[0] < 0 else "exactly one hour is missing"
    why = f"{what} at night before row {int(row[at[0]])}, as when daylight saving changes"
    others = tuple(zone for zone in ZONES if zone != DAYLIGHT_CHANGES)
    asked = Guess("time_zone", DAYLIGHT_CHANGES, why, others, ask=True)
    return tuple(asked if guess.key == "time_zone" else guess for guess in layout.guesses)


def _resets(
    t: Ints,
    keep: NDArray[np.bool_],
    row: Ints,
    column: str,
    told: Mapping[str, Any],
    site_offset_min: int,
) -> list[Problem]:
    """Shift the runs of a reset clock whose restart is known; refuse the others, in place."""
    if told.get("accept_dates") is True:
        return []
    known = restarts(told, site_offset_min)
    refused = []
    for number, run in enumerate(find_resets(t)):
        part = slice(run.begin, run.end + 1)
        if number < len(known):
            t[part] += known[number] - t[run.begin]
            continue
        keep[part] = False
        stamp = np.datetime64(int(t[run.begin]) + site_offset_min * 60, "s")
        refused.append(
            Problem(
                int(row[run.begin]),
                column,
                str(stamp).replace("T", " "),
                "the logger's clock was reset: no reading is from then",
                f"Give the true time of row {int(row[run.begin])} as restart_at and the rows "
                "are shifted, or say that the dates are right.",
                to_row=int(row[run.end]),
            )
        )
    return refused
