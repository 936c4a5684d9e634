"""What stands in the flow history beside the series: one mark a thing, each with its own page.

Staff readings and check gaugings as they stand, corrections that hold, the instants from which
another rating or gauge zero holds, and the limits of takes. What was withdrawn is no mark.
"""

from collections.abc import Callable, Collection, Iterator

import sqlalchemy as sa
from sqlmodel import Session, col

from app.hydraulics.base.units import DAY_S
from app.records.entries import Entry
from app.records.sites import Structure
from app.services.entries.links import standing_only, what_stands
from app.services.gaugings.results import KIND
from app.services.record.dated import allowed, changes, corrections
from app.services.record.kinds import (
    CORRECTION,
    EARLIEST_S,
    GAUGING,
    LATEST_S,
    LIMIT,
    MARK_KINDS,
    RATING,
    READING,
    Mark,
)
from app.services.record.points import gaugings, readings
from app.services.series import read as series_read
from app.services.sites.register import structures_of
from app.services.sites.structures import place

LEAST_S = DAY_S  # a history of one moment is shown with the day around it


def span_on_record(session: Session, structure_id: int) -> tuple[int, int] | None:
    """Return first and last second of what is known of a flow: series, readings, gaugings."""
    site, _ = place(session, structure_id)
    links = what_stands(session, site.id)
    first, last = session.execute(
        sa.select(sa.func.min(col(Entry.observed_at)), sa.func.max(col(Entry.observed_at))).where(
            col(Entry.site_id) == site.id,
            col(Entry.structure_id) == structure_id,
            col(Entry.kind).in_(("head_reading", KIND)),
            standing_only(session, Entry.id, links),
        )
    ).one()
    ends = list(series_read.stored_span(session, structure_id) or ())
    ends += [int(at.timestamp()) for at in (first, last) if at is not None]
    if not ends:
        return None
    begin, end = min(ends), max(ends)
    return (begin, end) if end > begin else (begin - LEAST_S // 2, end + LEAST_S // 2)


def main_structure(
    session: Session, site_id: int, structure_id: int | None = None
) -> Structure | None:
    """Return the named structure of a site, else the first of which anything is on record."""
    structures = structures_of(session, site_id)
    named = next((one for one in structures if one.id == structure_id), None)
    if named is not None or len(structures) < 2:
        return named or next(iter(structures), None)
    known = [one for one in structures if one.id and span_on_record(session, one.id)]
    return next(iter(known or structures))


def in_view(
    session: Session,
    structure_id: int,
    begin_s: int,
    end_s: int,
    kinds: Collection[str] = MARK_KINDS,
) -> list[Mark]:
    """Return the marks of a view, both ends included, newest first; of some kinds or of all."""
    site, structure = place(session, structure_id)
    begin_s, end_s = max(begin_s, EARLIEST_S), min(end_s, LATEST_S)
    if end_s < begin_s:
        return []
    made: dict[str, Callable[[], Iterator[Mark]]] = {
        READING: lambda: readings(session, site, structure, begin_s, end_s),
        GAUGING: lambda: gaugings(session, site, structure, begin_s, end_s),
        CORRECTION: lambda: corrections(session, structure_id, begin_s, end_s),
        RATING: lambda: changes(session, structure_id, begin_s, end_s),
        LIMIT: lambda: allowed(session, site, structure_id, begin_s, end_s),
    }
    found = [one for kind, of in made.items() if kind in kinds for one in of()]
    return sorted(found, key=lambda one: (-one.from_s, one.kind, one.href))
