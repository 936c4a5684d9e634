"""Movement over the years: a benchmark that moved, a crest corner that creeps.

Public functions (reduced levels in metres):

    moved_marks(history, *, tolerance_m=0.003) -> list of MarkMove
    corner_trends(years, corners_m, *, tolerance_m=0.002) -> CornerTrends
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.result import Result
from app.hydraulics.base.rounding import fixed, general, signed
from app.hydraulics.base.units import DUST
from app.hydraulics.levelling.results import CORNER_TOLERANCE_M

MARK_TOLERANCE_M = 0.003
"""Change between marks taken as movement; common practice, about two limits of a short run."""


@dataclass(frozen=True)
class MarkMove(Result):
    """A mark found moved: in which run, which one (or which candidates) and by how much."""

    run: int
    marks: tuple[str, ...]
    moved_m: float
    certain: bool
    words: str


@dataclass(frozen=True)
class CornerTrends(Result):
    """Movement of each corner relative to the mean of the corners, over the years."""

    slope_mm_per_year: Floats
    range_m: Floats
    outside: bool
    words: str


def moved_marks(
    history: Sequence[Mapping[str, float]], *, tolerance_m: float = MARK_TOLERANCE_M
) -> list[MarkMove]:
    """Find marks that moved between runs, from the differences between marks alone.

    Parameters
    ----------
    history : sequence of {mark: reduced level, m}, oldest first, each in the datum of its own run
    tolerance_m : change of a difference that counts as movement

    Returns
    -------
    list of MarkMove
        The largest group of marks that kept their differences is held to have stayed. Where no
        group is a majority (two marks, say) all are named and `certain` is false.
    """
    moves: list[MarkMove] = []
    reference: dict[str, float] = {}
    for place, levels in enumerate(history):
        shared = [mark for mark in levels if mark in reference]
        change = {mark: levels[mark] - reference[mark] for mark in shared}
        group = max(
            ([other for other in shared if abs(change[other] - change[mark]) <= tolerance_m + DUST]
             for mark in shared), key=len, default=[],
        )  # fmt: skip
        datum = sum(change[mark] for mark in group) / len(group) if group else 0.0
        strays = [mark for mark in shared if mark not in group]
        renewed = strays
        if strays and 2 * len(group) > len(shared):
            moves += [
                MarkMove(place, (mark,), change[mark] - datum, True,
                         f"{mark} moved {signed((change[mark] - datum) * 1000, 1)} mm")
                for mark in strays
            ]  # fmt: skip
        elif strays:
            apart = max(change.values()) - min(change.values())
            moves.append(
                MarkMove(place, tuple(shared), apart, False,
                         f"one of {', '.join(shared)} moved: they differ by "
                         f"{fixed(apart * 1000, 1)} mm more than before; level to a third mark")
            )  # fmt: skip
            datum, renewed = 0.0, shared
        for mark, level in levels.items():
            if mark not in reference or mark in renewed:
                reference[mark] = level - datum
    return moves


def corner_trends(
    years: ArrayLike,
    corners_m: ArrayLike,
    *,
    tolerance_m: float = CORNER_TOLERANCE_M,
) -> CornerTrends:
    """Return how fast each corner moves relative to the mean of its corners.

    Parameters
    ----------
    years : shape (runs,), decimal years
    corners_m : shape (runs, corners), reduced levels
    tolerance_m : allowed corner range

    Returns
    -------
    CornerTrends
        Slopes in mm a year (NaN from a single run), range of each run, and a word.
    """
    times = np.asarray(years, dtype=np.float64)
    levels = np.asarray(corners_m, dtype=np.float64)
    if levels.ndim != 2 or len(levels) != len(times) or levels.size == 0:
        raise BadInput(
            "corners", levels.shape, "one row of corners for each run", "Level the same corners."
        )
    tilt = levels - levels.mean(axis=1, keepdims=True)
    spread = levels.max(axis=1) - levels.min(axis=1)
    centred = times - times.mean()
    square = float(centred @ centred)
    slope = 1000.0 * (centred @ tilt) / square if square > 0.0 else np.full(levels.shape[1], np.nan)
    wide = fixed(float(spread[-1]) * 1000, 1)
    outside = bool(spread[-1] > tolerance_m + DUST)
    if outside:
        words = f"corner range {wide} mm is outside {general(tolerance_m * 1000)} mm"
    elif square <= 0.0:
        words = "trend unknown: one run only"
    else:
        words = f"corner range {wide} mm is inside {general(tolerance_m * 1000)} mm"
    return CornerTrends(slope, spread, outside, words)
