"""What was taken against the limits: over, within or cannot tell, and where a season is heading.

Amounts are compared unrounded with their uncertainty and with what may have passed unrecorded
(the capacity of the race, over the time without record; where nobody stated it, nobody can tell).
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series import limits as sums
from app.hydraulics.series.daily import DailyFlow
from app.hydraulics.series.limits import Verdict
from app.hydraulics.series.volumes import project, volume_use
from app.records.sites import Site, Structure
from app.services.days import daily
from app.services.days.staleness import stale_months_of, why_between
from app.services.series.flow import inputs_of_many
from app.services.series.months import date_of, day_number, instant
from app.services.series.read import STRUCTURES_AT_ONCE, cut
from app.services.settings.in_force import water_year_start
from app.services.takes.capacity import Capacity, capacity
from app.services.takes.days import largest_day
from app.services.takes.limits import (
    RATES,
    LimitLine,
    limit_line,
    limits,
    period_of,
    season_days,
)
from app.services.takes.lines import MISSING_H, UseLine, said_of
from app.services.takes.rates import rates_against
from app.services.takes.shelf import Shelf, last_days, shelf_of, today_at
from app.services.takes.shelf import last_day as last_day


def use(session: Session, structure_id: int, as_of: date | None = None) -> list[UseLine]:
    """Return the use of every limit that holds, in its running period."""
    return use_of_many(session, limits(session, structure_id), as_of)


def use_of_many(
    session: Session, lines: Sequence[LimitLine], as_of: date | None = None
) -> list[UseLine]:
    """Return the use of those limits that hold on the day each is asked about, in their order.

    They are read a few dozen structures at a time, so that the memory stays bounded.
    """
    held = holding(session, lines, as_of)
    ids = sorted({line.structure_id for line, _ in held})
    found: list[UseLine] = []
    for start in range(0, len(ids), STRUCTURES_AT_ONCE):
        some = set(ids[start : start + STRUCTURES_AT_ONCE])
        part = [(line, day) for line, day in held if line.structure_id in some]
        part.sort(key=lambda pair: pair[0].structure_id)
        shelf = shelf_of(session, *needs([(line, *asked_days(line, day)) for line, day in part]))
        found += marked(session, [use_of(session, line, day, shelf) for line, day in part])
    return found


def holding(
    session: Session, lines: Sequence[LimitLine], as_of: date | None = None
) -> list[tuple[LimitLine, date]]:
    """Return the limits that hold on the day that each is asked about, with that day.

    It is the last whole day on record, or the site's own today where nothing is on record.
    """
    ids = {line.structure_id for line in lines}
    days = {} if as_of else last_days(session, ids)
    sites = session.exec(
        select(Structure, Site).where(
            col(Structure.id).in_(ids), col(Structure.site_id) == col(Site.id)
        )
    )
    now = {structure.id: today_at(site) for structure, site in sites}
    asked = [(line, as_of or days.get(line.structure_id, now[line.structure_id])) for line in lines]
    return [(line, day) for line, day in asked if line.holds(day)]


def marked(session: Session, lines: Sequence[UseLine]) -> list[UseLine]:
    """Return uses with the word why days they rest on are out of date."""
    if not lines:
        return []
    inputs = inputs_of_many(session, {x.limit.structure_id for x in lines})
    stale = stale_months_of(session, inputs)
    months = {key: {x.number: x.words for x in found} for key, found in stale.items()}
    return [
        replace(x, stale=why_between(months[x.limit.structure_id], x.first, x.as_of)) for x in lines
    ]


def asked_days(line: LimitLine, as_of: date) -> tuple[date, date]:
    """Return the days of the period of a limit that a day lies in, up to that day."""
    first, last = period_of(line, as_of)
    begin = max(first, line.valid_from)
    end = min(last, as_of, line.valid_to or as_of)
    return min(begin, end), end


def use_of(session: Session, line: LimitLine, as_of: date, shelf: Shelf | None = None) -> UseLine:
    """Return the use of a limit in the period a day lies in, up to that day."""
    first, last = period_of(line, as_of)
    begin, end = asked_days(line, as_of)
    shelf = shelf or shelf_of(session, *needs([(line, begin, end)]))
    key = line.structure_id
    found = daily.arrays_from(shelf.days_of(key, begin, end), shelf.offset_min(key))
    race = capacity(session, key, begin, end, shelf)
    most = race.rate_m3s
    seconds = (day_number(end) - day_number(begin) + 1) * DAY_S
    missing_h = max(seconds - float(np.sum(found.measured_s + found.estimated_s)), 0.0) / 3600.0
    if line.kind in ("season", "monthly"):
        return _volume(
            line, first, last, begin=begin, end=end, found=found, race=race, missing_h=missing_h
        )
    if line.kind == "daily":
        seen = largest_day(line, begin, end, found, most)
    else:
        a, b = shelf.span_s(key, begin, end)
        series = cut(shelf.series[key], a, b)
        seen = rates_against(session, line, series, unseen=missing_h > MISSING_H, most_m3s=most)
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


def needs(
    asked: Sequence[tuple[LimitLine, date, date]],
) -> tuple[dict[int, tuple[date, date]], set[int]]:
    """Return the days that limits are asked about by structure, and where the series is needed."""
    spans: dict[int, tuple[date, date]] = {}
    for line, begin, end in asked:
        known = spans.get(line.structure_id, (begin, end))
        spans[line.structure_id] = (min(begin, known[0]), max(end, known[1]))
    return spans, {line.structure_id for line, _, _ in asked if line.kind in RATES}


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
