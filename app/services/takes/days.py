"""The days of a season against the limit of a day: each of them, and the largest."""

from datetime import date
from typing import Any

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series import limits as sums
from app.hydraulics.series.daily import DailyFlow
from app.hydraulics.series.limits import Verdict
from app.services.series.months import day_number
from app.services.takes.limits import LimitLine
from app.services.takes.rates import Extremes


def largest_day(
    line: LimitLine, begin: date, end: date, found: DailyFlow, most: float | None
) -> Extremes:
    """Return the largest day against a daily limit."""
    verdicts = day_verdicts(found, line.amount, day_number(begin), day_number(end), most)
    over = int(np.count_nonzero(verdicts == Verdict.OVER))
    unknown = int(np.count_nonzero(verdicts == Verdict.CANNOT_TELL))
    answer = Verdict(int(verdicts.max())) if verdicts.size else Verdict.CANNOT_TELL
    volumes = found.volume_m3
    if not np.isfinite(volumes).any():
        return Extremes(
            used=None,
            uncertainty=None,
            low=None,
            high=None,
            verdict=answer,
            times_over=over,
            times_unknown=unknown,
            at_s=None,
        )
    k = int(np.nanargmax(volumes))
    used, doubt = float(volumes[k]), float(found.volume_uncertainty_m3[k])
    upper = float(np.max(sum(bounds_of(found, day_number(begin), day_number(end), most))))
    return Extremes(
        used=used,
        uncertainty=_known(doubt),
        low=_known(max(used - doubt, 0.0)),
        high=_known(upper),
        verdict=answer,
        times_over=over,
        times_unknown=unknown,
        at_s=int(found.start_s[k]),
    )


def day_verdicts(
    found: DailyFlow, limit_m3: float, begin: int, end: int, most: float | None
) -> np.ndarray[Any, np.dtype[np.int8]]:
    """Return the answer for every day of a range; a day without record passes what may pass."""
    volume, doubt, unseen = bounds_of(found, begin, end, most)
    return sums.verdict(volume, doubt, limit_m3, may_have_passed=unseen)


def bounds_of(
    found: DailyFlow, begin: int, end: int, most: float | None
) -> tuple[Floats, Floats, Floats]:
    """Return volume, its uncertainty and what may have passed unrecorded, m3, of every day."""
    rate = np.inf if most is None else most
    count = end - begin + 1
    volume, doubt = np.zeros(count), np.zeros(count)
    missing = np.full(count, float(DAY_S))
    at = found.day - begin
    volume[at] = np.nan_to_num(found.volume_m3)
    unknown = np.where(np.isnan(found.volume_m3), 0.0, np.inf)
    doubt[at] = np.where(
        np.isnan(found.volume_uncertainty_m3), unknown, found.volume_uncertainty_m3
    )
    missing[at] = found.missing_s
    unseen = np.where(missing > sums.SLACK_S, np.maximum(missing, sums.SLACK_S) * rate, 0.0)
    return volume, doubt, unseen


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
