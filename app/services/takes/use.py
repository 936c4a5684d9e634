"""What was taken against the limits: over, within or cannot tell, and where a season is heading.

Amounts are compared unrounded with their uncertainty and with what may have passed unrecorded
(the capacity of the race, over the time without record; where nobody stated it, nobody can tell).
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series import limits as sums
from app.hydraulics.series.daily import DailyFlow
from app.hydraulics.series.limits import Verdict
from app.hydraulics.series.volumes import project, volume_use
from app.records.database import utc_now
from app.services.days import daily
from app.services.days.staleness import months_why, why_between
from app.services.series.months import date_of, day_begins_s, day_number, instant
from app.services.sites.preferences import water_year_start
from app.services.sites.structures import place
from app.services.takes.capacity import Capacity, capacity
from app.services.takes.limits import LimitLine, limit_line, limits, period_of, season_days
from app.services.takes.lines import MISSING_H, UseLine, said_of
from app.services.takes.rates import Extremes, rates_against


def use(session: Session, structure_id: int, as_of: date | None = None) -> list[UseLine]:
    """Return the use of every limit that holds, in its running period."""
    day = as_of or last_day(session, structure_id) or today(session, structure_id)
    held = [line for line in limits(session, structure_id) if line.holds(day)]
    return marked(session, structure_id, [use_of(session, line, day) for line in held])


def marked(session: Session, structure_id: int, lines: Sequence[UseLine]) -> list[UseLine]:
    """Return uses with the word why days they rest on are out of date."""
    months = months_why(session, structure_id) if lines else {}
    return [replace(x, stale=why_between(months, x.first, x.as_of)) for x in lines]


def today(session: Session, structure_id: int) -> date:
    """Return the site's own day of today: what a limit without any record is asked about."""
    site, _ = place(session, structure_id)
    return (utc_now() + timedelta(minutes=site.utc_offset_min)).date()


def last_day(session: Session, structure_id: int) -> date | None:
    """Return the last whole day on record, so that the running day is not taken for a gap."""
    whole = daily.span(session, structure_id)
    if whole is None:
        return None
    number = day_number(whole[1])
    rows = daily.rows_of(session, structure_id, number, number)
    running = rows[0].measured_s + rows[0].estimated_s < DAY_S - 1.0
    return whole[1] - timedelta(days=1) if running and whole[0] < whole[1] else whole[1]


def use_of(session: Session, line: LimitLine, as_of: date) -> UseLine:
    """Return the use of a limit in the period a day lies in, up to that day."""
    first, last = period_of(line, as_of)
    begin = max(first, line.valid_from)
    end = min(last, as_of, line.valid_to or as_of)
    if end < begin:
        begin = end
    found = daily.arrays(session, line.structure_id, day_number(begin), day_number(end))
    race = capacity(session, line.structure_id, begin, end)
    most = race.rate_m3s
    seconds = (day_number(end) - day_number(begin) + 1) * DAY_S
    missing_h = max(seconds - float(np.sum(found.measured_s + found.estimated_s)), 0.0) / 3600.0
    if line.kind in ("season", "monthly"):
        return _volume(
            line, first, last, begin=begin, end=end, found=found, race=race, missing_h=missing_h
        )
    if line.kind == "daily":
        seen = _days(line, begin, end, found, most)
    else:
        site, _ = place(session, line.structure_id)
        a = day_begins_s(day_number(begin), site.utc_offset_min)
        b = day_begins_s(day_number(end) + 1, site.utc_offset_min)
        seen = rates_against(session, line, a, b, unseen=missing_h > MISSING_H, most_m3s=most)
    pct = None if seen.used is None else _percent(line, seen.used)
    near = pct is not None and line.kind != "residual" and pct >= sums.NEAR_LIMIT_PCT
    return UseLine(
        limit=line,
        first=first,
        last=last,
        as_of=end,
        used=seen.used,
        uncertainty=seen.uncertainty,
        low=seen.low,
        high=seen.high,
        used_pct=pct,
        verdict=seen.verdict.word,
        near=near,
        times_over=seen.times_over,
        times_unknown=seen.times_unknown,
        worst_at=None if seen.at_s is None else instant(seen.at_s),
        missing_h=missing_h,
        capacity_m3s=most,
        capacity_words=race.words,
        words=said_of(line, seen.verdict, pct, missing_h, seen.times_over, race),
        projection=None,
    )


def _percent(line: LimitLine, used: float) -> float | None:
    return 100.0 * used / line.amount if line.amount > 0 else None


def _volume(
    line: LimitLine,
    first: date,
    last: date,
    *,
    begin: date,
    end: date,
    found: DailyFlow,
    race: Capacity,
    missing_h: float,
) -> UseLine:
    most = race.rate_m3s
    got = volume_use(found, day_number(begin), day_number(end), line.amount, largest_rate_m3s=most)
    stop = min(last, line.valid_to or last)
    projection = None
    if stop > end:
        ahead = project(
            found, day_number(begin), day_number(stop), line.amount, day_number(end),
            largest_rate_m3s=most,
        )  # fmt: skip
        projection = {
            "expected": _known(ahead.expected_m3),
            "low": _known(ahead.low_m3),
            "high": _known(ahead.high_m3),
            "reached_day": None if ahead.reached_day is None else date_of(ahead.reached_day),
            "verdict": ahead.verdict.word,
            "method": ahead.method,
        }
    return UseLine(
        limit=line,
        first=first,
        last=last,
        as_of=end,
        used=got.used_m3,
        uncertainty=_known(got.uncertainty_m3),
        low=got.low_m3,
        high=_known(got.high_m3),
        used_pct=_known(got.used_pct),
        verdict=got.verdict.word,
        near=got.near,
        times_over=int(got.verdict is Verdict.OVER),
        times_unknown=int(got.verdict is Verdict.CANNOT_TELL),
        worst_at=None,
        missing_h=missing_h,
        capacity_m3s=most,
        capacity_words=race.words,
        words=said_of(line, got.verdict, _known(got.used_pct), missing_h, 0, race),
        projection=projection,
    )


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _days(
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
    upper = float(np.max(sum(_bounds(found, day_number(begin), day_number(end), most))))
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
    volume, doubt, unseen = _bounds(found, begin, end, most)
    return sums.verdict(volume, doubt, limit_m3, may_have_passed=unseen)


def _bounds(
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


def season_limit(
    session: Session, structure_id: int, limit_id: int | None, as_of: date | None
) -> LimitLine | None:
    """Return the named season limit, or the newest one that holds; None when there is none."""
    if limit_id is not None:
        line = limit_line(session, limit_id)
        if line.structure_id != structure_id or line.kind != "season":
            raise BadInput("limit", limit_id, "is no season limit here", "Choose it again.")
        return line
    day = as_of or last_day(session, structure_id) or date_of(0)
    held = [x for x in limits(session, structure_id) if x.kind == "season" and x.holds(day)]
    return held[-1] if held else None


def season_of(session: Session, line: LimitLine | None, day: date) -> tuple[date, date]:
    """Return first and last day of the season of a limit, or of the water year."""
    if line is not None:
        return period_of(line, day)
    month, first = water_year_start(session)
    begins = date(2001, month, first)
    return season_days(f"{begins:%m-%d}", f"{begins - timedelta(days=1):%m-%d}", day)
