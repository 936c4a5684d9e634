"""What needs a person: faults, offers, refused and doubled entries, figures that disagree.

Items are gathered anew each time and never stored; only what people decide about them
is. An item's key names what it is about, so a decision still belongs to it after the series was
made again.
"""

from collections import Counter
from dataclasses import replace
from datetime import datetime

from sqlmodel import Session, select

from app.errors import BadInput, NotFound
from app.language.forms import Form
from app.records.entries import Entry, RefusedEntry
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.corrections import decisions
from app.services.corrections import layers as corrections
from app.services.review.ahead import items_ahead
from app.services.review.items import Comment as Comment
from app.services.review.items import QueueItem as QueueItem
from app.services.review.items import items_of_office
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
        state = item.state
        for row in rows:
            state = decisions.ACTIONS[row.action] or state
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


def item_of(session: Session, key: str) -> QueueItem:
    """Return one item by its key; raises NotFound when it is no more."""
    structure_id = _structure_of(session, key)
    structure = session.get(Structure, structure_id) if structure_id is not None else None
    site = session.get(Site, structure.site_id) if structure else None
    if structure is not None and site is not None:
        found = items_of_structure(session, site, structure)
    else:
        found = of_entries(session, None)
    for item in with_decisions(session, [item for item in found if item.key == key]):
        return item
    raise NotFound(f"item {key[:80]}")


def _structure_of(session: Session, key: str) -> int | None:
    """Return the structure a key names; None for the items of the office."""
    kind, _, rest = key.partition(":")
    if kind == "differs":
        entry = session.get(Entry, rest[:36])
        return entry.structure_id if entry else None
    parts = rest.split(":")
    named = parts[1] if kind == "offer" and len(parts) > 1 else parts[0]
    mine = kind in ("fault", "drowned", "offer", "stale")
    return int(named) if mine and named.isascii() and named.isdigit() and len(named) < 10 else None


def decide(
    session: Session,
    key: str,
    action: str,
    *,
    text: str,
    person: Person,
    now: datetime,
    revision: int,
    with_correction: bool = False,
    form: Form | None = None,
) -> QueueItem:
    """Accept, return, comment or reopen an item.

    Accepting an offer adds its correction, or the one in `form` when it was edited. Accepting
    anything else says that it was seen and stands, unless `with_correction` adds the
    correction that the item carries.

    Raises
    ------
    NotFound
        When the item is no more.
    BadInput
        For an unknown action or missing words, and as `corrections.add_layer` does.
    ChangedMeanwhile
        When somebody decided since; nothing is written.
    """
    item = item_of(session, key)
    decisions.add(
        session,
        key,
        site_id=item.site_id,
        action=action,
        text=text,
        person=person,
        now=now,
        revision=revision,
    )
    adds = with_correction or item.kind == "offer"
    if action == "accept" and adds and item.structure_id is not None:
        given = dict(form or item.form or {})
        if not given:
            raise BadInput("form", "", "this item carries no correction", "Write one yourself.")
        if text.strip():
            given["reason"] = text.strip()
        corrections.add_layer(session, item.structure_id, given, person, now)
    if item.kind == "refused" and action in ("accept", "return", "reopen"):
        row = session.get(RefusedEntry, item.link["refused_sha256"])
        if row is not None:
            row.settled = action != "reopen"
            session.add(row)
    session.flush()
    try:
        return item_of(session, key)
    except NotFound:  # the correction has put it right
        return replace(item, state=decisions.ACTIONS[action] or item.state, revision=revision + 1)
