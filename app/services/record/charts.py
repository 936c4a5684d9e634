"""Columns for the chart of the flow history, of years beside each other, of a season's volume.

The series of a view is made in `view`, what stands beside it in `marks`, the strips in `bands`.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series.limits import SLACK_S
from app.services.days import daily
from app.services.readings.charts import marks_kept
from app.services.record.bands import bands
from app.services.record.kinds import CORRECTION, READING, Mark
from app.services.record.marks import in_view, span_on_record
from app.services.record.view import COLUMN_OF, LOGGER, drawn
from app.services.series.months import date_of, day_begins_s, day_number
from app.services.settings.in_force import water_year_start
from app.services.sites.structures import place
from app.services.takes import use as takes

MOST_CHART_COLUMNS = 5000
UNITS = {"discharge": "m3/s", "head": "m", "tailwater": "m"}
BELOW = ("head", "tailwater")


def chart(
    session: Session,
    structure_id: int,
    from_s: int | None = None,
    to_s: int | None = None,
    columns: int = 900,
    what: str = "discharge",
) -> dict[str, Any]:
    """Return the columns of a view; a row of None opens a gap.

    Raises
    ------
    BadInput
        When the view ends before it begins, or names no known quantity.
    """
    if what not in COLUMN_OF:
        raise BadInput("what", what[:20], f"one of {', '.join(COLUMN_OF)}", "Choose one.")
    if not 10 <= columns <= MOST_CHART_COLUMNS:
        raise BadInput("columns", columns, f"from 10 to {MOST_CHART_COLUMNS}", "Ask for fewer.")
    site, structure = place(session, structure_id)
    whole = span_on_record(session, structure_id) or (0, 0)
    begin = whole[0] if from_s is None else from_s
    end = whole[1] if to_s is None else to_s
    if end < begin:
        raise BadInput("to", end, "lies before the beginning of the view", "Swap the two.")
    found = drawn(session, site, structure, begin, end, what=what, columns=columns)
    view = found.envelope
    top = int(np.argmax(view.high)) if view.high.size else None
    return {
        **found.columns(),
        "from_s": begin,
        "to_s": end,
        "step_s": view.step_s,
        "full": found.full,
        "of": found.of,
        "utc_offset_min": site.utc_offset_min,
        "what": what,
        "unit": UNITS[what],
        "label": f"{site.name}: {structure.name}",
        "peak": None
        if top is None
        else {"t": int(view.high_at_s[top]), "value": float(view.high[top])},
        "bands": bands(
            session,
            structure_id,
            begin,
            end,
            view=view if found.of == LOGGER else None,
            marks=in_view(session, structure_id, begin, end, kinds=(CORRECTION,)),
        ),
    }


def below(
    session: Session, structure_id: int, begin: int, end: int, columns: int = 900
) -> dict[str, Any]:
    """Return head and tailwater of a view, to be drawn under the flow on the same axis of time."""
    site, structure = place(session, structure_id)
    return {
        what: drawn(session, site, structure, begin, end, what=what, columns=columns).columns()
        for what in BELOW
    }


def marks(session: Session, structure_id: int, begin: int, end: int) -> dict[str, Any]:
    """Return the marks of a view for the chart, readings thinned so that no peak is lost."""
    found = in_view(session, structure_id, begin, end)[::-1]
    read = [one for one in found if one.kind == READING]
    kept = {id(read[k]) for k in marks_kept([_mark_row(one) for one in read], _times(read))}
    shown = [one for one in found if one.kind != READING or id(one) in kept]
    return {
        "marks": [_mark(one) for one in shown if one.kind != CORRECTION],
        "left_out": len(read) - len(kept),
    }


def _mark_row(one: Mark) -> dict[str, Any]:
    return {
        "discharge_m3s": one.discharge_m3s,
        "flow_code": one.flow_code,
        "flags": one.flags,
    }


def _times(read: Sequence[Mark]) -> NDArray[np.int64]:
    return np.array([one.from_s for one in read], dtype=np.int64)


def _mark(one: Mark) -> dict[str, Any]:
    return {**vars(one), "flags": "; ".join(one.flags)}


def several(
    session: Session,
    structure_ids: Sequence[int],
    from_s: int | None = None,
    to_s: int | None = None,
    columns: int = 900,
    what: str = "discharge",
) -> dict[str, Any]:
    """Return the same view of several structures, to be drawn over each other.

    What stands beside the series, and what is drawn under it, is of the first.
    """
    if not 1 <= len(structure_ids) <= 12:
        raise BadInput("structures", len(structure_ids), "1 to 12 at once", "Choose fewer.")
    spans = [span_on_record(session, key) for key in structure_ids]
    known = [s for s in spans if s is not None]
    if known:
        from_s = min(s[0] for s in known) if from_s is None else from_s
        to_s = max(s[1] for s in known) if to_s is None else to_s
    series = [
        {"structure_id": key, **chart(session, key, from_s, to_s, columns, what)}
        for key in structure_ids
    ]
    begin, end = series[0]["from_s"], series[0]["to_s"]
    return {
        "from_s": begin,
        "to_s": end,
        "series": series,
        "below": below(session, structure_ids[0], begin, end, columns),
        **marks(session, structure_ids[0], begin, end),
    }


def year_over_year(session: Session, structure_id: int) -> dict[str, Any]:
    """Return daily means, lows and highs of every water year by day of the year."""
    found = daily.arrays(session, structure_id)
    month, day = water_year_start(session)
    years: dict[int, dict[str, Any]] = {}
    for k, number in enumerate(found.day.tolist()):
        when = date_of(number)
        year = when.year if (when.month, when.day) >= (month, day) else when.year - 1
        one = years.setdefault(
            year,
            {
                "year": f"{year}/{(year + 1) % 100:02d}" if (month, day) != (1, 1) else str(year),
                **{name: [None] * 366 for name in ("mean", "low", "high")},
            },
        )
        place_ = number - day_number(date(year, month, day))
        for name, values in (
            ("mean", found.mean_m3s),
            ("low", found.low_m3s),
            ("high", found.high_m3s),
        ):
            value = float(values[k])
            one[name][place_] = None if value != value else value
    return {
        "day": list(range(1, 367)),
        "years": [years[year] for year in sorted(years)],
        "begins": f"{month:02d}-{day:02d}",
        "unit": "m3/s",
    }


def cumulative(
    session: Session,
    structure_id: int,
    limit_id: int | None = None,
    as_of: date | None = None,
) -> dict[str, Any]:
    """Return the volume since the beginning of a season, with its bounds, against the limit.

    Without a limit named, the running season limit of the structure, or the water year.
    """
    site, _ = place(session, structure_id)
    line = takes.season_limit(session, structure_id, limit_id, as_of)
    whole = daily.span(session, structure_id)
    today = as_of or (whole[1] if whole else date_of(0))
    first, last = takes.season_of(session, line, today)
    begin, end = day_number(first), min(day_number(last), day_number(today))
    found = daily.arrays(session, structure_id, begin, end)
    days = list(range(begin, end + 1))
    volume = np.zeros(len(days))
    spread = np.zeros(len(days))
    at = found.day - begin
    volume[at] = np.nan_to_num(found.volume_m3)
    known = np.isfinite(found.volume_uncertainty_m3)
    spread[at] = np.where(known, found.volume_uncertainty_m3, volume[at])  # at least nothing
    total, doubt = np.cumsum(volume), np.cumsum(spread)
    # from the first day on that is not wholly known the chart has no upper bound of its own
    whole_days = np.zeros(len(days), bool)
    whole_days[at] = known & (found.missing_s <= SLACK_S)
    bounded = np.logical_and.accumulate(whole_days)
    use = takes.use_of(session, line, today) if line else None
    return {
        "t": [day_begins_s(day + 1, site.utc_offset_min) for day in days],
        "day": [date_of(day).isoformat() for day in days],
        "volume_m3": total.tolist(),
        "low_m3": np.maximum(total - doubt, 0.0).tolist(),
        "high_m3": [
            float(high) if sure else None
            for high, sure in zip(total + doubt, bounded.tolist(), strict=True)
        ],
        "missing_days": len(days) - int(np.isfinite(found.volume_m3).sum()),
        "limit_m3": line.amount if line else None,
        "first": first.isoformat(),
        "last": last.isoformat(),
        "as_of": today.isoformat(),
        "projection": use.projection if use else None,
        "said": use.words if use else None,
        "unit": "m3",
    }
