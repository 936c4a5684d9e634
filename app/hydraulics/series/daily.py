"""Daily flow of a series by site days: volume, mean, extremes, what is measured and what is not.

The idea: integrate the covered stretches (see `stretches`) by the time-weighted trapezoid, cut
at the midnights of the site's fixed offset, so that the days add up to the whole. What is
measured and what is estimated stay apart; what is missing is never bridged. Zero flow is 0,
missing is NaN. Times are int64 epoch seconds (UTC), discharge is m3/s, volume m3.

Public functions
----------------
daily_flow(t_s, discharge_m3s, *, utc_offset_min=0, uncertainty_pct=None, estimate_pct=None,
           how=None, gap_s=3600, step_s=None, from_day=None, to_day=None) -> DailyFlow
total_volume_m3(t_s, discharge_m3s, *, how=None, gap_s=3600, step_s=None) -> float
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.arrays import Bools, Floats, Ints
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.layers import How
from app.hydraulics.series.stretches import (
    DEFAULT_GAP_S,
    Stretches,
    cut_at_midnight,
    day_start_s,
    stretches,
    usual_step_s,
)

FULL_DAY_SHARE = 0.9  # common practice: below 90 % measured a daily mean is "partial"


def total_volume_m3(
    t_s: Ints,
    discharge_m3s: Floats,
    *,
    how: NDArray[np.int8] | None = None,
    gap_s: int = DEFAULT_GAP_S,
    step_s: int | None = None,
) -> float:
    """Return the volume of the covered stretches, not cut into days; NaN when none is covered."""
    parts = stretches(t_s, discharge_m3s, how=how, gap_s=gap_s, step_s=step_s)
    if parts.first.size == 0:
        return float("nan")
    seconds = (t_s[parts.second] - t_s[parts.first]).astype(np.float64)
    ends = discharge_m3s[parts.first] + discharge_m3s[parts.second]
    return float(np.sum(0.5 * ends * seconds))


@dataclass(frozen=True, kw_only=True)
class DailyFlow:
    """One row a site day, every array of shape (d,), days without a gap between them.

    `missing_fraction` is (expected - present) / expected readings when the logger has a usual
    step, else the share of the day's time that is not covered. `volume_m3` is over the covered
    time only and NaN when nothing is covered. Extremes are of the line, midnight ends included,
    so that min <= mean <= max. `volume_uncertainty_m3` is expanded and takes the errors of a
    day as fully alike (the upper bound: a rating error does not average out).
    """

    day: Ints
    start_s: Ints
    volume_m3: Floats
    measured_m3: Floats
    estimated_m3: Floats
    volume_uncertainty_m3: Floats
    mean_m3s: Floats
    low_m3s: Floats
    low_at_s: Ints
    high_m3s: Floats
    high_at_s: Ints
    readings: Ints
    missing_fraction: Floats
    measured_s: Floats
    estimated_s: Floats
    partial: Bools

    @property
    def missing_s(self) -> Floats:
        """Seconds of each day that are not covered."""
        return DAY_S - self.measured_s - self.estimated_s


def daily_flow(
    t_s: Ints,
    discharge_m3s: Floats,
    *,
    utc_offset_min: int = 0,
    uncertainty_pct: Floats | None = None,
    estimate_pct: Floats | None = None,
    how: NDArray[np.int8] | None = None,
    gap_s: int = DEFAULT_GAP_S,
    step_s: int | None = None,
    from_day: int | None = None,
    to_day: int | None = None,
) -> DailyFlow:
    """Return the daily flow of a series.

    Parameters
    ----------
    t_s : int64 array, shape (n,), epoch seconds, never going backwards
    discharge_m3s : float64 array, shape (n,)
        NaN is missing, 0 is no flow.
    utc_offset_min : int
        The site's fixed offset; days run from its midnight to its midnight.
    uncertainty_pct : float64 array, shape (n,), expanded, per cent; NaN counts as unknown
    estimate_pct : float64 array, shape (n,), expanded, per cent
        How well the flow is known in an estimated stretch that begins or ends here; without it
        as well as at the readings. Where a gap was bridged half the difference of its ends is
        added in squares (common practice: nothing is known of the way between them).
    how : int8 array of `How` codes, shape (n,)
    gap_s, step_s : int
        Gap rule and usual step; the step is found from the times when not given.
    from_day, to_day : int
        First and last day of the answer; by default those of the series.

    Raises
    ------
    BadInput
        If arrays differ in length, times go backwards, or the gap rule is not above zero.

    References
    ----------
    Time-weighted trapezoid, ends interpolated at midnight: common practice. Missing fraction:
    (expected - present) / expected.
    """
    parts = stretches(t_s, discharge_m3s, how=how, gap_s=gap_s, step_s=step_s)
    local = t_s + utc_offset_min * 60
    present = np.isfinite(discharge_m3s)
    reading_day = local[present] // DAY_S
    first = int(reading_day[0]) if from_day is None and reading_day.size else (from_day or 0)
    # a last reading at midnight ends the day before: no day of one point is begun by it
    last_local = int(local[present][-1]) if reading_day.size else 0
    last = (last_local - (last_local % DAY_S == 0 and parts.first.size > 0)) // DAY_S
    last = max(last, first) if to_day is None else to_day
    count = max(last - first + 1, 0) if reading_day.size or to_day is not None else 0

    cut = cut_at_midnight(local[parts.first], local[parts.second])
    keep = (cut.day >= first) & (cut.day <= last)
    slot = (cut.day - first)[keep]

    def ends(values: Floats) -> tuple[Floats, Floats]:
        a, b = values[parts.first][cut.parent], values[parts.second][cut.parent]
        return (a + (b - a) * cut.begin_share)[keep], (a + (b - a) * cut.end_share)[keep]

    def total(amounts: Floats) -> Floats:
        return np.bincount(slot, weights=amounts, minlength=count)[:count].astype(np.float64)

    seconds, guess = cut.seconds[keep], parts.estimated[cut.parent][keep]
    begin, end = ends(discharge_m3s)
    volume = 0.5 * (begin + end) * seconds
    measured_m3, estimated_m3 = total(np.where(guess, 0.0, volume)), total(volume * guess)
    measured_s, estimated_s = total(np.where(guess, 0.0, seconds)), total(seconds * guess)
    covered = measured_s + estimated_s
    nothing = covered == 0.0
    both = np.where(nothing, np.nan, measured_m3 + estimated_m3)
    if uncertainty_pct is None:
        spread = np.full(count, np.nan)
    else:
        low, high = ends(discharge_m3s * uncertainty_pct / 100.0)
        own = 0.5 * (low + high)
        if guess.any():
            known = uncertainty_pct if estimate_pct is None else estimate_pct
            low, high = ends(discharge_m3s * known / 100.0)
            half = _half_difference(parts, discharge_m3s, how)[cut.parent][keep]
            own = np.where(guess, np.hypot(0.5 * (low + high), half), own)
        spread = np.where(nothing, np.nan, total(own * seconds))

    observed = present if how is None else present & (how == How.MEASURED)
    counted = local[observed] // DAY_S - first
    readings = np.bincount(counted[(counted >= 0) & (counted < count)], minlength=count)[:count]
    step = usual_step_s(t_s) if step_s is None else step_s
    if step and step <= gap_s:
        expected = DAY_S / step
        missing = np.clip((expected - readings) / expected, 0.0, 1.0)
    else:
        missing = 1.0 - covered / DAY_S

    # the line's points by day: every reading, and its value at both midnights
    at_begin, at_end = cut.begin_s[keep] % DAY_S == 0, cut.end_s[keep] % DAY_S == 0
    point_slot = np.concatenate([reading_day - first, slot[at_begin], slot[at_end]])
    point_t = np.concatenate([local[present], cut.begin_s[keep][at_begin], cut.end_s[keep][at_end]])
    point_v = np.concatenate([discharge_m3s[present], begin[at_begin], end[at_end]])
    shift = utc_offset_min * 60
    low_v, low_t = _extreme(point_slot, point_t - shift, point_v, count, sign=-1.0)
    high_v, high_t = _extreme(point_slot, point_t - shift, point_v, count, sign=1.0)
    days = np.arange(first, first + count, dtype=np.int64)
    return DailyFlow(
        day=days,
        start_s=day_start_s(days, utc_offset_min),
        volume_m3=both,
        measured_m3=np.where(nothing, np.nan, measured_m3),
        estimated_m3=np.where(nothing, np.nan, estimated_m3),
        volume_uncertainty_m3=spread,
        mean_m3s=both / np.where(nothing, np.nan, covered),
        low_m3s=low_v,
        low_at_s=low_t,
        high_m3s=high_v,
        high_at_s=high_t,
        readings=readings.astype(np.int64),
        missing_fraction=missing,
        measured_s=measured_s,
        estimated_s=estimated_s,
        partial=measured_s < FULL_DAY_SHARE * DAY_S,
    )


def _half_difference(
    parts: Stretches, discharge_m3s: Floats, how: NDArray[np.int8] | None
) -> Floats:
    """Return half the difference of the ends of each stretch; 0 along a person's own line."""
    half: Floats = 0.5 * np.abs(discharge_m3s[parts.second] - discharge_m3s[parts.first])
    if how is not None:
        drawn = (how[parts.first] == How.ESTIMATED) & (how[parts.second] == How.ESTIMATED)
        half[drawn] = 0.0
    return half


def _extreme(
    slot: Ints, t_s: Ints, value: Floats, count: int, *, sign: float
) -> tuple[Floats, Ints]:
    """Return the largest sign * value of each slot and the earliest time of it (-1 if none)."""
    inside = (slot >= 0) & (slot < count)
    slot, t_s, value = slot[inside], t_s[inside], value[inside]
    best = np.full(count, np.nan)
    at = np.full(count, -1, dtype=np.int64)
    if slot.size:
        order = np.argsort(slot, kind="stable")
        slot, t_s, value = slot[order], t_s[order], value[order]
        starts = np.flatnonzero(np.diff(slot, prepend=slot[0] - 1))
        found = np.maximum.reduceat(sign * value, starts)
        best[slot[starts]] = sign * found
        ties = sign * value == np.repeat(found, np.diff(starts, append=slot.size))
        never = np.iinfo(np.int64).max
        at[slot[starts]] = np.minimum.reduceat(np.where(ties, t_s, never), starts)
    return best, at
