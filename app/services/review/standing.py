"""What review shows of entries that name each other: rivals, rings, and links without effect.

Keys: rival:, link: (of an entry), zero: (of a gauge zero whose level run stands no more).
"""

from collections.abc import Sequence

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.records.entries import Entry, RefusedEntry
from app.records.sites import GaugeZero, Site, Structure
from app.services.entries.links import what_stands
from app.services.entries.standing import (
    NOT_PERMITTED,
    OTHER_KIND,
    OTHER_SITE,
    RING,
    RIVALS,
    WAITING,
    WITHDRAWN_TOO,
    Doubt,
    Standing,
)
from app.services.review.items import QueueItem
from app.services.sites.changes import names_of
from app.services.sync.page import address_of, kind_words

TITLES = {
    RIVALS: "two corrections of one record stand side by side",
    RING: "records correct each other in a ring",
    WITHDRAWN_TOO: "a record was corrected and withdrawn",
    WAITING: "a correction waits for what it corrects",
    OTHER_KIND: "a correction names a record of another kind",
    OTHER_SITE: "a correction names a record of another site",
    NOT_PERMITTED: "crew corrected a record of somebody else",
}


def items_of_links(session: Session, site_id: int | None) -> list[QueueItem]:
    """Return the items of a site, or of all sites."""
    sites = {site.id: site for site in session.exec(select(Site))}
    links = what_stands(session, site_id)
    items = [*doubts(session, links, sites), *zeros(session, links, sites)]
    return [item for item in items if site_id is None or item.site_id == site_id]


def doubts(session: Session, links: Standing, sites: dict[int | None, Site]) -> list[QueueItem]:
    """Return an item for each doubt about what stands."""
    found = links.doubts()
    ids = {doubt.entry_id for doubt in found} | {one for d in found for one in d.others}
    entries = {e.id: e for e in session.exec(select(Entry).where(col(Entry.id).in_(ids)))}
    missing = ids - set(entries)
    refused = set(
        session.execute(
            sa.select(col(RefusedEntry.entry_id)).where(col(RefusedEntry.entry_id).in_(missing))
        ).scalars()
    )
    names = names_of(session)
    items = []
    for doubt in found:
        entry = entries[doubt.entry_id]
        by = names.get(entry.by_id, "")
        said = words_of(doubt, links, by, named_refused=bool(refused.intersection(doubt.others)))
        rival = doubt.word in (RIVALS, RING)
        at = int(entry.observed_at.timestamp())
        items.append(
            QueueItem(
                key=f"rival:{entry.id}:{len(doubt.others)}"
                if rival
                else f"link:{entry.id}:{doubt.word.replace(' ', '-')}",
                kind="rival" if rival else "link",
                title=TITLES[doubt.word],
                words=f"{kind_words(entry.kind)}, {by}: {said}",
                site_id=entry.site_id,
                site_code=sites[entry.site_id].code if entry.site_id in sites else "",
                structure_id=None,
                quantity="head" if entry.kind == "head_reading" else "",
                from_s=at,
                to_s=at,
                link={
                    "entry_id": entry.id,
                    "corrections": list(doubt.others),
                    "addresses": addresses(entries, [entry.id, *doubt.others]),
                },
            )
        )
    return items


def addresses(entries: dict[str, Entry], ids: Sequence[str]) -> list[tuple[str, str]]:
    """Return words and address of the page of each of some entries that is here."""
    found = [entries[one] for one in ids if one in entries]
    return [(f"{kind_words(e.kind)} {e.id[:8]}", address_of(e)) for e in found]


def words_of(doubt: Doubt, links: Standing, by: str, *, named_refused: bool) -> str:
    """Return what stands and how to settle it."""
    kind = links.nodes[doubt.entry_id].kind
    counts = "it does nothing" if kind == "withdrawal" else "it counts as a record of its own"
    if doubt.word == RIVALS:
        return f"{len(doubt.others)} corrections; withdraw one of them to leave one standing"
    if doubt.word == RING:
        return f"{len(doubt.others)} records of the ring stand; withdraw all but one"
    if doubt.word == WITHDRAWN_TOO:
        return "the correction counts; withdraw that too if the record should count no more"
    if doubt.word == WAITING:
        lacks = "was refused" if named_refused else "is not here yet"
        return f"the record that it names {lacks}; until it comes {counts}"
    if doubt.word == NOT_PERMITTED:
        return (
            "it does not count and takes nothing from the record it names; where it is right, "
            "correct that record in the office"
        )
    return f"{counts}, and takes nothing from the record it names; withdraw one of them if needed"


def zeros(session: Session, links: Standing, sites: dict[int | None, Site]) -> list[QueueItem]:
    """Return an item for each gauge zero in force that a run set which stands no more."""
    found = session.exec(
        select(GaugeZero, Structure)
        .where(GaugeZero.structure_id == Structure.id)
        .order_by(col(GaugeZero.id))
    ).all()
    last = {(zero.structure_id, zero.valid_from): zero.id for zero, _ in found}
    items = []
    for zero, structure in found:
        run = zero.run_entry_id
        replaced = last[zero.structure_id, zero.valid_from] != zero.id
        if run is None or links.stands(run) or replaced:
            continue
        at = int(zero.valid_from.timestamp())
        site = sites.get(structure.site_id)
        items.append(
            QueueItem(
                key=f"zero:{zero.id}",
                kind="zero",
                title="a gauge zero rests on a level run that stands no more",
                words=f"gauge zero {zero.id} of {structure.name} is still in force; "
                "set one from the run that stands, from the same date, and rate the site again",
                site_id=structure.site_id,
                site_code=site.code if site else "",
                structure_id=None,
                quantity="head",
                from_s=at,
                to_s=at,
                link={
                    "entry_id": run,
                    "addresses": [("the level run", f"/level-runs/{run}")],
                },
            )
        )
    return items
