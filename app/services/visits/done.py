"""What was done at visits, derived from the entries that stand.

An entry belongs to the visit that it names. One that names none, of the same person at the same
site, belongs to the visit whose time it lies in, if that is one visit only; it is marked so. A
visit that was corrected is one visit, whatever id of its line an entry names.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import NotFound
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sensors import Logger, LoggerImport
from app.records.sites import Site, Structure
from app.services.entries.ahead import ahead_of
from app.services.entries.links import standing_only, what_stands
from app.services.entries.standing import Standing
from app.services.series.months import instant
from app.services.sites.changes import names_of
from app.services.visits.view import COUNTED, VisitView, Within

VISIT_KIND = "visit"
PART = 400  # ids or spans a statement: engines limit how many one may have


def visits(
    session: Session, sites: Sequence[Site], *, newest: int | None = None
) -> dict[int, list[VisitView]]:
    """Return the standing visits of some sites, newest first; in a few statements for all.

    Parameters
    ----------
    newest : only so many of each site
    """
    by_id = {site.id: site for site in sites if site.id is not None}
    if not by_id:
        return {}
    links = what_stands(session, next(iter(by_id)) if len(by_id) == 1 else None)
    chosen = _newest(session, by_id, links, newest)
    return views_of(session, chosen, by_id, links)


def _newest(
    session: Session, by_id: dict[int, Site], links: Standing, newest: int | None
) -> list[Entry]:
    order = (col(Entry.observed_at).desc(), col(Entry.id).desc())
    standing = (
        col(Entry.kind) == VISIT_KIND,
        col(Entry.site_id).in_(list(by_id)),
        standing_only(session, Entry.id, links),
    )
    statement = select(Entry).where(*standing).order_by(*order)
    if newest is not None:
        place = sa.func.row_number().over(partition_by=col(Entry.site_id), order_by=order)
        ranked = sa.select(col(Entry.id), place.label("place")).where(*standing).subquery()
        statement = statement.join(ranked, ranked.c.id == col(Entry.id))
        statement = statement.where(ranked.c.place <= newest)
    return _one_a_line(session.exec(statement).all(), links)


def _one_a_line(entries: Iterable[Entry], links: Standing) -> list[Entry]:
    """Return one entry a visit: of rival corrections the one made last, as everywhere."""
    best: dict[str, Entry] = {}
    for entry in entries:
        root = links.line(entry.id)[-1]
        if root not in best or entry.id > best[root].id:
            best[root] = entry
    return sorted(best.values(), key=lambda e: (e.observed_at, e.id), reverse=True)


def views_of(
    session: Session, entries: Sequence[Entry], by_id: dict[int, Site], links: Standing
) -> dict[int, list[VisitView]]:
    """Return views of standing visits, by site."""
    lines = {key: entry for entry in entries for key in links.line(entry.id)}
    names, cited = names_of(session), _cited(session, lines, links)
    ends = {entry.id: _end(entry, cited[entry.id]) for entry in entries}
    timed, unclear = _by_time(entries, ends, _loose(session, entries, ends, links))
    ids = [e.id for part in (cited, timed) for rows in part.values() for e in rows]
    values = _values(session, ids)
    structures = _structures(session, by_id)
    loggers = _loggers(session, by_id)
    found: dict[int, list[VisitView]] = defaultdict(list)
    for entry in entries:
        held = [Within(e, False, values.get(e.id)) for e in cited[entry.id]]
        held += [Within(e, True, values.get(e.id)) for e in timed[entry.id]]
        end, said = ends[entry.id]
        found[entry.site_id].append(
            VisitView(
                entry=entry,
                site=by_id[entry.site_id],
                by=names.get(entry.by_id, ""),
                rival=links.rival(entry.id),
                corrected=len(links.line(entry.id)) > 1,
                ended_at=end,
                end_said=said,
                ahead=ahead_of(entry, entry.utc_offset_min),
                within=sorted(held, key=lambda w: (w.entry.observed_at, w.entry.id)),
                structures=structures[entry.site_id],
                unclear=unclear[entry.id],
                loggers_reach=loggers[entry.site_id],
            )
        )
    return found


def _cited(session: Session, lines: dict[str, Entry], links: Standing) -> dict[str, list[Entry]]:
    """Return the standing entries that name a visit, by the entry that stands for the visit."""
    found: dict[str, list[Entry]] = defaultdict(list)
    ids = sorted(lines)
    for start in range(0, len(ids), PART):
        part = col(Entry.visit_id).in_(ids[start : start + PART])
        for one in _standing(session, links, part):
            visit = lines[one.visit_id or ""]
            if visit.site_id == one.site_id:
                found[visit.id].append(one)
    return found


def _loose(
    session: Session,
    entries: Sequence[Entry],
    ends: dict[str, tuple[datetime | None, bool]],
    links: Standing,
) -> dict[tuple[int, int], list[Entry]]:
    """Return the standing entries that name no visit and lie in the time of some, by site, person.

    One span a site, from its first visit's begin to its last one's end.
    """
    spans: dict[int, tuple[datetime, datetime]] = {}
    for entry in entries:
        begin, end = entry.observed_at, ends[entry.id][0] or entry.observed_at
        first, last = spans.get(entry.site_id, (begin, end))
        spans[entry.site_id] = (min(first, begin), max(last, end))
    found: dict[tuple[int, int], list[Entry]] = defaultdict(list)
    places = sorted(spans)
    for start in range(0, len(places), PART):
        inside = [
            sa.and_(col(Entry.site_id) == site, col(Entry.observed_at).between(*spans[site]))
            for site in places[start : start + PART]
        ]
        for one in _standing(session, links, sa.or_(*inside), col(Entry.visit_id).is_(None)):
            found[one.site_id, one.by_id].append(one)
    return found


def _standing(session: Session, links: Standing, *where: Any) -> Iterable[Entry]:
    statement = select(Entry).where(
        *where, col(Entry.kind).in_(list(COUNTED)), standing_only(session, Entry.id, links)
    )
    return session.exec(statement.order_by(col(Entry.observed_at), col(Entry.id)))


def _end(entry: Entry, cited: Sequence[Entry]) -> tuple[datetime | None, bool]:
    """Return when a visit ended and whether that was said; else the last entry that names it."""
    said = entry.body.get("ended_at")
    if said:
        moment = datetime.fromisoformat(said)
        if moment >= entry.observed_at:
            return moment, True
    late = [one.observed_at for one in cited if one.observed_at >= entry.observed_at]
    return (max(late), False) if late else (None, False)


def _by_time(
    entries: Sequence[Entry],
    ends: dict[str, tuple[datetime | None, bool]],
    loose: dict[tuple[int, int], list[Entry]],
) -> tuple[dict[str, list[Entry]], dict[str, int]]:
    """Return the entries that name no visit by the one whose time they lie in; and the unclear."""
    timed: dict[str, list[Entry]] = defaultdict(list)
    unclear: dict[str, int] = defaultdict(int)
    for place, rows in loose.items():
        theirs = [e for e in entries if (e.site_id, e.by_id) == place]
        for one in rows:
            holding = [
                e
                for e in theirs
                if e.observed_at <= one.observed_at <= (ends[e.id][0] or e.observed_at)
            ]
            if len(holding) == 1:
                timed[holding[0].id].append(one)
            for visit in holding if len(holding) > 1 else ():
                unclear[visit.id] += 1
    return timed, unclear


def _values(session: Session, ids: list[str]) -> dict[str, FlowValue]:
    found: dict[str, FlowValue] = {}
    for start in range(0, len(ids), PART):
        part = col(FlowValue.entry_id).in_(ids[start : start + PART])
        for value in session.exec(select(FlowValue).where(col(FlowValue.current), part)):
            found[value.entry_id] = value
    return found


def _structures(session: Session, by_id: dict[int, Site]) -> dict[int, dict[int | None, str]]:
    found: dict[int, dict[int | None, str]] = defaultdict(dict)
    wanted = col(Structure.site_id).in_(list(by_id))
    for row in session.exec(select(Structure).where(wanted).order_by(col(Structure.id))):
        found[row.site_id][row.id] = row.name
    return found


def _loggers(session: Session, by_id: dict[int, Site]) -> dict[int, tuple[datetime | None, ...]]:
    """Return to when the record of each logger reaches, by site; undone files do not count."""
    reach = (
        sa.select(col(LoggerImport.logger_id), sa.func.max(col(LoggerImport.to_s)).label("to_s"))
        .where(col(LoggerImport.undone_at).is_(None))
        .group_by(col(LoggerImport.logger_id))
        .subquery()
    )
    statement = (
        sa.select(col(Structure.site_id), reach.c.to_s)
        .join(Logger, col(Logger.structure_id) == col(Structure.id))
        .outerjoin(reach, reach.c.logger_id == col(Logger.id))
        .where(col(Structure.site_id).in_(list(by_id)))
    )
    found: dict[int, tuple[datetime | None, ...]] = defaultdict(tuple)
    for site, to_s in session.execute(statement):
        found[site] += (None if to_s is None else instant(int(to_s)),)
    return found


def visit_view(session: Session, entry_id: str) -> VisitView:
    """Return one visit with what lies within it, also when it stands no more; raises NotFound."""
    entry = session.get(Entry, entry_id) if "\0" not in entry_id else None
    site = session.get(Site, entry.site_id) if entry and entry.kind == VISIT_KIND else None
    if entry is None or site is None:
        raise NotFound(f"visit {entry_id}")
    for view in visits(session, [site]).get(entry.site_id, []):
        if view.entry.id == entry_id:
            return view
    links = what_stands(session, entry.site_id)
    return views_of(session, [entry], {entry.site_id: site}, links)[entry.site_id][0]
