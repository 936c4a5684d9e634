"""A long record at one moment, to be compared with itself after it was made again."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from numpy.typing import NDArray
from sqlmodel import Session

from app.hydraulics.series.daily import DailyFlow
from app.services.days import daily
from app.services.days import totals as daily_totals
from app.services.days.state import states
from app.services.series import read as series_read
from app.services.sites.structures import place
from app.services.takes import page as take_views
from app.services.takes.limits import limits
from app.services.takes.lines import UseLine

POINT_FIGURES = ("discharge_m3s", "uncertainty_pct", "flow", "flags", "head_m")


@dataclass(frozen=True, kw_only=True)
class Snapshot:
    """A long record at one moment: the stored series, its days, its totals, the answers."""

    structure_id: int
    name: str
    offset_min: int
    series: dict[str, NDArray[Any]]
    days: DailyFlow
    months: dict[str, dict[str, Any]]
    years: dict[str, dict[str, Any]]
    answers: dict[tuple[int, date], UseLine]
    states: dict[int, str]


def snapshot(session: Session, structure_id: int) -> Snapshot:
    """Return the record of a structure as it stands."""
    site, structure = place(session, structure_id)
    totals = {
        by: {row["period"]: row for row in daily_totals.totals(session, structure_id, by=by)}
        for by in ("month", "year")
    }
    answers = {
        (line.id, use.first): use
        for line in limits(session, structure_id)
        for use in take_views.history_of_use(session, structure_id, line.id)
    }
    return Snapshot(
        structure_id=structure_id,
        name=structure.name,
        offset_min=site.utc_offset_min,
        series=series_read.load(session, structure_id, names=POINT_FIGURES),
        days=daily.arrays(session, structure_id),
        months=totals["month"],
        years=totals["year"],
        answers=answers,
        states={month: row.state for month, row in states(session, structure_id).items()},
    )
