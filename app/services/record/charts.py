"""Columns for the charts of the long record: years from sketches, a quarter of an hour in full.

Up to about a year the stored series itself is thinned to an envelope of the asked width; beyond
that the envelopes by days are taken that were made with the series. Either way every bucket
carries its lowest and highest value, so no peak is lost, and a gap stays open.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series import envelopes
from app.hydraulics.series.envelopes import Envelope
from app.hydraulics.series.layers import Shape
from app.hydraulics.series.limits import SLACK_S
from app.hydraulics.series.stretches import closed, gap_rule_s
from app.services.days import daily
from app.services.days.state import DRAFT, states
from app.services.series import faults as series_faults
from app.services.series import read as series_read
from app.services.series.flow import inputs_of
from app.services.series.months import date_of, day_begins_s, day_number, month_begins_s
from app.services.settings.in_force import water_year_start
from app.services.sites.structures import place
from app.services.takes import use as takes

FINE_S = 400 * DAY_S  # longer views are drawn from the sketches
MOST_CHART_COLUMNS = 5000
COLUMN_OF = {"discharge": "discharge_m3s", "head": "head_m", "tailwater": "tailwater_m"}
UNITS = {"discharge": "m3/s", "head": "m", "tailwater": "m"}
PERIODS = (Shape.SPIKE, Shape.ESTIMATED, Shape.NO_RECORD)


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
    whole = series_read.stored_span(session, structure_id) or (0, 0)
    begin = whole[0] if from_s is None else from_s
    end = whole[1] if to_s is None else to_s
    if end < begin:
        raise BadInput("to", end, "lies before the beginning of the view", "Swap the two.")
    view, full = _view(
        session,
        structure_id,
        begin,
        end,
        columns=columns,
        what=what,
        offset_min=site.utc_offset_min,
    )
    top = int(np.argmax(view.high)) if view.high.size else None
    return {
        **envelopes.columns(view),
        "from_s": begin,
        "to_s": end,
        "step_s": view.step_s,
        "full": full,
        "utc_offset_min": site.utc_offset_min,
        "what": what,
        "unit": UNITS[what],
        "label": f"{site.name}: {structure.name}",
        "peak": None
        if top is None
        else {"t": int(view.high_at_s[top]), "value": float(view.high[top])},
        "bands": _bands(session, structure_id, begin, end, view),
    }


def _view(
    session: Session,
    structure_id: int,
    begin: int,
    end: int,
    *,
    columns: int,
    what: str,
    offset_min: int,
) -> tuple[Envelope, bool]:
    if end - begin > FINE_S and what in series_read.SKETCHES:
        days = series_read.sketch(session, structure_id, what, begin, end)
        step = max(1, -(-(end - begin) // (columns * DAY_S))) * DAY_S
        if step == DAY_S:
            return days, False
        return envelopes.coarsen(days, step, origin_s=-offset_min * 60), False
    found = series_read.load(session, structure_id, begin, end, (COLUMN_OF[what], "how", "head_m"))
    t, value, how = found["t_s"], found[COLUMN_OF[what]], found["how"]
    if what == "discharge":
        how = closed(how, found["head_m"], value)
    view = envelopes.thin(t, value, columns, gap_s=gap_rule_s(t), how=how, from_s=begin, to_s=end)
    return view, bool(t.size <= columns)


def _bands(
    session: Session, structure_id: int, begin: int, end: int, view: Envelope
) -> list[dict[str, Any]]:
    """Return what lies behind the line: states, periods a person marked, faults, gaps."""
    out: list[dict[str, Any]] = []

    def band(a: int, b: int, kind: str, word: str) -> None:
        if b >= begin and a <= end:
            out.append({"from_s": max(a, begin), "to_s": min(b, end), "kind": kind, "word": word})

    inputs = inputs_of(session, structure_id)
    for month, row in sorted(states(session, structure_id).items()):
        if row.state != DRAFT:
            a = month_begins_s(month, inputs.offset_min)
            band(a, month_begins_s(month + 1, inputs.offset_min), "state", row.state)
    for layer in inputs.layers_of("head"):
        if Shape(layer.shape) in PERIODS:
            band(layer.from_s, layer.to_s, "how", layer.shape)
    for fault in series_faults.found(session, inputs):
        if fault.kind != "gap":
            band(fault.from_s, fault.to_s, "fault", fault.kind)
    for k in np.flatnonzero(view.gap_before).tolist():
        if k:
            band(int(view.to_s[k - 1]), int(view.from_s[k]), "how", "gap")
    return sorted(out, key=lambda one: (one["from_s"], one["kind"]))


def several(
    session: Session,
    structure_ids: Sequence[int],
    from_s: int | None = None,
    to_s: int | None = None,
    columns: int = 900,
    what: str = "discharge",
) -> dict[str, Any]:
    """Return the same view of several structures, to be drawn over each other."""
    if not 1 <= len(structure_ids) <= 12:
        raise BadInput("structures", len(structure_ids), "1 to 12 at once", "Choose fewer.")
    spans = [series_read.stored_span(session, key) for key in structure_ids]
    known = [s for s in spans if s is not None]
    if known:
        from_s = min(s[0] for s in known) if from_s is None else from_s
        to_s = max(s[1] for s in known) if to_s is None else to_s
    series = [
        {"structure_id": key, **chart(session, key, from_s, to_s, columns, what)}
        for key in structure_ids
    ]
    return {"from_s": from_s, "to_s": to_s, "series": series}


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
