"""The sum of a view of the flow history, and the months in it: state, by whom, by which rating."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session

from app.hydraulics.series import totals as sums
from app.records.sensors import SERIES
from app.records.sites import Rating
from app.services.days import daily
from app.services.days.staleness import months_why
from app.services.days.state import DRAFT, states
from app.services.record.kinds import GAUGING, READING, Mark
from app.services.series.flow import inputs_of
from app.services.series.months import (
    date_of,
    day_of,
    month_begins_s,
    month_of_day,
    month_text,
)
from app.services.sites.changes import names_of
from app.services.sites.views import described


@dataclass(frozen=True, kw_only=True)
class MonthOfView:
    """A month on record: where it stands, who put it there, and what its flows rest on."""

    month: str
    next_month: str
    state: str
    by: str
    at: datetime | None
    ratings: list[tuple[int, str]]
    stale: str


@dataclass(frozen=True, kw_only=True)
class Summed:
    """Sums over the whole site days that a view touches; None where nothing is covered."""

    first: date
    last: date
    total: dict[str, Any] | None
    months: list[MonthOfView]
    readings: int
    gaugings: int
    least: Mark | None
    most: Mark | None


def summed(
    session: Session, structure_id: int, begin_s: int, end_s: int, marks: Sequence[Mark]
) -> Summed:
    """Return the sum of a view, of which `marks` stand in it."""
    inputs = inputs_of(session, structure_id)
    first = day_of(begin_s, inputs.offset_min)
    last = max(first, day_of(end_s - 1, inputs.offset_min))
    read = [one for one in marks if one.kind == READING]
    known = [one for one in read if one.discharge_m3s is not None]
    return Summed(
        first=date_of(first),
        last=date_of(last),
        total=_total(session, structure_id, first, last),
        months=_months(session, structure_id, first, last),
        readings=len(read),
        gaugings=sum(one.kind == GAUGING for one in marks),
        least=min(known, key=lambda one: one.discharge_m3s or 0.0, default=None),
        most=max(known, key=lambda one: one.discharge_m3s or 0.0, default=None),
    )


def _total(session: Session, structure_id: int, first: int, last: int) -> dict[str, Any] | None:
    days = daily.arrays(session, structure_id, first, last)
    if not days.day.size:
        return None
    found = sums.period_totals(days, np.array([first, last + 1], np.int64))

    def figure(name: str) -> float | None:
        value = float(getattr(found, name)[0])
        return None if value != value else value

    volume, doubt = figure("volume_m3"), figure("volume_uncertainty_m3")
    return {
        "volume_m3": volume,
        "volume_uncertainty_m3": doubt,
        "measured_m3": figure("measured_m3"),
        "estimated_m3": figure("estimated_m3"),
        "mean_m3s": figure("mean_m3s"),
        "mean_uncertainty_pct": 100.0 * doubt / volume if volume and doubt is not None else None,
        "missing_fraction": figure("missing_fraction"),
        "full_days": int(found.full_days[0]),
        "days": last - first + 1,
    }


def _months(session: Session, structure_id: int, first: int, last: int) -> list[MonthOfView]:
    """Return the months on record that the days meet, newest first."""
    inputs, names = inputs_of(session, structure_id), names_of(session)
    known = states(session, structure_id)
    why = months_why(session, structure_id)
    ratings = {row.id: row for row in inputs.ratings}
    found = []
    for month, made in _cited(session, structure_id, first, last):
        begin = month_begins_s(month, inputs.offset_min)
        end = month_begins_s(month + 1, inputs.offset_min)
        row = known.get(month)
        used = {p[2] for p in made["stretches"] if p[0] < end and p[1] > begin}
        found.append(
            MonthOfView(
                month=month_text(month),
                next_month=month_text(month + 1),
                state=row.state if row else DRAFT,
                by=names.get(row.by_id, "unknown") if row else "",
                at=row.at if row else None,
                ratings=[(key, _said(ratings.get(key))) for key in sorted(used - {None})],
                stale=why.get(month, ""),
            )
        )
    return found


def _said(rating: Rating | None) -> str:
    return described(rating) if rating else "no longer known"


def _cited(
    session: Session, structure_id: int, first: int, last: int
) -> list[tuple[int, dict[str, Any]]]:
    rows = session.connection().execute(
        sa.select(SERIES.c.month, SERIES.c.versions)
        .where(
            SERIES.c.structure_id == structure_id,
            SERIES.c.month >= month_of_day(date_of(first)),
            SERIES.c.month <= month_of_day(date_of(last)),
        )
        .order_by(SERIES.c.month.desc())
    )
    return [(month, made) for month, made in rows]
