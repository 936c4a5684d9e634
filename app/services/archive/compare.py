"""Work out anew what an archive carried worked out, by the services that do it, and compare."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.language.words import counted
from app.records.sensors import FoundFault
from app.records.sites import Site
from app.services.days import rebuild as series_store
from app.services.rerating.readings import reading_changes
from app.services.rerating.record import compare
from app.services.rerating.snapshot import snapshot
from app.services.rerating.trial import on_copies
from app.services.sites.register import structures_of

FEW = 20  # readings of a site that are listed one by one; the rest is counted


@dataclass(frozen=True)
class Difference:
    """Something that is worked out another way now than it was carried; what was carried stays."""

    site: str
    of: str
    words: str
    entry_id: str = ""


def differences(session: Session, now: datetime) -> list[Difference]:
    """Return what differs, site by site; nothing is written."""
    sites = session.exec(select(Site).order_by(col(Site.id))).all()
    return [one for site in sites for one in _of_site(session, site, now)]


def _of_site(session: Session, site: Site, now: datetime) -> Iterator[Difference]:
    assert site.id is not None
    rows = reading_changes(session, site.id, now).rows
    for row in rows[:FEW]:
        yield Difference(
            site.code,
            f"reading of {row['at']:%Y-%m-%d %H:%M} UTC",
            f"{_flow(row, 'before')} carried, {_flow(row, 'after')} worked out now",
            row["entry_id"],
        )
    if len(rows) > FEW:
        more = counted(len(rows) - FEW, "more reading")
        yield Difference(site.code, "readings", f"{more} differ in the same way or another")
    for structure in structures_of(session, site.id):
        assert structure.id is not None
        words = _of_record(session, structure.id)
        if words:
            yield Difference(site.code, f"record of {structure.name}", words)


def _flow(row: dict[str, object], when: str) -> str:
    discharge_m3s, flow = row[f"{when}_m3s"], str(row[f"{when}_flow"])
    return flow if discharge_m3s is None else f"{discharge_m3s:.6g} m3/s ({flow})"


def _of_record(session: Session, structure_id: int) -> str:
    """Return how a long record differs from the same made now, approved months too; else ""."""
    with on_copies(session, [structure_id]):
        before, faults = snapshot(session, structure_id), _faults(session, structure_id)
        series_store.rebuild(session, structure_id, approved_too=True)
        found = compare(before, snapshot(session, structure_id))
        other = faults - _faults(session, structure_id) | _faults(session, structure_id) - faults
    said = []
    if found.points.changed or found.days.changed or found.years or found.answers:
        said.append(found.words)
    if other:
        said.append(f"{counted(other.total(), 'finding')} of the look through the record")
    return "; ".join(said)


def _faults(session: Session, structure_id: int) -> Counter[str]:
    table: sa.Table = FoundFault.__table__  # type: ignore[attr-defined]
    said = [column for column in table.columns if column.name != "id"]
    rows = session.execute(sa.select(*said).where(table.c.structure_id == structure_id))
    return Counter(str(tuple(row)) for row in rows)
