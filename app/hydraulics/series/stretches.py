"""The covered stretches of a series, and their cut at a site's midnights.

The idea: a series is a line between neighbouring readings. A stretch between two readings is
*measured* when it is not longer than one and a half usual steps, *estimated* when it is longer
but within the gap rule (default one hour) or when one of its ends is an estimate, and a gap
beyond the gap rule or across a period of no record. A gap is never bridged, and neither is a
reading whose flow is not determined: somebody looked, and the answer was "unknown".

Public functions
----------------
day_start_s(day, utc_offset_min) -> int64
usual_step_s(t_s) -> int | None
gap_rule_s(t_s, gap_s=3600) -> int
closed(how, value_known, flow) -> how with no record where a flow is not determined
stretches(t_s, value, *, how=None, gap_s=3600, step_s=None) -> Stretches
cut_at_midnight(begin_s, end_s) -> Pieces
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Bools, Floats, Ints
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.layers import How

DEFAULT_GAP_S = 3_600  # common practice: up to one hour a straight line, marked estimated
STRETCHED = 1.5  # a stretch over one and a half usual steps has a reading missing inside


def day_start_s(day: Ints, utc_offset_min: int) -> Ints:
    """Return the epoch second at which a site day begins."""
    return np.asarray(day, dtype=np.int64) * DAY_S - utc_offset_min * 60


def usual_step_s(t_s: Ints) -> int | None:
    """Return the commonest spacing in seconds, None when fewer than half of them agree on one."""
    spacing = np.diff(t_s)
    spacing = spacing[spacing > 0]
    if spacing.size == 0:
        return None
    values, counts = np.unique(spacing, return_counts=True)
    best = int(np.argmax(counts))
    return int(values[best]) if counts[best] * 2 >= spacing.size else None


def gap_rule_s(t_s: Ints, gap_s: int = DEFAULT_GAP_S) -> int:
    """Return the gap rule for a series: the default, or one and a half steps of a slow logger."""
    step = usual_step_s(t_s)
    return max(gap_s, int(STRETCHED * step)) if step else gap_s


def closed(how: NDArray[np.int8], read: Floats, flow: Floats) -> NDArray[np.int8]:
    """Return `how` with no record where a head was read and its flow is not known.

    A drowned reading that is not determined, or a head too far above the range, says that the flow
    was not what its neighbours make of it; the intervals beside it are unknown. A value that the
    logger left blank is a missing reading, and stays one.

    Parameters
    ----------
    how : int8 array of `How` codes, shape (n,)
    read, flow : float64 arrays, shape (n,)
        Head (NaN: none was read) and discharge (NaN: not known).
    """
    lost = np.isfinite(read) & ~np.isfinite(flow)
    return np.where(lost, np.int8(How.NO_RECORD), how).astype(np.int8)


@dataclass(frozen=True)
class Stretches:
    """The covered stretches of a series, shape (k,): from reading `first` to reading `second`.

    `first` and `second` are indices into the arrays given; a gap is simply not among them.
    """

    first: Ints
    second: Ints
    estimated: Bools


def stretches(
    t_s: Ints,
    value: Floats,
    *,
    how: NDArray[np.int8] | None = None,
    gap_s: int = DEFAULT_GAP_S,
    step_s: int | None = None,
) -> Stretches:
    """Return the stretches between readings that the gap rule lets count.

    Raises
    ------
    BadInput
        If arrays differ in length, times go backwards, or the gap rule is not above zero.
    """
    _check(t_s, value, gap_s)
    present = np.flatnonzero(np.isfinite(value))
    first, second = present[:-1], present[1:]
    spacing = t_s[second] - t_s[first]
    covered = (spacing > 0) & (spacing <= gap_s)
    step = usual_step_s(t_s) if step_s is None else step_s
    estimated = spacing > STRETCHED * step if step else np.zeros(spacing.shape, dtype=bool)
    if how is not None:
        broken = np.cumsum(how == How.NO_RECORD)
        covered &= broken[first] == broken[second]
        guess = how == How.ESTIMATED
        estimated |= guess[first] | guess[second]
    return Stretches(first[covered], second[covered], estimated[covered])


def _check(t_s: Ints, value: Floats, gap_s: int) -> None:
    if t_s.ndim != 1 or t_s.shape != value.shape:
        raise BadInput(
            "value", value.shape, "one value for each time", "Give arrays of one length."
        )
    if t_s.size and np.any(np.diff(t_s) < 0):
        raise BadInput("time", "unsorted", "times never go backwards", "Sort the series first.")
    if gap_s <= 0:
        raise BadInput("gap", gap_s, "the gap rule is above zero", "Give seconds, such as 3600.")


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """Stretches cut at the site's midnights, shape (p,): day, ends in local seconds, values."""

    day: Ints
    begin_s: Ints
    end_s: Ints
    seconds: Floats
    parent: Ints  # which stretch each piece belongs to
    begin_share: Floats  # where along its stretch the piece begins and ends, 0 to 1
    end_share: Floats


def cut_at_midnight(begin_s: Ints, end_s: Ints) -> Pieces:
    """Cut stretches (local seconds) so that no piece crosses a midnight."""
    day0, day1 = begin_s // DAY_S, (end_s - 1) // DAY_S
    pieces = day1 - day0 + 1
    parent = np.repeat(np.arange(begin_s.size), pieces)
    nth = np.arange(parent.size) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    day = day0[parent] + nth
    begin = np.maximum(begin_s[parent], day * DAY_S)
    end = np.minimum(end_s[parent], (day + 1) * DAY_S)
    span = (end_s - begin_s)[parent].astype(np.float64)
    return Pieces(
        day=day,
        begin_s=begin,
        end_s=end,
        seconds=(end - begin).astype(np.float64),
        parent=parent,
        begin_share=(begin - begin_s[parent]) / span,
        end_share=(end - begin_s[parent]) / span,
    )
