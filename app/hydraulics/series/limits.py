"""Water taken against a limit: rate over a window, volume of a period, projection to its end.

The idea: an amount is compared with its limit together with its uncertainty and with what may
have passed while nothing was recorded. The answer is one of three words. "within" is only said
when even the upper bound is within; time without record makes the upper bound larger by the
largest rate the race can carry, and without that rate the answer is "cannot tell".
Unrounded numbers are compared, rounded ones are shown.

Public functions
----------------
verdict(amount, uncertainty, limit, *, may_have_passed=0.0) -> int8 array of Verdict
residual_verdict(flow, uncertainty, limit) -> int8 array of Verdict (OVER: less was left)
window_rates(t_s, discharge_m3s, window_s, *, how=None, gap_s=3600) -> (start_s, mean_m3s)
window_maximum(t_s, discharge_m3s, window_s, ...) -> (start_s or None, mean_m3s)
volume_use(daily, from_day, to_day, limit_m3, *, largest_rate_m3s=None) -> VolumeUse
project(daily, from_day, to_day, limit_m3, as_of_day, *, recent_days=14, ...) -> Projection
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.errors import BadInput
from app.hydraulics.series.daily import DailyFlow
from app.hydraulics.series.stretches import DAY_S, DEFAULT_GAP_S, Floats, Ints, stretches

SLACK_S = 1.0  # rounding of the covered time is no missing record
NEAR_LIMIT_PCT = 80.0  # common practice: warn from four fifths of a limit on


class Verdict(IntEnum):
    """The answer to "is it over the limit?"."""

    WITHIN = 0
    CANNOT_TELL = 1
    OVER = 2

    @property
    def word(self) -> str:
        """The word people read."""
        return self.name.lower().replace("_", " ")


def verdict(
    amount: ArrayLike,
    uncertainty: ArrayLike,
    limit: float,
    *,
    may_have_passed: ArrayLike = 0.0,
) -> NDArray[np.int8]:
    """Compare amounts with a limit, all in one unit; missing anything cannot be "within".

    Parameters
    ----------
    amount, uncertainty : arrays; uncertainty is expanded and in the unit of the amount
    may_have_passed : array
        What may have passed unrecorded on top; infinite or NaN when nobody knows.

    Raises
    ------
    BadInput
        If the limit is not a number of zero or more.
    """
    _check_limit(limit)
    value = np.asarray(amount, dtype=np.float64)
    spread = np.asarray(uncertainty, dtype=np.float64)
    upper = value + spread + np.asarray(may_have_passed, dtype=np.float64)
    answer = np.full(np.broadcast_shapes(value.shape, upper.shape), Verdict.CANNOT_TELL, np.int8)
    answer[upper <= limit] = Verdict.WITHIN
    answer[np.broadcast_to(value - spread > limit, answer.shape)] = Verdict.OVER
    return answer


def residual_verdict(flow: ArrayLike, uncertainty: ArrayLike, limit: float) -> NDArray[np.int8]:
    """Compare the flow left in the stream with the least that must be left.

    WITHIN: at least that much was left; OVER: the limit was broken, less was left.
    """
    _check_limit(limit)
    value, spread = np.asarray(flow, dtype=np.float64), np.asarray(uncertainty, dtype=np.float64)
    answer = np.full(np.broadcast_shapes(value.shape, spread.shape), Verdict.CANNOT_TELL, np.int8)
    answer[value - spread >= limit] = Verdict.WITHIN
    answer[value + spread < limit] = Verdict.OVER
    return answer


def _check_limit(limit: float) -> None:
    if not (np.isfinite(limit) and limit >= 0.0):
        raise BadInput("limit", limit, "a limit is zero or more", "Enter the limit of the permit.")


def window_rates(
    t_s: Ints,
    discharge_m3s: Floats,
    window_s: int,
    *,
    how: NDArray[np.int8] | None = None,
    gap_s: int = DEFAULT_GAP_S,
) -> tuple[Ints, Floats]:
    """Return the mean rate over every window that could be the largest, with its start.

    Exact for the line between readings: windows that begin or end at a reading, and those
    between them where the rate at both ends is equal. A window that touches a gap is left out.

    Returns
    -------
    start_s : int64 array, shape (k,), ascending, rounded down to a second
    mean_m3s : float64 array, shape (k,)

    Raises
    ------
    BadInput
        If the window is not above zero, or for arrays as in `stretches`.
    """
    if window_s <= 0:
        raise BadInput("window", window_s, "is longer than zero", "Give seconds, such as 3600.")
    parts = stretches(t_s, discharge_m3s, how=how, gap_s=gap_s)
    nothing = (np.empty(0, dtype=np.int64), np.empty(0))
    if parts.first.size == 0:
        return nothing
    present = np.flatnonzero(np.isfinite(discharge_m3s))
    present = present[np.append(True, np.diff(t_s[present]) > 0)]  # one value a time
    t, q = t_s[present], discharge_m3s[present]
    ends = np.searchsorted(t, t_s[parts.second])
    covered = np.zeros(t.size, dtype=bool)
    covered[ends] = True
    spacing = np.diff(t, prepend=t[0]).astype(np.float64)
    area = 0.5 * (q + np.concatenate([q[:1], q[:-1]])) * spacing
    volume = np.cumsum(np.where(covered, area, 0.0))
    seconds = np.cumsum(np.where(covered, spacing, 0.0))

    starts = np.sort(np.concatenate([t, t - window_s]), kind="stable")  # two sorted runs
    starts = starts[np.append(True, np.diff(starts) > 0)]
    starts = starts[(starts >= t[0]) & (starts + window_s <= t[-1])]
    if starts.size == 0:
        return nothing

    def volume_to(at: Ints) -> Floats:
        i = np.clip(np.searchsorted(t, at, "right"), 1, t.size - 1)
        span = (at - t[i - 1]).astype(np.float64)
        q_at = q[i - 1] + (q[i] - q[i - 1]) * span / (t[i] - t[i - 1])
        return np.asarray(volume[i - 1] + np.where(covered[i], 0.5 * (q[i - 1] + q_at) * span, 0.0))

    taken = volume_to(starts + window_s) - volume_to(starts)
    whole = np.interp(starts + window_s, t, seconds) - np.interp(starts, t, seconds)
    full = whole >= window_s - 0.5
    slope = np.interp(starts + window_s, t, q) - np.interp(starts, t, q)
    # between neighbouring starts the slope is a line: the largest window lies where it is zero
    a, b, span = slope[:-1], slope[1:], np.diff(starts).astype(np.float64)
    turn = full[:-1] & full[1:] & (a > 0.0) & (b < 0.0)
    x = np.divide(a * span, a - b, out=np.zeros_like(span), where=turn)
    top = taken[:-1] + 0.5 * a * x
    at = np.concatenate([starts[full], (starts[:-1] + x.astype(np.int64))[turn]])
    rate = np.concatenate([taken[full], top[turn]]) / window_s
    order = np.argsort(at, kind="stable")
    return at[order], rate[order]


def window_maximum(
    t_s: Ints,
    discharge_m3s: Floats,
    window_s: int,
    *,
    how: NDArray[np.int8] | None = None,
    gap_s: int = DEFAULT_GAP_S,
) -> tuple[int | None, float]:
    """Return start and mean of the largest window; (None, NaN) when no window is whole."""
    at, rate = window_rates(t_s, discharge_m3s, window_s, how=how, gap_s=gap_s)
    if rate.size == 0:
        return None, float("nan")
    best = int(np.argmax(rate))
    return int(at[best]), float(rate[best])


@dataclass(frozen=True)
class VolumeUse:
    """Volume of a period against its limit; bounds are `low_m3` and `high_m3` (inf: unknown)."""

    used_m3: float
    measured_m3: float
    estimated_m3: float
    uncertainty_m3: float
    missing_s: float
    low_m3: float
    high_m3: float
    used_pct: float
    verdict: Verdict
    near: bool


def _within(daily: DailyFlow, from_day: int, to_day: int, limit_m3: float) -> slice:
    _check_limit(limit_m3)
    if to_day < from_day:
        raise BadInput("period", to_day, "ends after it begins", "Swap the two days.")
    return slice(
        int(np.searchsorted(daily.day, from_day, "left")),
        int(np.searchsorted(daily.day, to_day, "right")),
    )


def volume_use(
    daily: DailyFlow,
    from_day: int,
    to_day: int,
    limit_m3: float,
    *,
    largest_rate_m3s: float | None = None,
) -> VolumeUse:
    """Compare the volume of a period (both days included) with a limit.

    Days of the period without a row count as time without record: ask for the period up to
    today, not to its far end, while it is running. An unknown uncertainty is infinite.

    Raises
    ------
    BadInput
        If the limit is negative or the period ends before it begins.
    """
    rows = _within(daily, from_day, to_day, limit_m3)
    used = float(np.nansum(daily.volume_m3[rows]))
    known = np.isfinite(daily.volume_m3[rows])
    spread = daily.volume_uncertainty_m3[rows][known]
    uncertainty = float(np.sum(np.where(np.isnan(spread), np.inf, spread)))
    covered = float(np.sum(daily.measured_s[rows] + daily.estimated_s[rows]))
    missing = max((to_day - from_day + 1) * DAY_S - covered, 0.0)
    rate = np.inf if largest_rate_m3s is None else largest_rate_m3s
    unseen = missing * rate if missing > SLACK_S else 0.0
    low, high = max(used - uncertainty, 0.0), used + uncertainty + unseen
    answer = Verdict(int(verdict(used, uncertainty, limit_m3, may_have_passed=unseen)[()]))
    pct = 100.0 * used / limit_m3 if limit_m3 > 0.0 else (np.inf if used > 0.0 else 0.0)
    return VolumeUse(
        used_m3=used,
        measured_m3=float(np.nansum(daily.measured_m3[rows])),
        estimated_m3=float(np.nansum(daily.estimated_m3[rows])),
        uncertainty_m3=uncertainty,
        missing_s=missing,
        low_m3=low,
        high_m3=high,
        used_pct=float(pct),
        verdict=answer,
        near=bool(pct >= NEAR_LIMIT_PCT),
    )


@dataclass(frozen=True)
class Projection:
    """Where the season ends when taking goes on: volumes at its end, day the limit is reached."""

    expected_m3: float
    low_m3: float
    high_m3: float
    reached_day: int | None
    verdict: Verdict
    method: str


def project(
    daily: DailyFlow,
    from_day: int,
    to_day: int,
    limit_m3: float,
    as_of_day: int,
    *,
    recent_days: int = 14,
    largest_rate_m3s: float | None = None,
) -> Projection:
    """Project the volume at the end of a season from the mean of the most recent days.

    Bounds go on at the lowest and the highest mean of seven days in a row of the season so far,
    on top of the bounds of what is used (common practice, a guide and no forecast).
    """
    rows = _within(daily, from_day, min(as_of_day, to_day), limit_m3)
    use = volume_use(
        daily, from_day, min(as_of_day, to_day), limit_m3, largest_rate_m3s=largest_rate_m3s
    )
    rates = daily.mean_m3s[rows] * DAY_S
    rates = rates[np.isfinite(rates)]
    left = max(to_day - as_of_day, 0)
    counts = min(recent_days, rates.size)
    method = f"mean of the last {'day' if counts == 1 else f'{counts} days'} with record goes on"
    if rates.size == 0:
        nan = float("nan")
        return Projection(nan, nan, nan, None, Verdict.CANNOT_TELL, "no day with record yet")
    recent = float(np.mean(rates[-recent_days:]))
    week = min(7, rates.size)
    weekly = np.convolve(rates, np.full(week, 1.0 / week), "valid")
    expected = use.used_m3 + left * recent
    low = use.low_m3 + left * min(float(weekly.min()), recent)
    high = use.high_m3 + left * max(float(weekly.max()), recent)
    reached = None
    if use.used_m3 <= limit_m3 < expected:
        reached = as_of_day + int(np.ceil((limit_m3 - use.used_m3) / recent))
    answer = (
        Verdict.OVER
        if low > limit_m3
        else Verdict.WITHIN
        if high <= limit_m3
        else Verdict.CANNOT_TELL
    )
    return Projection(expected, low, high, reached, answer, method)
