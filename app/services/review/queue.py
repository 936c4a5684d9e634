"""What needs a person: faults, offers, refused and doubled entries, figures that disagree.

Items are gathered anew each time and never stored; only what people decide about them
is. An item's key names what it is about, so a decision still belongs to it after the series was
made again.
"""

from collections import Counter
from collections.abc import Collection
from dataclasses import replace

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.records.entries import Entry
from app.records.sites import Site, Structure
from app.services.corrections import decisions
from app.services.review.ahead import items_ahead
from app.services.review.items import Comment, QueueItem, items_of_office
from app.services.review.of_record import items_of_structure, items_of_structures
from app.services.review.standing import items_of_links
from app.services.sites.changes import names_of


def gathered(session: Session, site_id: int | None) -> list[QueueItem]:
    """Return all items of a site or of all sites, without what was decided."""
    statement = select(Structure, Site).where(Structure.site_id == Site.id)
    if site_id is not None:
        statement = statement.where(Site.id == site_id)
    places = [(site, structure) for structure, site in session.exec(statement).all()]
    return items_of_structures(session, places) + of_entries(session, site_id)


def of_entries(session: Session, site_id: int | None) -> list[QueueItem]:
    """Return the items that belong to entries and files, not to a structure's long record."""
    return [
        *items_of_office(session, site_id),
        *items_of_links(session, site_id),
        *items_ahead(session, site_id),
    ]


def with_decisions(session: Session, items: list[QueueItem]) -> list[QueueItem]:
    """Return the items with state, revision and comments."""
    names = names_of(session)
    found = decisions.history(session, [item.key for item in items])
    out = []
    for item in items:
        rows = found.get(item.key, [])
        answers = decisions.in_force(rows)
        state = decisions.ACTIONS[answers[-1].action] if answers else item.state
        if item.kind == "offer" and item.state == "accepted":
            state = "accepted"
        elif item.kind == "offer" and state == "accepted":
            state = "open"  # its correction was taken back
        out.append(
            replace(
                item,
                state=state,
                revision=rows[-1].revision if rows else 0,
                last_by=names.get(rows[-1].by_id, "") if rows else "",
                last_at=rows[-1].at if rows else None,
                comments=[Comment(names.get(r.by_id, ""), r.at, r.action, r.text) for r in rows],
            )
        )
    return out


def queue(
    session: Session, site_id: int | None = None, *, state: str = "open", limit: int = 500
) -> list[QueueItem]:
    """Return the items in a state ("all" for every one), newest first.

    Raises
    ------
    BadInput
        When the state is none.
    """
    if state not in ("open", "accepted", "returned", "all"):
        raise BadInput("state", state[:20], "open, accepted, returned or all", "Choose one.")
    found = with_decisions(session, gathered(session, site_id))
    kept = [item for item in found if state in ("all", item.state)]
    return sorted(kept, key=lambda item: (-item.to_s, item.key))[:limit]


def open_of(session: Session, structure_id: int) -> list[QueueItem]:
    """Return the open items of a structure."""
    structure = session.get(Structure, structure_id)
    site = session.get(Site, structure.site_id) if structure else None
    if structure is None or site is None:
        raise NotFound(f"structure {structure_id}")
    found = with_decisions(session, items_of_structure(session, site, structure))
    return [item for item in found if item.state == "open"]


def counts(session: Session, site_id: int | None = None) -> dict[str, int]:
    """Return how many items of each kind are open."""
    return dict(Counter(item.kind for item in queue(session, site_id, limit=1_000_000)))


def items_of(session: Session, keys: Collection[str]) -> dict[str, QueueItem]:
    """Return those of some items that there are still, by key; their structures are read once."""
    named = structures_of(session, keys)
    ids = {one for one in named.values() if one is not None}
    found: list[QueueItem] = []
    if ids:
        asked = select(Structure, Site).where(Structure.site_id == Site.id)
        rows = session.exec(asked.where(col(Structure.id).in_(ids))).all()
        found += items_of_structures(session, [(site, structure) for structure, site in rows])
    if any(one is None for one in named.values()):
        found += of_entries(session, None)
    wanted = [item for item in found if item.key in named]
    return {item.key: item for item in with_decisions(session, wanted)}


def item_of(session: Session, key: str) -> QueueItem:
    """Return one item by its key; raises NotFound when it is no more."""
    found = items_of(session, [key]).get(key)
    if found is None:
        raise NotFound(f"item {key[:80]}")
    return found


def structures_of(session: Session, keys: Collection[str]) -> dict[str, int | None]:
    """Return the structure that each key names; None for the items of the office."""
    found: dict[str, int | None] = {}
    entries = {key: key.partition(":")[2][:36] for key in keys if key.startswith("differs:")}
    if entries:
        asked = sa.select(col(Entry.id), col(Entry.structure_id))
        homes = session.execute(asked.where(col(Entry.id).in_(entries.values()))).all()
        of_entry: dict[str, int | None] = {entry_id: home for entry_id, home in homes}  # noqa: C416
        found = {key: of_entry.get(entry_id) for key, entry_id in entries.items()}
    return {key: found[key] if key in found else _named(key) for key in keys}


def _named(key: str) -> int | None:
    kind, _, rest = key.partition(":")
    parts = rest.split(":")
    named = parts[1] if kind == "offer" and len(parts) > 1 else parts[0]
    mine = kind in ("fault", "drowned", "offer", "stale")
    return int(named) if mine and named.isascii() and named.isdigit() and len(named) < 10 else None
