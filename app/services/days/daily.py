"""Daily flow of the long record (totals and duration: `totals`).

Everything is read from the daily table; nothing is computed from readings here. A day without a
row is missing: blank with a word, never 0.
"""

from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.daily import FULL_DAY_SHARE
from app.hydraulics.series.daily import DailyFlow as DayArrays
from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.records.sensors import DAILY, SERIES
from app.services.days.staleness import months_why
from app.services.days.state import DRAFT, states
from app.services.days.tables import DAILY_COLUMNS
from app.services.series.months import date_of, day_begins_s, day_number, instant, month_of_day
from app.services.sites.structures import place

MOST_DAYS = 36_600

DAY_NUMBERS = (
    "day", "volume_m3", "measured_m3", "estimated_m3", "volume_uncertainty_m3", "mean_m3s",
    "low_m3s", "low_at_s", "high_m3s", "high_at_s", "readings", "measured_s", "estimated_s",
    "missing_fraction", "undetermined", "flows", "flags",
)  # fmt: skip


def span(session: Session, structure_id: int) -> tuple[date, date] | None:
    """Return first and last day on record."""
    first, last = (
        session.connection()
        .execute(
            sa.select(sa.func.min(DAILY.c.day), sa.func.max(DAILY.c.day)).where(
                DAILY.c.structure_id == structure_id
            )
        )
        .one()
    )
    return None if first is None else (date_of(first), date_of(last))


def rows_of(
    session: Session, structure_id: int, first: int | None = None, last: int | None = None
) -> list[Any]:
    """Return the stored rows of a range of day numbers, as rows of DAY_NUMBERS."""
    return rows_of_many(session, [structure_id], first, last).get(structure_id, [])


def rows_of_many(
    session: Session, ids: Collection[int], first: int | None = None, last: int | None = None
) -> dict[int, list[Any]]:
    """Return the stored rows of some structures, by structure; those without any are left out."""
    statement = sa.select(*(DAILY.c[name] for name in DAY_NUMBERS), DAILY.c.structure_id).where(
        DAILY.c.structure_id.in_(ids)
    )
    if first is not None:
        statement = statement.where(DAILY.c.day >= first)
    if last is not None:
        statement = statement.where(DAILY.c.day <= last)
    found: dict[int, list[Any]] = {}
    for row in session.connection().execute(statement.order_by(DAILY.c.day)):
        found.setdefault(row.structure_id, []).append(row)
    return found


def arrays(
    session: Session, structure_id: int, first: int | None = None, last: int | None = None
) -> DayArrays:
    """Return the stored days as the arrays that totals and limits are computed from."""
    site, _ = place(session, structure_id)
    return arrays_from(rows_of(session, structure_id, first, last), site.utc_offset_min)


def arrays_from(rows: Sequence[Any], utc_offset_min: int) -> DayArrays:
    """Return stored days, in their order, as arrays."""
    table = dict(zip((*DAY_NUMBERS, "of"), zip(*rows, strict=True), strict=True)) if rows else {}

    def numbers(name: str) -> NDArray[np.float64]:
        return np.array([np.nan if v is None else v for v in table.get(name, ())], dtype=float)

    def whole(name: str) -> NDArray[np.int64]:
        return np.array([-1 if v is None else v for v in table.get(name, ())], dtype=np.int64)

    day = whole("day")
    measured = numbers("measured_s")
    return DayArrays(
        day=day,
        start_s=day * DAY_S - utc_offset_min * 60,
        volume_m3=numbers("volume_m3"),
        measured_m3=numbers("measured_m3"),
        estimated_m3=numbers("estimated_m3"),
        volume_uncertainty_m3=numbers("volume_uncertainty_m3"),
        mean_m3s=numbers("mean_m3s"),
        low_m3s=numbers("low_m3s"),
        low_at_s=whole("low_at_s"),
        high_m3s=numbers("high_m3s"),
        high_at_s=whole("high_at_s"),
        readings=whole("readings"),
        missing_fraction=numbers("missing_fraction"),
        measured_s=measured,
        estimated_s=numbers("estimated_s"),
        partial=measured < FULL_DAY_SHARE * DAY_S,
    )


def daily(
    session: Session, structure_id: int, first: date | None = None, last: date | None = None
) -> list[dict[str, Any]]:
    """Return one row for every day of a range, also for those without record.

    Raises
    ------
    BadInput
        When the range ends before it begins or is longer than a century.
    """
    whole = span(session, structure_id)
    first, last = first or (whole and whole[0]), last or (whole and whole[1])
    if first is None or last is None:
        return []
    begin, end = day_number(first), day_number(last)
    if end < begin:
        raise BadInput("to", str(last), f"lies before the first day, {first}", "Swap the two.")
    if end - begin > MOST_DAYS:
        raise BadInput("from", str(first), f"at most {MOST_DAYS} days", "Ask for fewer.")
    site, _ = place(session, structure_id)
    stored = {row[0]: row for row in rows_of(session, structure_id, begin, end)}
    known = states(session, structure_id)
    made = _versions(session, structure_id)
    out = []
    for number in range(begin, end + 1):
        day = date_of(number)
        month = month_of_day(day)
        state = known[month].state if month in known else DRAFT
        row = stored.get(number)
        cells = _missing() if row is None else _cells(row)
        begin_s = day_begins_s(number, site.utc_offset_min)
        out.append({"day": day, **cells, "state": state, **_cited(made.get(month), begin_s)})
    return out


def shown(
    session: Session, structure_id: int, first: date | None = None, last: date | None = None
) -> list[dict[str, Any]]:
    """Return the rows of `daily` with the word why the month of each is out of date."""
    stale = months_why(session, structure_id)
    rows = daily(session, structure_id, first, last)
    return [{**row, "stale": stale.get(month_of_day(row["day"]), "")} for row in rows]


def _missing() -> dict[str, Any]:
    return {
        **dict.fromkeys(c.key for c in DAILY_COLUMNS[1:11]),
        "readings": 0,
        "measured_fraction": 0.0,
        "estimated_fraction": 0.0,
        "missing_fraction": 1.0,
        "word": "missing",
        "flow": [],
        "flags": [],
    }


def _cells(row: Any) -> dict[str, Any]:
    volume, spread = row.volume_m3, row.volume_uncertainty_m3
    pct = 100.0 * spread / volume if volume and spread is not None else None
    return {
        "mean_m3s": row.mean_m3s,
        "mean_uncertainty_pct": pct,
        "low_m3s": row.low_m3s,
        "low_at": None if row.low_at_s is None else instant(row.low_at_s),
        "high_m3s": row.high_m3s,
        "high_at": None if row.high_at_s is None else instant(row.high_at_s),
        "volume_m3": volume,
        "measured_m3": row.measured_m3,
        "estimated_m3": row.estimated_m3,
        "volume_uncertainty_m3": spread,
        "readings": row.readings,
        "measured_fraction": row.measured_s / DAY_S,
        "estimated_fraction": row.estimated_s / DAY_S,
        "missing_fraction": row.missing_fraction,
        "word": word_of(row),
        "flow": [flow.word for flow in Flow if row.flows >> int(flow) & 1],
        "flags": flag_words(Flag(row.flags)) if row.flags else [],
    }


def word_of(row: Any) -> str:
    """Return how far a day is known, in a word."""
    if row.volume_m3 is None:
        return "not determined" if row.undetermined else "missing"
    if row.measured_s >= FULL_DAY_SHARE * DAY_S:
        return "no flow" if row.high_m3s == 0.0 else "measured"
    if row.estimated_s > row.measured_s:
        return "estimated"
    return "partial"


def _versions(session: Session, structure_id: int) -> dict[int, tuple[dict[str, Any], str]]:
    rows = session.connection().execute(
        sa.select(SERIES.c.month, SERIES.c.versions, SERIES.c.engine).where(
            SERIES.c.structure_id == structure_id
        )
    )
    return {month: (made, engine) for month, made, engine in rows}


def _cited(made: tuple[dict[str, Any], str] | None, begin_s: int) -> dict[str, Any]:
    """Return what a day was computed with."""
    if made is None:
        return {"rating_ids": [], "gauge_zero_ids": [], "layer_ids": [], "engine": ""}
    with_, engine = made
    parts = [p for p in with_["stretches"] if p[0] < begin_s + DAY_S and p[1] > begin_s]
    return {
        "rating_ids": sorted({p[2] for p in parts if p[2] is not None}),
        "gauge_zero_ids": sorted({p[3] for p in parts if p[3] is not None}),
        "layer_ids": [key for key, a, b in with_["layers"] if a < begin_s + DAY_S and b >= begin_s],
        "engine": engine,
    }
