"""From a logger's stamps to UTC: zone, daylight saving, and clocks that were reset."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Ints
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.stretches import usual_step_s
from app.services.loggers.reader.cells.dates import (
    DAYLIGHT,
    DAYLIGHT_CHANGES,
    IN_STAMPS,
    STANDARD,
    UTC,
    zone_minutes,
)
from app.services.loggers.reader.cells.times import NO_OFFSET
from app.services.loggers.reader.left_out import Problem

HOUR_S = 3_600
COARSE_S = 3 * DAY_S  # common practice: loggers write at least daily, people read weekly or less
JOINED = 3.0  # steps, of the usual size, across which a record goes on


def _second(text: str) -> int:
    return int(np.datetime64(text, "s").astype(np.int64))


# common practice: what a clock shows after its battery was out, or when its counter runs over
RESET_ERAS = tuple(
    (_second(begin), _second(end))
    for begin, end in (
        ("1900-01-01", "1950-01-01"),
        ("1969-12-31", "1972-01-01"),  # a day early: the stamps may be moved to another zone
        ("1979-12-31", "1981-01-01"),
        ("1999-12-31", "2001-01-01"),
        ("2036-02-01", "2038-03-01"),
        ("2099-01-01", "2201-01-01"),
    )
)


def clock_changes(local_s: Ints, step_s: int | None) -> tuple[Ints, Ints]:
    """Return where the clock looks changed for daylight saving, rows in file order.

    Returns
    -------
    index : the first row after the change
    sign : +1 where an hour is missing (forward), -1 where an hour is repeated (back)
    """
    none = np.empty(0, dtype=np.int64)
    if not step_s or local_s.size < 3:
        return none, none
    step = np.diff(local_s)
    hour = local_s[:-1] % DAY_S // HOUR_S
    sunday = (local_s[:-1] // DAY_S + 4) % 7 == 0  # 1970-01-01 was a Thursday
    night = hour < 4
    back = (step == step_s - HOUR_S) & night
    forward = (step == step_s + HOUR_S) & night & sunday
    index = np.flatnonzero(back | forward)
    return index + 1, np.where(back[index], -1, 1)


def twelve_hours(local_s: Ints) -> bool:
    """Tell whether a clock runs from 12 to 1 and never beyond 12, rows in file order."""
    if local_s.size < 3:
        return False
    hour = local_s % DAY_S // HOUR_S
    if hour.min() < 1 or hour.max() > 12:
        return False
    step = np.diff(local_s)
    over = (hour[:-1] == 12) & (hour[1:] <= 2) & (step < 0) & (step >= -12 * HOUR_S)
    return bool(over.any())


def to_utc(
    local_s: Ints,
    offset_min: Ints,
    zone: str,
    site_offset_min: int,
    row: Ints,
    column: str,
) -> tuple[Ints, NDArray[np.bool_], list[Problem]]:
    """Return epoch seconds, which rows could be placed, and what is wrong with the others.

    Raises
    ------
    BadInput
        If daylight changes are said to be in a file that shows none, or they contradict.
    """
    keep = np.ones(local_s.size, dtype=bool)
    problems: list[Problem] = []
    fixed = zone_minutes(zone)
    stamped = offset_min != NO_OFFSET
    if zone == IN_STAMPS:
        keep = stamped
        problems = [
            Problem(
                int(number),
                column,
                str(np.datetime64(int(stamp), "s")),
                "has no offset from UTC although other rows have one",
                "Add the offset in a copy of the file, or leave this row out.",
            )
            for number, stamp in zip(row[~keep].tolist(), local_s[~keep].tolist(), strict=True)
        ]
        ahead_s = np.where(stamped, offset_min, 0) * 60
    elif zone == UTC:
        ahead_s = np.zeros(local_s.size, dtype=np.int64)
    elif fixed is not None:
        ahead_s = np.full(local_s.size, fixed * 60, dtype=np.int64)
    else:
        ahead_s = np.full(local_s.size, site_offset_min * 60, dtype=np.int64)
        if zone == DAYLIGHT:
            ahead_s += HOUR_S
        elif zone == DAYLIGHT_CHANGES:
            ahead_s += _daylight_s(local_s, row, column)
        elif zone != STANDARD:
            raise BadInput(
                f"row 1, column {column}", zone, "is no zone known here", "Answer again."
            )
    return (
        local_s - np.where(stamped & (zone != IN_STAMPS), offset_min * 60, ahead_s),
        keep,
        problems,
    )


def _daylight_s(local_s: Ints, row: Ints, column: str) -> Ints:
    at, sign = clock_changes(local_s, usual_step_s(local_s))
    if at.size == 0:
        raise BadInput(
            f"row {int(row[0])}, column {column}",
            DAYLIGHT_CHANGES,
            "no hour is repeated or missing at night in this file",
            "Say standard, or daylight when all of it is daylight time.",
        )
    wrong = np.flatnonzero(np.diff(sign) == 0)
    if wrong.size:
        number = int(row[at[wrong[0] + 1]])
        raise BadInput(
            f"row {number}, column {column}",
            DAYLIGHT_CHANGES,
            "the clock changes twice in the same direction",
            "Split the file there, or say standard.",
        )
    change = np.zeros(local_s.size, dtype=np.int64)
    change[at] = sign
    return HOUR_S * ((1 if sign[0] < 0 else 0) + np.cumsum(change))


@dataclass(frozen=True)
class Run:
    """Neighbouring rows of the file with an impossible date: indices, both included."""

    begin: int
    end: int


def find_resets(t_s: Ints) -> list[Run]:
    """Return the runs of rows whose dates only a reset clock gives, rows in file order."""
    odd = np.zeros(t_s.size, dtype=bool)
    for begin, end in RESET_ERAS:
        odd |= (t_s >= begin) & (t_s < end)
    if not odd.any():
        return []
    spacing = np.abs(np.diff(t_s))
    usual = float(np.median(spacing[spacing > 0])) if np.any(spacing > 0) else 0.0
    if usual >= COARSE_S:
        return []  # no logger waits that long: these are somebody's staff readings
    edge = np.diff(np.concatenate([[False], odd, [False]]).astype(np.int8))
    starts = set(np.flatnonzero(edge == 1).tolist())
    # a second reset inside a run of odd dates: time goes back by more than a day
    again = np.flatnonzero((np.diff(t_s) < -DAY_S) & odd[1:] & odd[:-1]) + 1
    starts.update(again.tolist())
    ends = set((np.flatnonzero(edge == -1) - 1).tolist()) | set((again - 1).tolist())
    runs = [Run(a, b) for a, b in zip(sorted(starts), sorted(ends), strict=True)]
    return [run for run in runs if not _goes_on(run, t_s, usual)]


def _goes_on(run: Run, t_s: Ints, usual: float) -> bool:
    """Tell whether a run joins the rows beside it step by step, as no reset clock does."""
    near = JOINED * usual
    if run.begin > 0:
        return bool(abs(int(t_s[run.begin]) - int(t_s[run.begin - 1])) <= near)
    return run.end + 1 < t_s.size and bool(abs(int(t_s[run.end + 1]) - int(t_s[run.end])) <= near)


def restarts(answers: Mapping[str, Any], site_offset_min: int) -> list[int]:
    """Return the true times a person gave for the first row of each run, epoch seconds.

    Raises
    ------
    BadInput
        If one of them is no ISO time.
    """
    given = answers.get("restart_at")
    found: list[int] = []
    for text in [] if given is None else given if isinstance(given, list) else [given]:
        try:
            moment = datetime.fromisoformat(text)
            naive = moment.replace(tzinfo=None)
            local = int(np.datetime64(naive, "s").astype(np.int64))
        except (ValueError, TypeError):
            raise BadInput(
                "row 1, column 1", text, "restart_at holds ISO times", "Such as 2026-03-04T10:15."
            ) from None
        offset = moment.utcoffset()
        found.append(local - (int(offset.total_seconds()) if offset else site_offset_min * 60))
    return found
