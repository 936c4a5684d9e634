"""Use of a limit of volume so far, and where it will stand at the end of the period."""

from dataclasses import dataclass

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.daily import DailyFlow
from app.hydraulics.series.limits import NEAR_LIMIT_PCT, SLACK_S, Verdict, check_limit, verdict


@dataclass(frozen=True, kw_only=True)
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
    check_limit(limit_m3)
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
    method = f"mean of the last {min(recent_days, rates.size)} days with record goes on"
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
