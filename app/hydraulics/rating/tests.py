"""How a rating stands against its gaugings, and what another rating would change.

Deviations are 100 (gauged / rated - 1), rating as base. Public functions:

    bias_test(deviation_pct, *, confidence=0.95) -> BiasTest
    sign_test(deviation_pct) -> SignTest
    run_test(deviation_pct, head_m=None) -> RunTest; put in order of head when heads are given
    drift_test(deviation_pct, days, *, confidence=0.95) -> DriftTest; slope in % a year
    by_season(deviation_pct, seasons, *, confidence=0.95) -> list[SeasonMean], as first seen
    volume_effect(time_s, old_m3s, new_m3s) -> VolumeEffect; gaps (NaN) are not bridged

References
----------
ISO 1100-2: test for absence of bias (Student t), sign test, run test (from memory). Runs given the
numbers of both signs: Wald & Wolfowitz 1940, Ann. Math. Stat. 11 (from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.result import Result
from app.hydraulics.base.student import two_sided

NORMAL_LIMIT = 1.96
"""Two-sided 5 % limit of the normal distribution."""

RUN_CHANCE = 0.025
"""Chance of so few runs, or so many, under which it is not called chance: 5 % for both sides."""


@dataclass(frozen=True)
class BiasTest(Result):
    """Mean deviation against its standard error, by Student's t."""

    mean_pct: float
    standard_error_pct: float
    t: float
    limit: float
    biased: bool | None
    words: str


@dataclass(frozen=True)
class SignTest(Result):
    """Gaugings above and below the rating; z with continuity correction."""

    above: int
    below: int
    z: float
    limit: float
    uneven: bool | None
    words: str


@dataclass(frozen=True, kw_only=True)
class RunTest(Result):
    """Changes of sign in order of head; too few say that the rating is bent."""

    changes: int
    expected: float
    z: float
    limit: float
    chance: float
    bent: bool | None
    words: str


@dataclass(frozen=True)
class DriftTest(Result):
    """Straight line through the deviations over time."""

    slope_pct_per_year: float
    low_pct_per_year: float
    high_pct_per_year: float
    drifts: bool | None
    words: str


@dataclass(frozen=True)
class SeasonMean(Result):
    """Mean deviation of one season with its interval; NaN bounds from one gauging."""

    season: str
    count: int
    mean_pct: float
    low_pct: float
    high_pct: float
    words: str


@dataclass(frozen=True)
class VolumeEffect(Result):
    """Volumes by two ratings over the same times; the old one is the base."""

    old_m3: float
    new_m3: float
    change_m3: float
    change_pct: float
    measured_s: float
    gap_s: float


def bias_test(deviation_pct: ArrayLike, *, confidence: float = 0.95) -> BiasTest:
    """Test whether the deviations average to nothing.

    Parameters
    ----------
    deviation_pct : shape (n,)
    """
    d = _values(deviation_pct)
    mean = float(d.mean())
    if len(d) < 2:
        return BiasTest(mean, math.nan, math.nan, math.nan, None, "unknown: one gauging only")
    error = float(d.std(ddof=1)) / math.sqrt(len(d))
    limit = two_sided(len(d) - 1, confidence)
    t = mean / error if error > 0.0 else math.copysign(math.inf, mean) if mean else 0.0
    biased = abs(t) > limit
    if not biased:
        words = f"no bias shown: mean {mean:+.1f} % could be chance"
    elif mean > 0.0:
        words = f"the rating reads low: gaugings are {mean:+.1f} % on average"
    else:
        words = f"the rating reads high: gaugings are {mean:+.1f} % on average"
    return BiasTest(mean, error, t, limit, biased, words)


def sign_test(deviation_pct: ArrayLike) -> SignTest:
    """Test whether as many gaugings lie above the rating as below; exact zeros are left out."""
    d = _values(deviation_pct)
    above, below = int(np.count_nonzero(d > 0.0)), int(np.count_nonzero(d < 0.0))
    n = above + below
    if n < 2:
        return SignTest(above, below, math.nan, NORMAL_LIMIT, None, "unknown: too few gaugings")
    z = max(abs(above - n / 2.0) - 0.5, 0.0) / math.sqrt(n / 4.0)
    uneven = z > NORMAL_LIMIT
    side = "above" if above > below else "below"
    words = f"too many gaugings {side} the rating" if uneven else "signs are evenly enough shared"
    return SignTest(above, below, z, NORMAL_LIMIT, uneven, words)


def run_test(deviation_pct: ArrayLike, head_m: ArrayLike | None = None) -> RunTest:
    """Count changes of sign along the rating, given how many gaugings lie above and below it.

    A bias puts most gaugings on one side and leaves few changes to be had; the numbers of both
    sides are therefore taken as given (Wald & Wolfowitz 1940). `z` is for show, by the moments of
    the runs; the word rests on the exact chance of so few, or so many, at 2.5 % each.
    """
    d = _values(deviation_pct)
    if head_m is not None:
        heads = _values(head_m)
        if len(heads) != len(d):
            raise BadInput("head_m", len(heads), f"there are {len(d)} gaugings", "One head each.")
        d = d[np.argsort(heads, kind="stable")]
    signs = np.sign(d[d != 0.0])
    n = len(signs)
    above, below = int(np.count_nonzero(signs > 0)), int(np.count_nonzero(signs < 0))
    changes = int(np.count_nonzero(np.diff(signs)))
    if n < 3 or not above or not below:
        words = "unknown: too few gaugings" if n < 3 else "unknown: all gaugings lie on one side"
        return RunTest(
            changes=changes,
            expected=math.nan,
            z=math.nan,
            limit=NORMAL_LIMIT,
            chance=math.nan,
            bent=None,
            words=words,
        )
    expected = 2.0 * above * below / n
    spread = math.sqrt(expected * (expected - 1.0) / (n - 1)) if expected > 1.0 else 0.0
    z = max(abs(changes - expected) - 0.5, 0.0) / spread if spread else 0.0
    few, many = run_chances(changes + 1, above, below)
    bent = few <= RUN_CHANCE
    if bent:
        words = "too few changes of sign: the rating is bent against the gaugings"
    elif many <= RUN_CHANCE:
        words = "more changes of sign than chance gives: look at pairs of gaugings"
    else:
        words = "no bend shown"
    return RunTest(
        changes=changes,
        expected=expected,
        z=z,
        limit=NORMAL_LIMIT,
        chance=min(few, many),
        bent=bent,
        words=words,
    )


def run_chances(runs: int, above: int, below: int) -> tuple[float, float]:
    """Return the chances of at most and of at least so many runs among given numbers of signs.

    The exact distribution: Wald & Wolfowitz 1940; tables of Swed & Eisenhart 1943.
    """
    whole = math.comb(above + below, above)
    ways = {r: _run_ways(r, above, below) for r in range(2, above + below + 1)}
    few = sum(count for r, count in ways.items() if r <= runs)
    many = sum(count for r, count in ways.items() if r >= runs)
    return few / whole, many / whole


def _run_ways(runs: int, above: int, below: int) -> int:
    half, odd = divmod(runs, 2)
    if not odd:
        return 2 * math.comb(above - 1, half - 1) * math.comb(below - 1, half - 1)
    return math.comb(above - 1, half) * math.comb(below - 1, half - 1) + math.comb(
        above - 1, half - 1
    ) * math.comb(below - 1, half)


def drift_test(deviation_pct: ArrayLike, days: ArrayLike, *, confidence: float = 0.95) -> DriftTest:
    """Fit a straight line through deviations over time and test its slope.

    Parameters
    ----------
    deviation_pct, days : shape (n,); days from any start
    """
    d, t = _values(deviation_pct), _values(days) / 365.25
    if len(d) != len(t):
        raise BadInput("days", len(t), f"there are {len(d)} gaugings", "One date each.")
    away = t - t.mean()
    square = float(away @ away)
    if len(d) < 3 or square <= 0.0:
        return DriftTest(math.nan, math.nan, math.nan, None, "unknown: too few gaugings or dates")
    slope = float(away @ d) / square
    left = d - d.mean() - slope * away
    reach = two_sided(len(d) - 2, confidence) * math.sqrt(
        float(left @ left) / (len(d) - 2) / square
    )
    drifts = abs(slope) > reach
    words = f"drifts {slope:+.1f} % a year" if drifts else "no drift shown"
    return DriftTest(slope, slope - reach, slope + reach, drifts, words)


def by_season(
    deviation_pct: ArrayLike, seasons: Sequence[str], *, confidence: float = 0.95
) -> list[SeasonMean]:
    """Return the mean deviation of each season with its interval."""
    d = _values(deviation_pct)
    if len(seasons) != len(d):
        raise BadInput("seasons", len(seasons), f"there are {len(d)} gaugings", "One season each.")
    names = np.array(seasons)
    found = []
    for season in dict.fromkeys(seasons):
        part = d[names == season]
        mean, reach = float(part.mean()), math.nan
        words = "unknown: one gauging only"
        if len(part) > 1:
            error = float(part.std(ddof=1)) / math.sqrt(len(part))
            reach = two_sided(len(part) - 1, confidence) * error
            words = "off the rating" if abs(mean) > reach else "on the rating"
        found.append(SeasonMean(season, len(part), mean, mean - reach, mean + reach, words))
    return found


def volume_effect(time_s: ArrayLike, old_m3s: ArrayLike, new_m3s: ArrayLike) -> VolumeEffect:
    """Integrate two ratings' discharges by trapezoids where both are known.

    Parameters
    ----------
    time_s, old_m3s, new_m3s : shape (n,); NaN is a gap, and its interval counts for neither
    """
    t, old, new = (np.asarray(each, dtype=np.float64) for each in (time_s, old_m3s, new_m3s))
    if not t.shape == old.shape == new.shape or t.ndim != 1:
        raise BadInput("time_s", t.shape, "one old and one new flow a time", "Check the columns.")
    step = np.diff(t)
    if np.any(step <= 0.0):
        raise BadInput("time_s", "out of order", "times go forward", "Put the rows in order.")
    by_old, by_new = (step * (q[:-1] + q[1:]) / 2.0 for q in (old, new))
    known = np.isfinite(by_old) & np.isfinite(by_new)
    before, after = float(by_old[known].sum()), float(by_new[known].sum())
    change_pct = 100.0 * (after - before) / before if before > 0.0 else math.nan
    return VolumeEffect(
        before, after, after - before, change_pct,
        float(step[known].sum()), float(step[~known].sum()),
    )  # fmt: skip


def _values(values: ArrayLike) -> Floats:
    found = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if found.size == 0 or not np.all(np.isfinite(found)):
        raise BadInput("deviation_pct", "a gap", "needs a number for every gauging",
                       "Leave out gaugings without a rated discharge.")  # fmt: skip
    return found
