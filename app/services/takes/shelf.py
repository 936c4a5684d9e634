"""What the limits of some structures are asked against, read once for all of them.

A season of one structure is a few hundred rows of days; they are put on the shelf together, so
that three hundred limits take a few dozen statements, and one limit takes the same road.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.hydraulics.base.units import DAY_S
from app.records.database import utc_now
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sensors import DAILY, DailyFlow
from app.records.sites import Site, Structure
from app.records.takes import RaceCapacity
from app.services.days import daily
from app.services.entries.links import standing_only, what_stands
from app.services.entries.standing import Standing
from app.services.gaugings.results import KIND, results_of
from app.services.series import read as series_read
from app.services.series.months import date_of, day_begins_s, day_number
from app.services.sites.structures import place

RATE_COLUMNS = ("discharge_m3s", "uncertainty_pct", "how", "head_m")


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """Rows by structure: its site, what is stated and was seen of its race, days, series."""

    places: Mapping[int, tuple[Site, Structure]]
    stated: Mapping[int, Sequence[RaceCapacity]]
    seen: Mapping[int, tuple[float, str]]
    days: Mapping[int, Sequence[Any]]
    series: Mapping[int, series_read.Arrays]

    def days_of(self, structure_id: int, first: date, last: date) -> list[Any]:
        """Return the stored days of a structure between two days, both included."""
        begin, end = day_number(first), day_number(last)
        return [row for row in self.days.get(structure_id, ()) if begin <= row.day <= end]

    def offset_min(self, structure_id: int) -> int:
        return self.places[structure_id][0].utc_offset_min

    def span_s(self, structure_id: int, first: date, last: date) -> tuple[int, int]:
        """Return the instants at which a range of site days begins and has ended."""
        offset = self.offset_min(structure_id)
        return (
            day_begins_s(day_number(first), offset),
            day_begins_s(day_number(last) + 1, offset),
        )


def shelf_of(
    session: Session, spans: Mapping[int, tuple[date, date]], rated: Collection[int] = ()
) -> Shelf:
    """Read what limits are asked against.

    Parameters
    ----------
    spans : mapping
        The first and the last day that is asked about, by structure.
    rated : collection of structure ids
        Where rates are asked about, so that the series itself is needed.
    """
    found = session.exec(
        select(Structure, Site).where(
            col(Structure.id).in_(spans), col(Structure.site_id) == col(Site.id)
        )
    )
    places = {s.id: (site, s) for s, site in found if s.id is not None}
    first = min((day_number(begin) for begin, _ in spans.values()), default=0)
    last = max((day_number(end) for _, end in spans.values()), default=0)
    shelf = Shelf(
        places=places,
        stated=stated_of(session, spans),
        seen=seen_of(session, spans),
        days=daily.rows_of_many(session, spans, first, last),
        series={},
    )
    ranges = {}
    for key in rated:
        a, b = shelf.span_s(key, *spans[key])
        ranges[key] = (a, b - 1)
    series = series_read.load_many(session, ranges, RATE_COLUMNS) if ranges else {}
    return replace(shelf, series=series)


def stated_of(session: Session, ids: Collection[int]) -> dict[int, list[RaceCapacity]]:
    """Return what is stated of races, by structure, in the order in which it takes over."""
    stated: dict[int, list[RaceCapacity]] = {}
    for row in session.exec(
        select(RaceCapacity)
        .where(col(RaceCapacity.structure_id).in_(ids))
        .order_by(col(RaceCapacity.valid_from), col(RaceCapacity.id))
    ):
        stated.setdefault(row.structure_id, []).append(row)
    return stated


def seen_of(session: Session, ids: Collection[int]) -> dict[int, tuple[float, str]]:
    """Return the largest rate that was seen to pass at structures, m3/s, and by what."""
    links = what_stands(session)
    highest: dict[int, float] = dict(
        session.execute(
            sa.select(col(DailyFlow.structure_id), sa.func.max(col(DailyFlow.high_m3s)))
            .where(col(DailyFlow.structure_id).in_(ids))
            .group_by(col(DailyFlow.structure_id))
        ).all()
    )
    read: dict[int, float] = dict(
        session.execute(
            sa.select(col(FlowValue.structure_id), sa.func.max(col(FlowValue.discharge_m3s)))
            .where(
                col(FlowValue.structure_id).in_(ids),
                col(FlowValue.current),
                standing_only(session, FlowValue.entry_id, links),
            )
            .group_by(col(FlowValue.structure_id))
        ).all()
    )
    gauged = _gauged(session, ids, links)
    return {
        key: max(
            (float(highest.get(key) or 0.0), "the record"),
            (float(read.get(key) or 0.0), "a reading"),
            (gauged.get(key, 0.0), "a check gauging"),
        )
        for key in ids
    }


def _gauged(session: Session, ids: Collection[int], links: Standing) -> dict[int, float]:
    """Return the largest discharge of the check gaugings that stand, by structure."""
    entries = session.exec(
        select(Entry)
        .join(Structure, col(Structure.id) == col(Entry.structure_id))
        .where(
            Entry.kind == KIND,
            col(Entry.structure_id).in_(ids),
            col(Entry.site_id) == col(Structure.site_id),
            standing_only(session, Entry.id, links),
        )
    ).all()
    found: dict[int, float] = {}
    for one in results_of(session, entries, links):
        key = one.entry.structure_id
        if key is not None and one.discharge_m3s is not None:
            found[key] = max(found.get(key, 0.0), one.discharge_m3s)
    return found


def last_days(session: Session, ids: Iterable[int]) -> dict[int, date]:
    """Return the last whole day on record of structures, those without a record left out.

    The running day is not taken for a gap.
    """
    table = DAILY.c
    ends = (
        sa.select(
            table.structure_id,
            sa.func.min(table.day).label("first"),
            sa.func.max(table.day).label("last"),
        )
        .where(table.structure_id.in_(list(ids)))
        .group_by(table.structure_id)
        .subquery()
    )
    rows = session.connection().execute(
        sa.select(
            table.structure_id, ends.c.first, ends.c.last, table.measured_s, table.estimated_s
        ).join(ends, (ends.c.structure_id == table.structure_id) & (ends.c.last == table.day))
    )
    return {
        key: date_of(last - 1 if measured + estimated < DAY_S - 1.0 and first < last else last)
        for key, first, last, measured, estimated in rows
    }


def last_day(session: Session, structure_id: int) -> date | None:
    """Return the last whole day on record; None without a record."""
    return last_days(session, [structure_id]).get(structure_id)


def today(session: Session, structure_id: int) -> date:
    """Return the site's own day of today: what a limit without any record is asked about."""
    site, _ = place(session, structure_id)
    return today_at(site)


def today_at(site: Site) -> date:
    """Return a site's own day of today."""
    return (utc_now() + timedelta(minutes=site.utc_offset_min)).date()
