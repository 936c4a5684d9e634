"""A run of levels: reduced two ways, checked three ways, closed and adjusted.

The misclosure is shared equally by set-up; by the rule of distance in proportion to the lengths of
the sights behind each point, where all of them are booked.

A run is booked in one unit, metres or feet, and stays in it: the sums are linear and the book must
be checkable against the figures as written. `ReducedRun.metres` gives reduced levels in metres.

Public functions (keyword arguments after the star; rows are mappings as booked):

    reduce_run(rows, start_rl, *, close_rl=None, unit="m", rule="setups", distance_km=None,
               limit_mm=None) -> ReducedRun
    misclosure_limit_mm(rule, *, setups, distance_km=None, limit_mm=None) -> float
    ReducedRun.point_levels(adjusted=False) -> {point: PointLevel(rl, count, spread)}
    ReducedRun.metres(values) -> values in metres
    ReducedRun.as_dict() -> JSON values

References
----------
Kenney 2010, Levels at gaging stations, USGS Techniques and Methods 3-A19: closure limit
0.003 sqrt(n) ft, never over 0.015 ft; closure shared equally by set-up. Sharing by distance: usual
in surveying texts (from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.result import Result
from app.hydraulics.base.rounding import fixed
from app.hydraulics.base.units import BELOW_THOUSAND, FOOT, number
from app.hydraulics.levelling.book import (
    LONGEST_READING_M,
    Row,
    mark_name,
    sight_lengths,
    sights_in_order,
)

UNITS_M = {"m": 1.0, "ft": FOOT}

RULES = {
    "setups": "0.003 ft times the root of the set-ups, never over 0.015 ft (USGS TM 3-A19)",
    "distance": "12 mm times the root of the distance in km (third order; from memory)",
    "ordinary": "5 mm times the root of the set-ups (ordinary works; from memory)",
    "fixed": "a limit in mm given by the surveyor",
}
SETUP_LIMIT_FT, MOST_FT, DISTANCE_MM, ORDINARY_MM = 0.003, 0.015, 12.0, 5.0  # as RULES says

NOT_BY_DISTANCE = "lengths of the sights not all booked: the misclosure is shared equally by set-up"


@dataclass(frozen=True)
class PointLevel(Result):
    """Reduced level of one point: mean over its sights, their number and their spread."""

    rl: float
    count: int
    spread: float


@dataclass(frozen=True, kw_only=True)
class ReducedRun(Result):
    """A run reduced; arrays have one element a reading, lengths in the unit of the book."""

    unit: str
    row: tuple[int, ...]
    setup: tuple[int, ...]
    point: tuple[str, ...]
    kind: tuple[str, ...]
    reading: Floats
    collimation: Floats
    rise: Floats
    fall: Floats
    rl: Floats
    rl_rise_fall: Floats
    correction: Floats
    rl_adjusted: Floats
    setups: int
    sum_bs: float
    sum_fs: float
    sum_rises: float
    sum_falls: float
    last_minus_first: float
    complete: bool
    arithmetic_agrees: bool
    close_rl: float
    misclosure: float
    misclosure_mm: float
    limit_mm: float
    within_limit: bool | None
    shared_by: str
    words: tuple[str, ...]

    def point_levels(self, adjusted: bool = False) -> dict[str, PointLevel]:
        """Return each point's level; a point seen again is averaged and its spread kept.

        Backsights are left out: they repeat the foresight that set the turning point. The first
        mark keeps its given level.
        """
        values = self.rl_adjusted if adjusted else self.rl
        seen: dict[str, list[float]] = {}
        first = mark_name(self.point[0])
        for place, name in enumerate(map(mark_name, self.point)):
            if place == 0 or (self.kind[place] != "bs" and name != first):
                seen.setdefault(name, []).append(float(values[place]))
        return {
            name: PointLevel(sum(found) / len(found), len(found), max(found) - min(found))
            for name, found in seen.items()
        }

    def metres(self, values: Floats | float) -> Floats | float:
        """Return lengths of this book in metres."""
        return values * UNITS_M[self.unit]


def reduce_run(
    rows: Sequence[Row],
    start_rl: float,
    *,
    close_rl: float | None = None,
    unit: str = "m",
    rule: str = "setups",
    distance_km: float | None = None,
    limit_mm: float | None = None,
) -> ReducedRun:
    """Reduce a run by height of collimation and by rise and fall, check it, close and adjust it.

    Parameters
    ----------
    rows : sequence of mappings with keys setup, point, bs, is, fs
        One row a sight, in the order booked. A turning point may take two rows (foresight, then
        backsight) or one row holding both. `setup` may be left out; where given it is checked.
    start_rl, close_rl : float, unit of the book
        Reduced level of the first point, and of the last if it is a known mark. A run that ends
        on the point it began from closes on `start_rl` by itself.
    unit : "m" or "ft"
    rule, distance_km, limit_mm
        See `misclosure_limit_mm`. By the rule "distance" the lengths of the sights in the rows
        (`distance_m`, or `bs_distance_m` and `fs_distance_m`) share out the misclosure, and give
        the length of the run where `distance_km` is left out.

    Raises
    ------
    BadInput
        Naming row and column, for anything that cannot be a level run.
    """
    if unit not in UNITS_M:
        raise BadInput("unit", unit, "the book is in metres or in feet", "Choose m or ft.")
    start = number("start_rl", start_rl, high=BELOW_THOUSAND)
    sights = sights_in_order(rows, LONGEST_READING_M / UNITS_M[unit])
    row, setup, point, kind, values = zip(*sights, strict=True)
    reading = np.array(values, dtype=np.float64)

    collimation, rl, rl_rise_fall = (np.empty(len(sights)) for _ in range(3))
    change = np.full(len(sights), np.nan)
    for place, sight in enumerate(kind):
        if sight == "bs":
            rl[place] = start if place == 0 else rl[place - 1]
            rl_rise_fall[place] = start if place == 0 else rl_rise_fall[place - 1]
            collimation[place] = rl[place] + reading[place]
        else:
            collimation[place] = collimation[place - 1]
            rl[place] = collimation[place] - reading[place]
            change[place] = reading[place - 1] - reading[place]
            rl_rise_fall[place] = rl_rise_fall[place - 1] + change[place]

    kinds = np.array(kind)
    sum_bs = float(reading[kinds == "bs"].sum())
    sum_fs = float(reading[kinds == "fs"].sum())
    rise = np.where(np.isnan(change), np.nan, np.maximum(change, 0.0))
    fall = np.where(np.isnan(change), np.nan, np.maximum(-change, 0.0))
    sum_rises, sum_falls = float(np.nansum(rise)), float(np.nansum(fall))
    last_minus_first = float(rl[-1] - rl[0])
    complete = kind[-1] == "fs"
    differences = [sum_rises - sum_falls - last_minus_first, *(rl_rise_fall - rl)]
    if complete:
        differences.append(sum_bs - sum_fs - last_minus_first)
    arithmetic_agrees = max(abs(each) for each in differences) < 1e-6

    close = math.nan
    if close_rl is not None:
        close = number("close_rl", close_rl, high=BELOW_THOUSAND)
    elif complete and mark_name(point[-1]) == mark_name(point[0]):
        close = start
    misclosure = float(rl[-1] - close) if complete else math.nan
    closed = not math.isnan(misclosure)
    setups = setup[-1]
    numbers = np.array(setup)
    through = np.arange(setups + 1) / setups  # share of the run behind the end of each set-up
    shared_by = "set-up"
    told: tuple[str, ...] = ()
    if rule == "distance":
        along = np.where(kinds == "is", 0.0, sight_lengths(rows, sights))
        legs = np.bincount(numbers - 1, along)
        if np.all(np.isfinite(legs)):
            shared_by = "distance"
            through = np.concatenate(([0.0], np.cumsum(legs))) / legs.sum()
            distance_km = float(legs.sum()) / 1000.0 if distance_km is None else distance_km
            told = _length_words(distance_km, float(legs.sum()))
        elif closed:
            told = (NOT_BY_DISTANCE,)
    limit = misclosure_limit_mm(rule, setups=setups, distance_km=distance_km, limit_mm=limit_mm)
    misclosure_mm = misclosure * UNITS_M[unit] * 1000.0
    within = bool(abs(misclosure_mm) <= limit + 1e-6) if closed else None
    correction = 0.0 - misclosure * through[numbers - (kinds == "bs")]

    run = ReducedRun(
        unit=unit, row=row, setup=setup, point=point, kind=kind, reading=reading,
        collimation=collimation, rise=rise, fall=fall, rl=rl, rl_rise_fall=rl_rise_fall,
        correction=correction, rl_adjusted=rl + correction, setups=setups, sum_bs=sum_bs,
        sum_fs=sum_fs, sum_rises=sum_rises, sum_falls=sum_falls,
        last_minus_first=last_minus_first, complete=complete,
        arithmetic_agrees=arithmetic_agrees, close_rl=close, misclosure=misclosure,
        misclosure_mm=misclosure_mm, limit_mm=limit, within_limit=within,
        shared_by=shared_by, words=told,
    )  # fmt: skip
    return _with_words(run)


def _length_words(distance_km: float, sights_m: float) -> tuple[str, ...]:
    if abs(distance_km * 1000.0 / sights_m - 1.0) <= 0.1:
        return ()
    return (
        f"the run is said to be {fixed(distance_km * 1000.0, 0)} m, its sights add up to "
        f"{fixed(sights_m, 0)} m: check the lengths",
    )


def misclosure_limit_mm(
    rule: str,
    *,
    setups: int,
    distance_km: float | None = None,
    limit_mm: float | None = None,
) -> float:
    """Return the greatest allowed misclosure in mm by one of `RULES`.

    Parameters
    ----------
    rule : "setups", "distance", "ordinary" or "fixed"
    setups : int
        Number of instrument set-ups.
    distance_km : float
        Length of the run, for "distance".
    limit_mm : float
        The limit itself, for "fixed".
    """
    if rule == "setups":
        return min(SETUP_LIMIT_FT * math.sqrt(setups), MOST_FT) * FOOT * 1000.0
    if rule == "ordinary":
        return ORDINARY_MM * math.sqrt(setups)
    if rule == "distance":
        km = _positive("distance_km", distance_km, "Give the length in km.")
        return DISTANCE_MM * math.sqrt(km)
    if rule == "fixed":
        return _positive("limit_mm", limit_mm, "Give the limit in mm.")
    raise BadInput("rule", rule, "no such rule of misclosure", f"Choose one of {', '.join(RULES)}.")


def _with_words(run: ReducedRun) -> ReducedRun:
    words: list[str] = list(run.words)
    if not run.arithmetic_agrees:
        words.append("the three sums do not agree")
    if not run.complete:
        words.append("open: the last set-up has no foresight")
    elif run.within_limit is None:
        words.append("not closed on a known mark: misclosure unknown")
    elif not run.within_limit:
        words.append("misclosure outside the limit: level it again before it sets a gauge zero")
    for name, level in run.point_levels().items():
        spread_mm = level.spread * UNITS_M[run.unit] * 1000.0
        if spread_mm > run.limit_mm + 1e-6:
            words.append(f"{name} differs by {fixed(spread_mm, 1)} mm between its sights")
    return replace(run, words=tuple(words))


def _positive(field: str, value: float | None, remedy: str) -> float:
    if value is None or not value > 0.0:
        raise BadInput(field, value, "must be more than zero", remedy)
    return value
