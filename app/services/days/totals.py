"""Totals of the daily table by month and water year, and the flow duration curve."""

from datetime import date
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series import totals as sums
from app.services.days.daily import arrays, span
from app.services.days.staleness import months_why, why_between
from app.services.days.tables import TOTAL_COLUMNS
from app.services.series.months import date_of, day_number, instant
from app.services.settings.in_force import water_year_start

DURATION_PCT = (1, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 99)


def totals(
    session: Session,
    structure_id: int,
    first: date | None = None,
    last: date | None = None,
    by: str = "month",
) -> list[dict[str, Any]]:
    """Return totals by month or water year; a period without any record is missing, not 0.

    Raises
    ------
    BadInput
        When `by` is neither month nor year.
    """
    whole = span(session, structure_id)
    if whole is None:
        return []
    begin, end = day_number(first or whole[0]), day_number(last or whole[1])
    if by == "month":
        starts = sums.month_starts(begin, end)
    elif by == "year":
        month, day = water_year_start(session)
        starts = sums.water_year_starts(begin, end, month=month, day=day)
    else:
        raise BadInput("by", by[:20], "totals go by month or year", "Choose one of the two.")
    stale = months_why(session, structure_id)
    found = sums.period_totals(arrays(session, structure_id, begin, end), starts)
    rows = []
    for k in range(found.first_day.size):
        begins = date_of(found.first_day[k])
        cells: dict[str, Any] = {
            c.key: _figure(getattr(found, c.key)[k])
            for c in TOTAL_COLUMNS[2:-1]
            if not c.key.endswith("_at")
        }
        for name in ("low_at", "high_at"):
            at = int(getattr(found, f"{name}_s")[k])
            cells[name] = None if at < 0 else instant(at)
        ends = date_of(found.first_day[k] + found.days[k] - 1)
        cells["stale"] = why_between(stale, begins, ends)
        rows.append({"period": _period(begins, by), "first_day": begins, **cells})
    return rows


def _figure(value: Any) -> float | int | None:
    plain = value.item()
    return None if plain != plain else plain


def _period(day: date, by: str) -> str:
    if by == "month":
        return f"{day:%Y-%m}"
    if (day.month, day.day) == (1, 1):
        return f"{day.year}"
    return f"{day.year}/{(day.year + 1) % 100:02d}"


def duration(
    session: Session, structure_id: int, first: date | None = None, last: date | None = None
) -> dict[str, Any]:
    """Return the duration curve of the means of full days; the other days are counted apart."""
    begin = None if first is None else day_number(first)
    end = None if last is None else day_number(last)
    found = arrays(session, structure_id, begin, end)
    full = found.mean_m3s[~found.partial]
    pct, flows = sums.exceedance_pct(full)
    asked = sums.flow_exceeded(full, DURATION_PCT)
    return {
        "exceeded_pct": pct.tolist(),
        "discharge_m3s": flows.tolist(),
        "marks": [
            {"exceeded_pct": p, "discharge_m3s": None if q != q else q}
            for p, q in zip(DURATION_PCT, asked.tolist(), strict=True)
        ],
        "days": int(flows.size),
        "left_out": int(found.day.size - flows.size),
    }
