"""Every site at a glance: its last discharge and how old it is, thirty days, the month so far.

All sites are read together in a dozen statements. What is not known stays unknown: a site without
a logger has no completeness, a site without anything has no state.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.hydraulics.base.units import DAY_S
from app.hydraulics.structure.device import Flow, flag_words
from app.language.drawing import Drawing
from app.language.typed import CLOCK_SKEW
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sensors import DailyFlow, Logger, SeriesBlock
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.days import staleness
from app.services.entries.links import standing_only, what_stands
from app.services.entries.standing import Standing
from app.services.series.months import day_of, instant, month_begins_s, month_days, month_of
from app.services.series.newest import newest_points
from app.services.sites.dated import histories, in_force
from app.services.today import drawing

STAFF, LONG_RECORD = "staff", "series"
OLD_DAYS = 45  # common practice: sites are visited monthly in season, so more than that is late


@dataclass(frozen=True, kw_only=True)
class News:
    """The newest that is known of a structure: a reading of the staff, or a point of its series."""

    at: datetime
    source: str
    structure_id: int
    discharge_m3s: float | None
    uncertainty_pct: float | None
    flow_code: int
    flags: tuple[str, ...]
    reason: str = ""
    entry_id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Month:
    """How much of the running month, up to now, the record of a logged structure covers."""

    measured: float
    estimated: float

    @property
    def covered(self) -> float:
        return min(self.measured + self.estimated, 1.0)


@dataclass(frozen=True, kw_only=True)
class SiteRow:
    """One site of the board; `news`, `month` and `line` are None where nothing is known."""

    site: Site
    structures: tuple[Structure, ...]
    news: News | None
    month: Month | None
    line: Drawing | None
    stale: str
    lacking: tuple[str, ...] = field(default=())
    now: datetime

    @property
    def id(self) -> int:
        return self.site.id or 0

    @property
    def age_s(self) -> float | None:
        return None if self.news is None else (self.now - self.news.at).total_seconds()

    @property
    def old(self) -> bool:
        """Tell whether nothing is known of the last weeks; nothing at all is old too."""
        return self.age_s is None or self.age_s > OLD_DAYS * DAY_S

    @property
    def flow(self) -> str:
        return "" if self.news is None else Flow(self.news.flow_code).word

    @property
    def structure(self) -> str:
        """Return which structure the news is of, where the site has several."""
        if self.news is None or len(self.structures) < 2:
            return ""
        return next(x.name for x in self.structures if x.id == self.news.structure_id)


def board(session: Session, now: datetime) -> list[SiteRow]:
    """Return every site, by name."""
    sites = list(session.exec(select(Site).order_by(Site.name, col(Site.id))))
    structures: dict[int, list[Structure]] = {}
    for structure in session.exec(select(Structure).order_by(col(Structure.id))):
        structures.setdefault(structure.site_id, []).append(structure)
    by_id = {x.id: x for found in structures.values() for x in found if x.id is not None}
    links = what_stands(session)
    news = newest_of(session, by_id, links, now)
    months = months_of(session, sites, structures, now)
    lines = drawing.lines(session, sites, structures, links, now)
    stale = staleness.of_structures(session, by_id)
    lacks = lacking(session, sites, structures, now)
    rows = []
    for site in sites:
        own = structures.get(site.id or 0, [])
        known = [news[x.id] for x in own if x.id in news]
        why = [word for x in own if x.id in stale for word in stale[x.id].why]
        rows.append(
            SiteRow(
                site=site,
                structures=tuple(own),
                news=max(known, key=lambda one: (one.at, one.source == STAFF), default=None),
                month=months.get(site.id or 0),
                line=lines.get(site.id or 0),
                stale="; ".join(dict.fromkeys(why)),
                lacking=lacks[site.id or 0],
                now=now,
            )
        )
    return rows


def newest_of(
    session: Session, structures: Mapping[int, Structure], links: Standing, now: datetime
) -> dict[int, News]:
    """Return the newest that is known of each structure; what lies ahead of now is passed over."""
    until = now + CLOCK_SKEW
    found: dict[int, News] = {}
    for key, point in newest_points(session, structures, int(until.timestamp())).items():
        found[key] = News(
            at=instant(point.t_s),
            source=LONG_RECORD,
            structure_id=key,
            discharge_m3s=point.discharge_m3s,
            uncertainty_pct=point.uncertainty_pct,
            flow_code=point.flow,
            flags=tuple(flag_words(point.flags)),
        )
    for row in _newest_readings(session, links, until):
        before = found.get(row.structure_id)
        structure = structures.get(row.structure_id)
        elsewhere = structure is None or structure.site_id != row.site_id
        if elsewhere or (before and before.at > row.observed_at):
            continue
        unrated = row.flow is None  # stored, and a fault kept it from being rated
        found[row.structure_id] = News(
            at=row.observed_at,
            source=STAFF,
            structure_id=row.structure_id,
            discharge_m3s=row.discharge_m3s,
            uncertainty_pct=row.uncertainty_pct,
            flow_code=int(Flow.NOT_RATED) if unrated else row.flow,
            flags=tuple(flag_words(row.flags)) if row.flags else (),
            reason="waiting to be rated" if unrated else row.reason,
            entry_id=row.id,
        )
    return found


def _newest_readings(session: Session, links: Standing, until: datetime) -> Sequence[Any]:
    ranked = (
        sa.select(
            col(Entry.id),
            sa.func.row_number()
            .over(
                partition_by=(col(Entry.site_id), col(Entry.structure_id)),
                order_by=(col(Entry.observed_at).desc(), col(Entry.id).desc()),
            )
            .label("place"),
        )
        .where(
            col(Entry.kind) == "head_reading",
            col(Entry.observed_at) <= until,
            standing_only(session, Entry.id, links),
        )
        .subquery()
    )
    held: tuple[Any, ...] = (
        col(Entry.id),
        col(Entry.site_id),
        col(Entry.structure_id),
        col(Entry.observed_at),
    )
    worked_out: tuple[Any, ...] = (
        col(FlowValue.discharge_m3s),
        col(FlowValue.uncertainty_pct),
        col(FlowValue.flow),
        col(FlowValue.flags),
        col(FlowValue.reason),
    )
    return session.execute(
        sa.select(*held, *worked_out)
        .join(ranked, ranked.c.id == col(Entry.id))
        .outerjoin(
            FlowValue, sa.and_(col(FlowValue.entry_id) == col(Entry.id), col(FlowValue.current))
        )
        .where(ranked.c.place == 1)
    ).all()


def months_of(
    session: Session,
    sites: Sequence[Site],
    structures: Mapping[int, Sequence[Structure]],
    now: datetime,
) -> dict[int, Month]:
    """Return how complete the running month is at sites with a logger; of several the worst.

    The month is the site's own, up to now; days that lie ahead of now do not count.
    """
    logged = set(session.execute(sa.select(col(Logger.structure_id)).distinct()).scalars())
    logged |= set(session.execute(sa.select(col(SeriesBlock.structure_id)).distinct()).scalars())
    now_s = int(now.timestamp())
    first = min((_first_day(site, now_s) for site in sites), default=0)
    days: dict[int, list[Any]] = {}
    for row in session.execute(
        sa.select(
            col(DailyFlow.structure_id),
            col(DailyFlow.day),
            col(DailyFlow.measured_s),
            col(DailyFlow.estimated_s),
        ).where(col(DailyFlow.day) >= first)
    ):
        days.setdefault(row.structure_id, []).append(row)
    found = {}
    for site in sites:
        begin, today = _first_day(site, now_s), day_of(now_s, site.utc_offset_min)
        offset = site.utc_offset_min
        elapsed = max(now_s - month_begins_s(month_of(now_s, offset), offset), 1)
        shares = []
        for structure in structures.get(site.id or 0, ()):
            if structure.id in logged:
                mine = [x for x in days.get(structure.id or 0, ()) if begin <= x.day <= today]
                measured = min(sum(x.measured_s for x in mine) / elapsed, 1.0)
                estimated = min(sum(x.estimated_s for x in mine) / elapsed, 1.0 - measured)
                shares.append(Month(measured=measured, estimated=estimated))
        if shares and site.id is not None:
            found[site.id] = min(shares, key=lambda one: one.covered)
    return found


def _first_day(site: Site, now_s: int) -> int:
    return month_days(month_of(now_s, site.utc_offset_min))[0]


def lacking(
    session: Session,
    sites: Sequence[Site],
    structures: Mapping[int, Sequence[Structure]],
    now: datetime,
) -> dict[int, tuple[str, ...]]:
    """Return what each site still needs before a reading gives a discharge, in words."""
    ids = [x.id for found in structures.values() for x in found if x.id is not None]
    ratings, zeros = histories(session, Rating, ids), histories(session, GaugeZero, ids)
    found: dict[int, tuple[str, ...]] = {}
    for site in sites:
        own = structures.get(site.id or 0, ())
        words = [] if own else ["no structure yet"]
        for structure in own:
            key = structure.id or 0
            if in_force(ratings[key], now) is None:
                words.append(f"{structure.name}: no rating in force")
            if in_force(zeros[key], now) is None:
                words.append(f"{structure.name}: no gauge zero in force")
        found[site.id or 0] = tuple(words)
    return found
