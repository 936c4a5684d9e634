"""Check gaugings: what every method hands back, the simple methods, and the verdict.

Velocity-area is in `velocity_area`, tracers in `dilution`. Uncertainties are expanded,
k = 2 (95 %). Public functions (SI):

    volumetric(*, volume_m3, times_s, volume_uncertainty_pct=1, timer_uncertainty_s=0.1) -> Gauging;
        volume_m3 one number or one for each fill
    float_gauging(*, distance_m, times_s, area_m2, factor=0.85, uncertainty_pct=25) -> Gauging
    known_gauging(method, discharge_m3s, uncertainty_pct) -> Gauging (portable plate or flume)
    mean_head(heads_m, times_s=None, *, limit_pct=2) -> HeadDuring
    mean_and_error(values) -> MeanAndError(mean, standard_error, count)
    verdict(*, discharge_m3s, uncertainty_pct, rating_m3s, rating_uncertainty_pct, tolerance_pct=10,
            indication_only=False) -> Verdict
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.result import Result
from app.hydraulics.base.rounding import fixed, general, signed
from app.hydraulics.base.student import two_sided

ONE_FILL_PCT = 10.0
"""Scatter assumed when a fill was not repeated; common practice."""

SHORTEST_FILL_S = 5.0
"""Least filling time, Morgenschweis 2010, Hydrometrie."""


@dataclass(frozen=True, kw_only=True)
class Gauging(Result):
    """One gauging: discharge, expanded uncertainty, its parts in %, and flags in words."""

    method: str
    discharge_m3s: float
    uncertainty_pct: float
    parts: dict[str, float]
    flags: tuple[str, ...]
    indication_only: bool = False


@dataclass(frozen=True)
class MeanAndError(Result):
    """Mean of repeats and its standard error; NaN from one value."""

    mean: float
    standard_error: float
    count: int


@dataclass(frozen=True)
class HeadDuring(Result):
    """Head over the time of a gauging."""

    mean_m: float
    change_m: float
    change_pct: float
    steady: bool | None
    word: str


@dataclass(frozen=True)
class Verdict(Result):
    """A gauging against the rating; the rating is the base of the deviation."""

    word: str
    reason: str
    deviation_pct: float
    e_n: float
    tolerance_pct: float
    tolerance_word: str


def volumetric(
    *,
    volume_m3: float | Sequence[float],
    times_s: Sequence[float],
    volume_uncertainty_pct: float = 1.0,
    timer_uncertainty_s: float = 0.1,
) -> Gauging:
    """Gauge by repeated fills: all the volume over all the time.

    Parameters
    ----------
    volume_m3 : float, or one for each fill
    times_s : filling times, at least one, five or more wanted
    volume_uncertainty_pct, timer_uncertainty_s : expanded, common practice defaults

    Raises
    ------
    BadInput
        No fill, or a time or volume that is not positive.
    """
    if len(times_s) == 0:
        raise BadInput("times_s", "none", "needs a fill", "Time at least one fill.")
    times = [_positive(f"times_s {i}", each) for i, each in enumerate(times_s, start=1)]
    given = [volume_m3] * len(times) if isinstance(volume_m3, (int, float)) else list(volume_m3)
    if len(given) != len(times):
        raise BadInput(
            "volume_m3",
            len(given),
            f"not as many as times: {len(times)}",
            "Give one volume a fill.",
        )
    volumes = [_positive("volume_m3", each) for each in given]
    pace = mean_and_error([t / v for t, v in zip(times, volumes, strict=True)])
    mean_time = sum(times) / len(times)
    flags = []
    if len(times) == 1:
        scatter = ONE_FILL_PCT
        flags.append(f"one fill: scatter unknown, {ONE_FILL_PCT:g} % taken")
    else:
        scatter = 100.0 * two_sided(len(times) - 1) * pace.standard_error / pace.mean
        if len(times) < 5:
            flags.append("fewer than five fills")
    if mean_time < SHORTEST_FILL_S:
        flags.append(f"fills shorter than {SHORTEST_FILL_S:g} s: use a larger vessel")
    parts = {
        "scatter": scatter,
        "volume": volume_uncertainty_pct,
        "timer": 100.0 * timer_uncertainty_s / mean_time,
    }
    return Gauging(
        method="volumetric",
        discharge_m3s=sum(volumes) / sum(times),
        uncertainty_pct=math.hypot(*parts.values()),
        parts=parts,
        flags=tuple(flags),
    )


def float_gauging(
    *,
    distance_m: float,
    times_s: Sequence[float],
    area_m2: float,
    factor: float = 0.85,
    uncertainty_pct: float = 25.0,
) -> Gauging:
    """Gauge by surface floats: factor x distance / mean time x area. An indication only.

    The factor lies between 0.84 and 0.90 (ISO 748, from memory) and lower in shallow races.
    """
    times = [_positive(f"times_s {i}", each) for i, each in enumerate(times_s, start=1)]
    if not times:
        raise BadInput("times_s", "none", "needs a float timed", "Time at least one float.")
    if not 0.0 < factor <= 1.0:
        raise BadInput("factor", factor, "lies between 0 and 1", "0.85 is common.")
    speed = factor * _positive("distance_m", distance_m) / (sum(times) / len(times))
    flags = ["indication only"]
    if len(times) < 3:
        flags.append("fewer than three floats")
    return Gauging(
        method="float",
        discharge_m3s=speed * _positive("area_m2", area_m2),
        uncertainty_pct=uncertainty_pct,
        parts={"method": uncertainty_pct},
        flags=tuple(flags),
        indication_only=True,
    )


def known_gauging(method: str, discharge_m3s: float, uncertainty_pct: float) -> Gauging:
    """Carry a discharge found by another rated device, such as a portable plate."""
    return Gauging(
        method=method,
        discharge_m3s=_positive("discharge_m3s", discharge_m3s),
        uncertainty_pct=_positive("uncertainty_pct", uncertainty_pct),
        parts={"device": uncertainty_pct},
        flags=(),
    )


def mean_and_error(values: Sequence[float]) -> MeanAndError:
    """Return mean and standard error of repeats, s / sqrt(n) (GUM, type A)."""
    found = np.asarray(values, dtype=np.float64)
    if found.size == 0 or not np.all(np.isfinite(found)):
        raise BadInput("values", "none", "needs numbers", "Give at least one reading.")
    count = len(found)
    error = float(found.std(ddof=1)) / math.sqrt(count) if count > 1 else math.nan
    return MeanAndError(float(found.mean()), error, count)


def mean_head(
    heads_m: Sequence[float], times_s: Sequence[float] | None = None, *, limit_pct: float = 2.0
) -> HeadDuring:
    """Return the time-weighted mean head of a gauging and whether it held still.

    The limit, 2 % of head from first to last, is common practice.
    """
    heads = [_positive("heads_m", each) for each in heads_m]
    if not heads:
        raise BadInput("heads_m", "none", "needs a head", "Read the staff at start and end.")
    if times_s is not None and len(times_s) != len(heads):
        raise BadInput("times_s", len(times_s), "one time a head", "Time every reading.")
    if len(heads) == 1:
        return HeadDuring(heads[0], math.nan, math.nan, None, "unknown: one reading of head")
    times = list(times_s) if times_s is not None else [float(i) for i in range(len(heads))]
    steps = [later - sooner for sooner, later in pairwise(times)]
    if min(steps) <= 0.0:
        raise BadInput("times_s", times, "times go forward", "Put the readings in order.")
    area = sum(s * (a + b) / 2.0 for s, a, b in zip(steps, heads, heads[1:], strict=False))
    mean = area / sum(steps)
    change = heads[-1] - heads[0]
    change_pct = 100.0 * change / mean
    spread_pct = 100.0 * (max(heads) - min(heads)) / mean
    steady = spread_pct <= limit_pct + 1e-9
    word = (
        "steady" if steady else f"head moved {fixed(spread_pct, 1)} %: over {general(limit_pct)} %"
    )
    return HeadDuring(mean, change, change_pct, steady, word)


def verdict(
    *,
    discharge_m3s: float,
    uncertainty_pct: float,
    rating_m3s: float | None,
    rating_uncertainty_pct: float | None,
    tolerance_pct: float = 10.0,
    indication_only: bool = False,
) -> Verdict:
    """Judge the rating by a gauging: agrees, fails, or not proven, and say why.

    E_n = |Qg - Qr| / sqrt(Ug^2 + Ur^2) in absolute units, k = 2; above 1 the two differ by more
    than both explain, and the rating fails. Agreement needs E_n <= 1, a deviation inside the
    tolerance and a gauging no less certain than the tolerance; else nothing is proven.
    `tolerance_word` is the guarded rule of a permit: |deviation| + Ug <= tolerance is "verified",
    |deviation| - Ug > tolerance "fails", between them "not proven either way".

    References
    ----------
    E_n: EUROLAB Cook Book no. 4, 2018 (the ISO 13528 form).
    """
    gauged = _positive("discharge_m3s", discharge_m3s)
    spread = _positive("uncertainty_pct", uncertainty_pct)
    if rating_m3s is None or rating_uncertainty_pct is None or not 0.0 < rating_m3s < math.inf:
        reason = "no rated discharge with its uncertainty at this head"
        return Verdict("not proven", reason, math.nan, math.nan, tolerance_pct, "not proven")
    deviation = 100.0 * (gauged / rating_m3s - 1.0)
    either = math.hypot(gauged * spread / 100.0, rating_m3s * rating_uncertainty_pct / 100.0)
    e_n = abs(gauged - rating_m3s) / either
    size, limit = abs(deviation), general(tolerance_pct)
    dust = 1e-9
    if size + spread <= tolerance_pct + dust:
        tolerance_word = "verified"
    elif size - spread > tolerance_pct + dust:
        tolerance_word = "fails"
    else:
        tolerance_word = "not proven either way"
    if indication_only:
        word, reason = "not proven", "indication only: the method cannot judge a rating"
        tolerance_word = "not proven either way"
    elif e_n > 1.0 + dust:
        word = "fails"
        reason = (
            f"differs by {signed(deviation, 1)} %, more than both uncertainties explain: "
            "check geometry, zero, submergence and repeat before touching the rating"
        )
    elif spread > tolerance_pct + dust:
        word = "not proven"
        reason = f"the gauging is known to {fixed(spread, 1)} % only, the tolerance is {limit} %"
    elif size > tolerance_pct + dust:
        word = "not proven"
        reason = f"{signed(deviation, 1)} % is outside {limit} % but the uncertainties overlap"
    else:
        word = "agrees"
        reason = f"{signed(deviation, 1)} % is inside {limit} % and both uncertainties overlap"
    return Verdict(word, reason, deviation, e_n, tolerance_pct, tolerance_word)


def _positive(field: str, value: float) -> float:
    if not (value > 0.0 and math.isfinite(value)):
        raise BadInput(field, value, "must be more than zero", "Measure it again.")
    return float(value)
