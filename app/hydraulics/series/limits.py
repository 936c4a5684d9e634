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

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.series.stretches import DEFAULT_GAP_S, stretches

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
    check_limit(limit)
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
    check_limit(limit)
    value, spread = np.asarray(flow, dtype=np.float64), np.asarray(uncertainty, dtype=np.float64)
    answer = np.full(np.broadcast_shapes(value.shape, spread.shape), Verdict.CANNOT_TELL, np.int8)
    answer[value - spread >= limit] = Verdict.WITHIN
    answer[value + spread < limit] = Verdict.OVER
    return answer


def check_limit(limit: float) -> None:
    """Refuse a limit that is no amount; raises BadInput."""
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
