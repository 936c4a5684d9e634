"""One entry of any kind: what it says, whether it stands and why, and the withdrawal of it."""

import json
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.errors import NotAllowed, NotFound
from app.language.clock import iso, uuid7
from app.language.forms import Form, text
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Site
from app.services.entries.links import what_stands
from app.services.entries.standing import (
    NOT_PERMITTED,
    OTHER_KIND,
    OTHER_SITE,
    RING,
    WAITING,
    WITHDRAWAL,
    Standing,
)
from app.services.sites.changes import names_of
from app.services.sync import accept as sync

PAGES = {
    "head_reading": "/readings/{}",
    "check_gauging": "/gaugings/{}",
    "level_run": "/level-runs/{}",
    "visit": "/visits/{}",
}
LINK_WORDS = {
    WAITING: "It names an entry that is not here; it takes effect when that comes.",
    OTHER_KIND: "It names an entry of another kind and takes nothing from it.",
    OTHER_SITE: "It names an entry of another site and takes nothing from it.",
    NOT_PERMITTED: "Crew named an entry of somebody else: it has no effect and does not count.",
    RING: "It is one of a ring of entries that correct each other; all of them stand.",
}


@dataclass(frozen=True, kw_only=True)
class LinkedEntry:
    """An entry that another names, or is named by."""

    id: str
    kind: str
    by: str
    observed_at: datetime
    reason: str
    relation: str
    stands: bool
    address: str


@dataclass(frozen=True, kw_only=True)
class EntryPage:
    """Everything a page says of one entry; `said` tells whether it stands, in words."""

    entry: Entry
    site: Site
    by: str
    kind: str
    stands: bool
    said: list[str]
    linked: list[LinkedEntry]
    body: str
    own_page: str


def kind_words(kind: str) -> str:
    return kind.replace("_", " ")


def address_of(entry: Entry) -> str:
    """Return the page of an entry: its kind's own, or the one of every entry."""
    return PAGES.get(entry.kind, "/entries/{}").format(entry.id)


def get_entry(session: Session, entry_id: str) -> Entry:
    """Return an entry of any kind; raises NotFound."""
    entry = session.get(Entry, entry_id) if "\0" not in entry_id else None
    if entry is None:
        raise NotFound(f"entry {entry_id}")
    return entry


def entry_page(session: Session, entry_id: str) -> EntryPage:
    """Return an entry with its links; raises NotFound."""
    entry = get_entry(session, entry_id)
    site = session.get(Site, entry.site_id)
    assert site is not None
    links, names = what_stands(session, entry.site_id), names_of(session)
    return EntryPage(
        entry=entry,
        site=site,
        by=names.get(entry.by_id, ""),
        kind=kind_words(entry.kind),
        stands=links.stands(entry.id),
        said=said_of(links, entry),
        linked=linked_to(session, links, entry, names),
        body=json.dumps(entry.body, indent=2, ensure_ascii=False),
        own_page=address_of(entry) if entry.kind in PAGES else "",
    )


def said_of(links: Standing, entry: Entry) -> list[str]:
    """Return whether an entry stands and why, in sentences."""
    said = [LINK_WORDS[word] for word in [links.word(entry.id)] if word in LINK_WORDS]
    withdrawn = bool(links.withdrawals(entry.id))
    if entry.kind == WITHDRAWAL:
        said.append("It was withdrawn and has no effect." if withdrawn else "It is not withdrawn.")
    elif withdrawn:
        said.append("It was withdrawn: it stays as it was seen and counts no more.")
    elif links.replaced_by(entry.id):
        said.append("A correction has replaced it: it stays as it was seen.")
    elif links.stands(entry.id):
        said.append("It stands.")
        if links.rival(entry.id):
            said.append(
                "Another correction of the same entry stands beside it. Withdraw one of them "
                "to settle it."
            )
    return said


def linked_to(
    session: Session, links: Standing, entry: Entry, names: dict[int, str]
) -> list[LinkedEntry]:
    """Return what an entry names and what names it, oldest first."""
    relation = {node.id: "named by" for node in links.nodes.values() if node.corrects == entry.id}
    node = links.nodes.get(entry.id)
    if node is not None and node.corrects is not None:
        relation[node.corrects] = "names"
    found = session.exec(select(Entry).where(col(Entry.id).in_(relation)))
    return [
        LinkedEntry(
            id=e.id,
            kind=kind_words(e.kind),
            by=names.get(e.by_id, ""),
            observed_at=e.observed_at,
            reason=e.reason or "",
            relation=relation[e.id],
            stands=links.stands(e.id),
            address=f"/entries/{e.id}",
        )
        for e in sorted(found, key=lambda e: (e.received_at, e.id))
    ]


def may_correct(person: Person, entry: Entry) -> bool:
    """Tell whether somebody may correct or withdraw: their own, or any one from the office."""
    return person.role != "crew" or entry.by_id == person.id


def withdraw(
    session: Session, person: Person, entry_id: str, form: Form, received_at: datetime
) -> Entry:
    """Store a withdrawal of an entry and return the entry, which stays as it was seen.

    Raises
    ------
    NotAllowed
        When crew would withdraw somebody else's entry.
    BadInput
        Without a reason.
    """
    entry = get_entry(session, entry_id)
    if not may_correct(person, entry):
        raise NotAllowed("crew withdraw their own entries; ask the office for this one")
    content = {
        "id": uuid7(received_at),
        "kind": WITHDRAWAL,
        "site_id": entry.site_id,
        "structure_id": entry.structure_id,
        "visit_id": entry.visit_id,
        "observed_at": iso(received_at),
        "utc_offset_min": entry.utc_offset_min,
        "by": person.id,
        "saved_at": iso(received_at),
        "corrects": entry.id,
        "reason": text(form, "reason", most=2000, required=True),
        "body": {},
    }
    receipt = sync.accept(session, person, sync.Batch("office", None, [content]), received_at)[0]
    if receipt.error is not None:
        raise receipt.error
    return entry
