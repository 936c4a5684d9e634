"""Totals of months and water years from daily flows, and the flow duration curve.

Public functions
----------------
month_starts(first_day, last_day) -> int64 day numbers, shape (m + 1,)
water_year_starts(first_day, last_day, *, month=7, day=1) -> int64 day numbers, shape (y + 1,)
period_totals(daily, starts) -> PeriodTotals
exceedance_pct(discharge_m3s) -> (exceedance_pct, discharge_m3s sorted from high to low)
flow_exceeded(discharge_m3s, exceeded_pct) -> float64 array
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.daily import DailyFlow


def month_starts(first_day: int, last_day: int) -> Ints:
    """Return the first day numbers of the months from first to last day, and the one after."""
    first = np.datetime64(int(first_day), "D").astype("M8[M]")
    last = np.datetime64(int(last_day), "D").astype("M8[M]")
    months = np.arange(first, last + 2)
    return months.astype("M8[D]").astype(np.int64)


def water_year_starts(first_day: int, last_day: int, *, month: int = 7, day: int = 1) -> Ints:
    """Return the first day numbers of the water years that hold first to last day, and the next.

    Raises
    ------
    BadInput
        If month and day are not a date of every year.
    """
    try:
        date(2001, month, day)
    except ValueError:
        raise BadInput(
            "water year", f"{day}/{month}", "starts on a date of every year", "Such as 1 July."
        ) from None
    year0 = (np.datetime64(int(first_day), "D").astype("M8[Y]").astype(int) + 1970) - 1
    year1 = (np.datetime64(int(last_day), "D").astype("M8[Y]").astype(int) + 1970) + 2
    starts = np.array(
        [np.datetime64(f"{year:04d}-{month:02d}-{day:02d}", "D") for year in range(year0, year1)]
    ).astype(np.int64)
    inside = np.searchsorted(starts, first_day, "right") - 1
    beyond = np.searchsorted(starts, last_day, "right")
    return starts[inside : beyond + 1]


@dataclass(frozen=True, kw_only=True)
class PeriodTotals:
    """One row a period, arrays of shape (p,).

    `missing_fraction` is by time over the *whole* period, also over days that have no row at
    all; volumes are of the covered time and NaN when nothing is covered.
    """

    first_day: Ints
    days: Ints
    volume_m3: Floats
    measured_m3: Floats
    estimated_m3: Floats
    volume_uncertainty_m3: Floats
    mean_m3s: Floats
    low_m3s: Floats
    low_at_s: Ints
    high_m3s: Floats
    high_at_s: Ints
    missing_fraction: Floats
    full_days: Ints


def period_totals(daily: DailyFlow, starts: Ints) -> PeriodTotals:
    """Add daily flows up between neighbouring starts (day numbers, ascending).

    Raises
    ------
    BadInput
        If there are fewer than two starts or they do not ascend.
    """
    if starts.size < 2 or np.any(np.diff(starts) <= 0):
        raise BadInput("starts", starts.size, "periods need ascending starts", "Give two or more.")
    count = starts.size - 1
    slot = np.searchsorted(starts, daily.day, "right") - 1
    inside = (slot >= 0) & (slot < count)
    slot = slot[inside]

    def total(values: Floats) -> Floats:
        weights = np.nan_to_num(values[inside])
        return np.bincount(slot, weights=weights, minlength=count).astype(np.float64)

    covered = total(daily.measured_s + daily.estimated_s)
    nothing = covered == 0.0
    days = np.diff(starts)
    volume = np.where(nothing, np.nan, total(daily.volume_m3))
    unknown = np.isnan(daily.volume_uncertainty_m3) & ~np.isnan(daily.volume_m3)
    spread = np.where(
        nothing | (total(unknown.astype(np.float64)) > 0),
        np.nan,
        total(daily.volume_uncertainty_m3),
    )
    low, low_at = _first_best(slot, daily.low_m3s[inside], daily.low_at_s[inside], count, -1.0)
    high, high_at = _first_best(slot, daily.high_m3s[inside], daily.high_at_s[inside], count, 1.0)
    return PeriodTotals(
        first_day=starts[:-1],
        days=days,
        volume_m3=volume,
        measured_m3=np.where(nothing, np.nan, total(daily.measured_m3)),
        estimated_m3=np.where(nothing, np.nan, total(daily.estimated_m3)),
        volume_uncertainty_m3=spread,
        mean_m3s=volume / np.where(nothing, np.nan, covered),
        low_m3s=low,
        low_at_s=low_at,
        high_m3s=high,
        high_at_s=high_at,
        missing_fraction=1.0 - covered / (days * DAY_S),
        full_days=total((~daily.partial).astype(np.float64)).astype(np.int64),
    )


def _first_best(
    slot: Ints, value: Floats, at_s: Ints, count: int, sign: float
) -> tuple[Floats, Ints]:
    """Return the extreme of each slot and its earliest time; NaN and -1 where there is none."""
    best = np.full(count, -np.inf)
    known = ~np.isnan(value)
    np.maximum.at(best, slot[known], sign * value[known])
    at = np.full(count, np.iinfo(np.int64).max)
    hit = known & (sign * value == best[slot])
    np.minimum.at(at, slot[hit], at_s[hit])
    none = np.isinf(best)
    return np.where(none, np.nan, sign * best), np.where(none, -1, at)


def exceedance_pct(discharge_m3s: Floats) -> tuple[Floats, Floats]:
    """Return exceedance in per cent and the flows from high to low; missing is left out.

    References
    ----------
    Weibull plotting position: rank m of n has p = m / (n + 1).
    """
    flows = np.sort(discharge_m3s[np.isfinite(discharge_m3s)])[::-1]
    return 100.0 * np.arange(1, flows.size + 1) / (flows.size + 1), flows


def flow_exceeded(discharge_m3s: Floats, exceeded_pct: ArrayLike) -> Floats:
    """Return the flow exceeded that share of the time; NaN beyond the ranks, never extrapolated."""
    pct, flows = exceedance_pct(discharge_m3s)
    asked = np.atleast_1d(np.asarray(exceeded_pct, dtype=np.float64))
    if flows.size == 0:
        return np.full(asked.shape, np.nan)
    # one part in 1e12: the first rank asked for by its own percentage must not fall outside
    slack = 1e-10
    asked = np.where(np.abs(asked - pct[0]) < slack, pct[0], asked)
    asked = np.where(np.abs(asked - pct[-1]) < slack, pct[-1], asked)
    return np.interp(asked, pct, flows, left=np.nan, right=np.nan)
