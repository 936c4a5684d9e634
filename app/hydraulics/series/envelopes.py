"""Low, high and mean of a series by buckets of time, for drawing years on a small screen.

The idea: every bucket keeps its lowest and its highest value, so a peak survives any thinning;
and a bucket never holds points from both sides of a gap: it is cut there and the cut is kept as
`gap_before`, so that a gap stays open at any zoom. Envelopes can be made coarser from envelopes
(`coarsen`), which is how the long views are served from a stored daily table.

Public functions
----------------
envelope(t_s, value, step_s, *, gap_s=3600, how=None, origin_s=0) -> Envelope
coarsen(envelope, step_s, *, origin_s=0) -> Envelope
thin(t_s, value, buckets, *, gap_s=3600, how=None, from_s=None, to_s=None) -> Envelope
columns(envelope) -> dict[str, list]: t, low, high, mean, None in the row that opens a gap
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Bools, Floats, Ints
from app.hydraulics.series.layers import How
from app.hydraulics.series.stretches import DEFAULT_GAP_S


@dataclass(frozen=True, kw_only=True)
class Envelope:
    """Rows of shape (k,): first and last time of the points, low, high, mean, their number.

    `gap_before` says that the line must not be drawn from the row before to this one.
    `high_at_s` is the time of the first highest value.
    """

    step_s: int
    from_s: Ints
    to_s: Ints
    low: Floats
    high: Floats
    high_at_s: Ints
    mean: Floats
    count: Ints
    gap_before: Bools


def _positive(step_s: int) -> None:
    if step_s <= 0:
        raise BadInput("step", step_s, "a bucket is longer than zero", "Give seconds above zero.")


def envelope(
    t_s: Ints,
    value: Floats,
    step_s: int,
    *,
    gap_s: int = DEFAULT_GAP_S,
    how: NDArray[np.int8] | None = None,
    origin_s: int = 0,
) -> Envelope:
    """Return the envelope of a series in buckets of `step_s` seconds counted from `origin_s`.

    Parameters
    ----------
    t_s : int64 array, shape (n,), epoch seconds, never going backwards
    value : float64 array, shape (n,); NaN is missing
    gap_s : int
        Neighbouring readings further apart than this are a gap.
    how : int8 array of `How` codes; a period of no record is a gap however short
    """
    _positive(step_s)
    present = np.flatnonzero(np.isfinite(value))
    t, v = t_s[present], value[present]
    gap = np.zeros(t.size, dtype=bool)
    if t.size:
        gap[1:] = np.diff(t) > gap_s
        if how is not None:
            broken = np.cumsum(how == How.NO_RECORD)[present]
            gap[1:] |= np.diff(broken) > 0
    points = Envelope(
        step_s=0,
        from_s=t,
        to_s=t,
        low=v,
        high=v,
        high_at_s=t,
        mean=v,
        count=np.ones(t.size, dtype=np.int64),
        gap_before=gap,
    )
    return coarsen(points, step_s, origin_s=origin_s)


def coarsen(fine: Envelope, step_s: int, *, origin_s: int = 0) -> Envelope:
    """Return a coarser envelope; no low, high or gap of the finer one is lost.

    Rows are placed by their first time, so a bucket may reach over its end by a finer one.
    """
    _positive(step_s)
    if fine.from_s.size == 0:
        return Envelope(
            step_s=step_s,
            from_s=fine.from_s,
            to_s=fine.to_s,
            low=fine.low,
            high=fine.high,
            high_at_s=fine.high_at_s,
            mean=fine.mean,
            count=fine.count,
            gap_before=fine.gap_before,
        )
    bucket = (fine.from_s - origin_s) // step_s
    start = fine.gap_before.copy()
    start[0] = True
    start[1:] |= np.diff(bucket) > 0
    at = np.flatnonzero(start)
    sizes = np.diff(at, append=bucket.size)
    count = np.add.reduceat(fine.count, at)
    high = np.maximum.reduceat(fine.high, at)
    low = np.minimum.reduceat(fine.low, at)
    peak = fine.high == np.repeat(high, sizes)
    high_at = np.minimum.reduceat(np.where(peak, fine.high_at_s, np.iinfo(np.int64).max), at)
    mean = np.add.reduceat(fine.mean * fine.count, at) / count
    return Envelope(
        step_s=step_s,
        from_s=fine.from_s[at],
        to_s=fine.to_s[at + sizes - 1],
        low=low,
        high=high,
        high_at_s=high_at,
        mean=np.clip(mean, low, high),  # a sum's rounding must not leave the envelope
        count=count,
        gap_before=fine.gap_before[at],
    )


def thin(
    t_s: Ints,
    value: Floats,
    buckets: int,
    *,
    gap_s: int = DEFAULT_GAP_S,
    how: NDArray[np.int8] | None = None,
    from_s: int | None = None,
    to_s: int | None = None,
) -> Envelope:
    """Return an envelope of at most about `buckets` rows (plus one at each gap) for a view."""
    if buckets <= 0:
        raise BadInput("buckets", buckets, "a view has at least one bucket", "Give 1 or more.")
    if t_s.size == 0:
        return envelope(t_s, value, 1, gap_s=gap_s)
    begin = int(t_s[0]) if from_s is None else from_s
    end = int(t_s[-1]) if to_s is None else to_s
    a, b = int(np.searchsorted(t_s, begin, "left")), int(np.searchsorted(t_s, end, "right"))
    cut_how = None if how is None else how[a:b]
    step = 1 if b - a <= buckets else max(1, -(-(end - begin + 1) // buckets))
    return envelope(t_s[a:b], value[a:b], step, gap_s=gap_s, how=cut_how, origin_s=begin)


def columns(view: Envelope) -> dict[str, list[Any]]:
    """Return columns for a chart: t, low, high, mean; a row of None opens each gap.

    The empty row lies in the middle of the gap, so times still ascend.
    """
    at = np.flatnonzero(view.gap_before[1:]) + 1
    middle = (view.to_s[at - 1] + view.from_s[at]) // 2
    out: dict[str, list[Any]] = {"t": np.insert(view.from_s, at, middle).tolist()}
    for name, values in (("low", view.low), ("high", view.high), ("mean", view.mean)):
        filled: list[Any] = np.insert(values, at, np.nan).tolist()
        for row in (at + np.arange(at.size)).tolist():
            filled[row] = None
        out[name] = filled
    return out
