"""What was taken against the limits: over, within or cannot tell, and where a season is heading.

Amounts are compared unrounded with their uncertainty and with what may have passed unrecorded
(the capacity of the race, over the time without record; where nobody stated it, nobody can tell).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series import limits as sums
from app.hydraulics.series.daily import DailyFlow
from app.hydraulics.series.limits import Verdict
from app.language.tables import Column, Table
from app.language.words import counted
from app.records.database import utc_now
from app.services.days import daily
from app.services.days.staleness import months_why, why_between
from app.services.series.months import DAY_S, date_of, day_begins_s, day_number, instant
from app.services.sites.preferences import water_year_start
from app.services.sites.structures import place
from app.services.takes.capacity import Capacity, capacity
from app.services.takes.limits import LimitLine, limit_line, limits, period_of, season_days
from app.services.takes.rates import Extremes, rates_against

Floats = NDArray[np.float64]
MISSING_H = sums.SLACK_S / 3600.0  # longer than rounding
USE_COLUMNS = (
    Column("structure", "Structure"),
    Column("limit_id", "Limit"),
    Column("kind", "Kind"),
    Column("amount", "Limit, amount"),
    Column("unit", "Unit"),
    Column("window_s", "Window, s"),
    Column("first", "First day"),
    Column("last", "Last day"),
    Column("as_of", "Up to"),
    Column("used", "Used"),
    Column("uncertainty", "Uncertainty, k=2"),
    Column("low", "At least"),
    Column("high", "At most"),
    Column("used_pct", "Used, %"),
    Column("verdict", "Answer"),
    Column("near", "Near the limit"),
    Column("times_over", "Times over"),
    Column("times_unknown", "Times not known"),
    Column("worst_at", "Largest at, UTC"),
    Column("missing_h", "Without record, h"),
    Column("capacity_m3s", "Race carries at most, m3/s"),
    Column("capacity_words", "Said of the race"),
    Column("projected", "Projected at the end"),
    Column("projected_low", "Projected, at least"),
    Column("projected_high", "Projected, at most"),
    Column("reached_day", "Limit reached"),
    Column("projected_verdict", "Answer at the end"),
    Column("stale", "Out of date, because"),
)


@dataclass(frozen=True)
class UseLine:
    """Use of one limit over one of its periods, up to a day; amounts in `limit.unit`.

    `high` None: nobody can say how much. For a residual flow `used` is the least that was left
    and "over" says that less was left than must be.
    """

    limit: LimitLine
    first: date
    last: date
    as_of: date
    used: float | None
    uncertainty: float | None
    low: float | None
    high: float | None
    used_pct: float | None
    verdict: str
    near: bool
    times_over: int
    times_unknown: int
    worst_at: datetime | None
    missing_h: float
    capacity_m3s: float | None
    capacity_words: str
    words: str
    projection: dict[str, Any] | None
    stale: str = ""

    def as_row(self) -> dict[str, Any]:
        """Return the line as a row of USE_COLUMNS."""
        ahead = self.projection or {}
        return {
            **{k: v for k, v in vars(self).items() if k not in ("limit", "projection")},
            "structure": self.limit.structure_name,
            "limit_id": self.limit.id,
            "kind": self.limit.kind,
            "amount": self.limit.amount,
            "unit": self.limit.unit,
            "window_s": self.limit.window_s,
            "projected": ahead.get("expected"),
            "projected_low": ahead.get("low"),
            "projected_high": ahead.get("high"),
            "reached_day": ahead.get("reached_day"),
            "projected_verdict": ahead.get("verdict"),
        }


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
        return _volume(line, first, last, begin, end, found, race, missing_h)
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
        line, first, last, end, seen.used, seen.uncertainty, seen.low, seen.high, pct,
        seen.verdict.word, near, seen.times_over, seen.times_unknown,
        None if seen.at_s is None else instant(seen.at_s), missing_h, most, race.words,
        _words(line, seen.verdict, pct, missing_h, seen.times_over, race), None,
    )  # fmt: skip


def _percent(line: LimitLine, used: float) -> float | None:
    return 100.0 * used / line.amount if line.amount > 0 else None


def _volume(
    line: LimitLine,
    first: date,
    last: date,
    begin: date,
    end: date,
    found: DailyFlow,
    race: Capacity,
    missing_h: float,
) -> UseLine:
    most = race.rate_m3s
    got = sums.volume_use(
        found, day_number(begin), day_number(end), line.amount, largest_rate_m3s=most
    )
    stop = min(last, line.valid_to or last)
    projection = None
    if stop > end:
        ahead = sums.project(
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
        line, first, last, end, got.used_m3, _known(got.uncertainty_m3), got.low_m3,
        _known(got.high_m3), _known(got.used_pct), got.verdict.word, got.near,
        int(got.verdict is Verdict.OVER), int(got.verdict is Verdict.CANNOT_TELL), None,
        missing_h, most, race.words,
        _words(line, got.verdict, _known(got.used_pct), missing_h, 0, race), projection,
    )  # fmt: skip


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
        return Extremes(None, None, None, None, answer, over, unknown, None)
    k = int(np.nanargmax(volumes))
    used, doubt = float(volumes[k]), float(found.volume_uncertainty_m3[k])
    upper = float(np.max(sum(_bounds(found, day_number(begin), day_number(end), most))))
    return Extremes(
        used, _known(doubt), _known(max(used - doubt, 0.0)), _known(upper), answer, over,
        unknown, int(found.start_s[k]),
    )  # fmt: skip


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


def _words(
    line: LimitLine,
    verdict: Verdict,
    pct: float | None,
    missing_h: float,
    times: int,
    race: Capacity,
) -> str:
    """Return the answer in a sentence."""
    if line.kind == "residual":
        said = {"over": "less was left than must be", "within": "enough was left"}
        text = said.get(verdict.word, "cannot tell whether enough was left")
    else:
        text = verdict.word + ("" if pct is None else f", {pct:.0f} % of the limit")
    if times > 1:
        text += f", {counted(times, 'time')}"
    if missing_h > MISSING_H:
        text += f"; {missing_h:.{0 if missing_h >= 10 else 1}f} h without record, {race.words}"
    return text


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


def use_table(session: Session, structure_id: int, as_of: date | None = None) -> Table:
    rows = [line.as_row() for line in use(session, structure_id, as_of)]
    return Table(f"takes-{structure_id}", USE_COLUMNS, rows)
