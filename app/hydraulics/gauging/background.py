"""The background under a tracer cloud: before it, after it, and a straight line between.

Public functions:

    above_background(field, time_s, trace, before=None, after=None) -> Baseline
    one_place(value) -> value that office and phone round alike
    drifted_words(before, after, effect_pct, used) -> the flag of a drift

References
----------
Straight line between the background before and after: Morgenschweis 2010, Hydrometrie, and
ISO 9555-1 (from memory). Drift taken as a rectangular distribution: JCGM 100:2008, 4.3.7.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.rounding import general, signed
from app.hydraulics.base.student import two_sided

ARRIVED = 0.02
"""The cloud has arrived once it is this share of the range above the first reading."""

LEVEL = 0.005
"""The end is level while it keeps within this share of the peak; common practice."""

UNREAD_DRIFT = 0.02
"""Share of the background that it may drift unseen when it was not read after; common practice."""

DRIFT_TOLD_PCT = 0.5
"""Drift of the background is told from this effect on the discharge; common practice."""

NORMAL_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""

FEWEST_DEGREES = 3
"""Degrees of freedom below which scatter is not trusted to be larger; common practice."""


@dataclass(frozen=True, kw_only=True)
class Baseline:
    """A trace above its background; areas are in the trace's unit times seconds.

    `after_from` is "typed", "trace" or "not read". `drift_area` is what a constant background
    would have added to the cloud, `drift_spread` how far a drift that is not straight can reach
    (of it `short_spread` because the end is level for a short while only), and `scatter_spread`
    what the readings' scatter does, all expanded (k = 2).
    """

    rise: Floats
    before: float
    after: float
    before_count: int
    after_from: str
    drift_area: float
    drift_spread: float
    short_spread: float
    scatter_spread: float


def above_background(
    field: str,
    time_s: Floats,
    trace: Sequence[float],
    before: float | None = None,
    after: float | None = None,
) -> Baseline:
    """Return the trace above its background.

    Parameters
    ----------
    field : name of the trace in errors
    time_s, trace : shape (n,), at least three, times in order
    before, after : typed backgrounds at the first and the last time. Left out, the readings
        before the rise and the level readings at the end give them; an end above the background
        before counts as level when it is three readings or more and lasts as long as the cloud
        took from its peak to 1/e of it, because a tail would have fallen meanwhile.

    Raises
    ------
    BadInput
        A trace too short, with a gap or out of order; a background that is not below the peak.
    """
    values = _checked(field, time_s, trace)
    n, first, last = len(values), float(time_s[0]), float(time_s[-1])
    span = last - first
    quiet = _quiet(values, float(values.max() - values[0]), ARRIVED)
    quiet = quiet if quiet < n else 1
    base, base_at = before, first
    if base is None:
        base, base_at = float(values[:quiet].mean()), float(time_s[:quiet].mean())
    _below_peak(base, values.max() - base)
    noise = float(values[:quiet].std(ddof=1)) if quiet >= 3 else 0.0
    level, end, end_at, unseen = _ending(time_s, values, base, base_at, noise)
    from_ = "not read" if unseen is None else "trace"
    at_end = level if from_ == "trace" else 0
    if after is not None:
        end, end_at, from_, unseen = after, last, "typed", 0.0
    known = from_ != "not read"
    slope = (end - base) / (end_at - base_at) if known else 0.0
    line: Floats = base + slope * (time_s - base_at)
    rise = values - line
    _below_peak(base, rise.max())

    hidden_from = float(time_s[quiet - 1]) if before is None else first
    hidden_to = float(time_s[n - level]) if from_ == "trace" else last
    reach = abs(slope) * (hidden_to - hidden_from) * span + (unseen or 0.0) * span
    if not known:
        reach = max(UNREAD_DRIFT * abs(base), abs(end - base)) * span
    return Baseline(
        rise=rise,
        before=base,
        after=float(line[-1]),
        before_count=quiet if before is None else 0,
        after_from=from_,
        drift_area=slope * ((first + last) / 2.0 - base_at) * span,
        drift_spread=reach / math.sqrt(3.0),
        short_spread=(unseen or 0.0) * span / math.sqrt(3.0),
        scatter_spread=_scatter(
            time_s, rise, (quiet, at_end), (before is not None, after is not None or not known)
        ),
    )


def drifted_words(before: float, after: float, effect_pct: float, used: str) -> str:
    """Say what drifted, how far, what it would do to the discharge, and what to do."""
    share = f" ({signed(one_place(100.0 * (after / before - 1.0)), 1)} %)" if before > 0.0 else ""
    effect = (
        f"{signed(one_place(effect_pct), 1)} %"
        if math.isfinite(effect_pct)
        else "more than the cloud"
    )
    return (
        f"background drifted from {general(before)} to {general(after)}{share}: "
        f"ignored, the discharge would be off by {effect}; {used} used, uncertainty widened; "
        "gauge again when it holds still"
    )


def one_place(value: float) -> float:
    """Move a tie away from nothing, so that office and phone write the same digit."""
    return value + math.copysign(1e-9, value)


def _checked(field: str, times: Floats, trace: Sequence[float]) -> Floats:
    values = np.asarray(trace, dtype=np.float64)
    if len(values) != len(times) or len(times) < 3:
        raise BadInput(field, len(values), "needs a time for each of three readings or more",
                       "Check the two columns.")  # fmt: skip
    if not np.all(np.isfinite(values)):
        raise BadInput(field, "a gap", "every reading is a number", "Leave out the empty rows.")
    for i in range(1, len(times)):
        if not times[i] > times[i - 1]:
            raise BadInput(f"time_s {i + 1}", times[i], "times go forward", "Put rows in order.")
    return values


def _below_peak(base: float, rise: float) -> None:
    if not rise > 0.0:
        raise BadInput("background", base, "background is not below the peak",
                       "Read the background before the gulp arrives.")  # fmt: skip


def _run_below(values: Floats, limit: float) -> int:
    """Return how many readings come before two together (or the last) pass the limit."""
    over = values > limit
    for i in range(len(values)):
        if over[i] and (i + 1 == len(values) or over[i + 1]):
            return i
    return len(values)


def _quiet(values: Floats, peak: float, share: float) -> int:
    """Return how many readings from the first on are background, one at least.

    Up to `share` of the peak over the first reading; where six or more stay under a tenth of the
    peak, over the median of the first half of them or its scatter, whichever is more.
    """
    limit = float(values[0]) + share * peak
    near = _run_below(values, float(values[0]) + 0.1 * peak)
    if near >= 6:
        seen = values[: near // 2]
        middle = float(np.median(seen))
        scatter = NORMAL_MAD * float(np.median(np.abs(seen - middle)))
        limit = middle + max(share * peak, 2.0 * scatter)
    return max(_run_below(values, limit), 1)


def _ending(
    times: Floats, values: Floats, base: float, base_at: float, noise: float
) -> tuple[int, float, float, float | None]:
    """Return the level readings at the end: count, mean, its time, and what may hide in them.

    A drift down hides a rest of the cloud. Readings level for as long as the cloud took to fall
    to 1/e hide nothing; a shorter end hides what would fall by the tolerance while it lasted. None
    where the end stands above the background before and is not level: tail or drift, unknown.

    Level against the straight line to the last reading, or flat, whichever lasts longer; the
    later half of them is taken, because what is left of the cloud dies away.
    """
    peak, top = float(values.max()) - base, int(np.argmax(values))
    flat = values - base
    sloped = flat - (values[-1] - base) * (times - base_at) / (times[-1] - base_at)
    count, rise = max(
        (
            (_quiet(each[:top:-1], peak, LEVEL), each)
            for each in (flat, sloped)
            if top < len(each) - 1
        ),
        key=lambda pair: pair[0],
        default=(1, flat),
    )
    lasted = float(times[-1] - times[-count])
    fallen = np.flatnonzero(rise[top:] <= rise[top] / math.e)
    falls_s = float(times[top + fallen[0]] - times[top]) if len(fallen) else math.inf
    kept = (count + 1) // 2 if count >= 6 else count
    end, end_at = float(values[-kept:].mean()), float(times[-kept:].mean())
    if count >= 3 and lasted >= falls_s:
        return kept, end, end_at, 0.0
    tolerance = max(LEVEL * peak, 2.0 * noise)
    if end - base > tolerance or top == len(values) - 1:
        return kept, end, end_at, None
    unseen = UNREAD_DRIFT * abs(base)
    return kept, end, end_at, min(unseen, tolerance * falls_s / lasted) if lasted > 0.0 else unseen


def _scatter(
    times: Floats, rise: Floats, counts: tuple[int, int], single: tuple[bool, bool]
) -> float:
    """Return what scatter of the readings does to the area, expanded, by Student's t.

    `counts` readings at either end show the scatter; an end that is `single` rests on one typed
    reading instead of their mean.
    """
    quiet, level = counts
    squares, degrees = 0.0, 0
    for part in (rise[:quiet], rise[len(rise) - level :]):
        if len(part) > 1:
            squares += float(((part - part.mean()) ** 2).sum())
            degrees += len(part) - 1
    if degrees == 0:
        return 0.0
    step = np.diff(times)
    weights = np.zeros(len(times))
    weights[:-1] += step / 2.0
    weights[1:] += step / 2.0
    readings = float((weights[quiet : len(times) - level] ** 2).sum())
    ends = [1 if alone else max(n, 1) for n, alone in zip(counts, single, strict=True)]
    line = (float(times[-1] - times[0]) / 2.0) ** 2 * (1.0 / ends[0] + 1.0 / ends[1])
    reach = two_sided(max(degrees, FEWEST_DEGREES))
    return reach * math.sqrt(squares / degrees * (readings + line))
