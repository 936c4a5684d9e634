"""Batches of old readings: what was taken in together, and taking it back as a whole.

A batch is named in the sender of its entries, so that it needs no table of its own; what of it
stands follows from the entries, as everywhere.
"""

import hashlib
import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotAllowed, NotFound
from app.language import forms
from app.language.clock import iso, uuid7
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.entries import Entry
from app.records.people import Person
from app.services.books.sheet import GAUGINGS, READINGS, Sheet
from app.services.entries.links import what_stands
from app.services.entries.standing import WITHDRAWAL, Standing
from app.services.sites.changes import names_of
from app.services.sync import accept as sync

SENDER = "book "
UNDONE = "book taken back"
OF_KIND = {"head_reading": READINGS, "check_gauging": GAUGINGS}


def sender(batch: str) -> str:
    """Return what entries of a batch are sent by."""
    return f"{SENDER}{batch}"


@dataclass(kw_only=True)
class BookBatch:
    """What was taken in together from one book; `standing` of it counts now."""

    id: str
    structure_id: int
    of: str
    name: str
    kind: str
    by: str
    taken_at: datetime
    first_at: datetime
    last_at: datetime
    entries: int = 0
    standing: int = 0
    corrected: int = 0
    reasons: list[str] = field(default_factory=list)

    @property
    def state(self) -> str:
        return "in the record" if self.standing else "taken back"


def batches(session: Session, site_id: int) -> list[BookBatch]:
    """Return the batches of a site, the newest first."""
    entries = _entries(session, col(Entry.site_id) == site_id)
    links = what_stands(session, site_id)
    return sorted(
        _batches(session, entries, links), key=lambda one: (one.taken_at, one.id), reverse=True
    )


def get_batch(session: Session, batch: str) -> tuple[BookBatch, list[Entry], Standing]:
    """Return a batch with its entries by time, and what stands; raises NotFound."""
    entries = _entries(session, col(Entry.phone) == sender(batch))
    if not entries:
        raise NotFound(f"batch {batch}")
    links = what_stands(session, entries[0].site_id)
    return _batches(session, entries, links)[0], entries, links


def _entries(session: Session, where: Any) -> list[Entry]:
    """Return the entries that came from books, by time."""
    statement = select(Entry).where(
        col(Entry.kind).in_(OF_KIND), col(Entry.phone).startswith(SENDER), where
    )
    return list(session.exec(statement.order_by(col(Entry.observed_at), col(Entry.id))))


def _batches(session: Session, entries: Sequence[Entry], links: Standing) -> list[BookBatch]:
    names = names_of(session)
    groups: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        groups[entry.phone.removeprefix(SENDER)].append(entry)
    why = _reasons(session, [one for entry in entries for one in links.withdrawals(entry.id)])
    found = []
    for batch, group in groups.items():
        source, first = group[0].body.get("source") or {}, group[0]
        assert first.structure_id is not None
        reasons = {why[one] for entry in group for one in links.withdrawals(entry.id)}
        found.append(
            BookBatch(
                id=batch,
                structure_id=first.structure_id,
                of=OF_KIND[first.kind],
                name=source.get("name", ""),
                kind=source.get("kind", ""),
                by=names.get(first.by_id, ""),
                taken_at=min(entry.received_at for entry in group),
                first_at=first.observed_at,
                last_at=group[-1].observed_at,
                entries=len(group),
                standing=sum(bool(links.tips(entry.id)) for entry in group),
                corrected=sum(bool(links.replaced_by(entry.id)) for entry in group),
                reasons=sorted(reasons),
            )
        )
    return found


def _reasons(session: Session, ids: Sequence[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for begin in range(0, len(ids), 500):
        part = list(ids[begin : begin + 500])
        query = sa.select(col(Entry.id), col(Entry.reason)).where(col(Entry.id).in_(part))
        found |= {entry_id: reason or "" for entry_id, reason in session.execute(query)}
    return found


def batch_in_use(session: Session, sheet: Sheet) -> Sheet:
    """Return the sheet under the first id of its line of batches that was not taken back.

    So a sheet taken in again after it was taken back makes new rows, and one taken in twice none.
    """
    while True:
        try:
            known, _, _ = get_batch(session, sheet.batch)
        except NotFound:
            return sheet
        if known.standing:
            return sheet
        sheet = replace(sheet, batch=derived_id(sheet.batch, "again"))


def derived_id(*parts: str) -> str:
    """Return an id that the same parts always give."""
    key = hashlib.sha256("\0".join(parts).encode("utf-8", "replace")).digest()
    return str(uuid.UUID(bytes=key[:16], version=5))


def undo(session: Session, batch: str, form: Form, person: Person, now: datetime) -> BookBatch:
    """Take a batch back: every entry of it, with its corrections, is withdrawn with the reason.

    Raises
    ------
    NotFound
        When there is no such batch.
    NotAllowed
        When crew would withdraw what somebody else took in.
    BadInput
        Without a reason, or when nothing of it stands any more.
    """
    known, entries, links = get_batch(session, batch)
    reason = forms.text(form, "reason", most=2000, required=True)
    if person.role == "crew" and any(entry.by_id != person.id for entry in entries):
        raise NotAllowed("crew take back what they took in themselves; ask the office for this one")
    if not known.standing:
        raise BadInput("batch", known.name, "was taken back already", "Take the sheet in again.")
    named = [one for entry in entries for one in _line_down(links, entry.id)]
    contents = [_withdrawal(entries[0], one, person, reason, now) for one in named]
    for begin in range(0, len(contents), sync.MOST_ENTRIES):
        part: list[object] = list(contents[begin : begin + sync.MOST_ENTRIES])
        for receipt in sync.accept(session, person, sync.Batch("office", None, part), now):
            if receipt.error is not None:
                raise receipt.error
    write_audit(
        session,
        person.id,
        UNDONE,
        "structure",
        known.structure_id,
        after={"rows": known.standing, "book": known.name, "batch": batch},
        reason=reason,
    )
    return known


def _line_down(links: Standing, entry_id: str) -> list[str]:
    """Return an entry and every correction of it that counts, those withdrawn already aside."""
    found, todo = [], [entry_id]
    while todo:
        one = todo.pop()
        todo += links.replaced_by(one)
        if not links.withdrawals(one):
            found.append(one)
    return found


def _withdrawal(
    first: Entry, entry_id: str, person: Person, reason: str, now: datetime
) -> dict[str, Any]:
    return {
        "id": uuid7(now),
        "kind": WITHDRAWAL,
        "site_id": first.site_id,
        "structure_id": first.structure_id,
        "visit_id": None,
        "observed_at": iso(now),
        "utc_offset_min": first.utc_offset_min,
        "by": person.id,
        "saved_at": iso(now),
        "corrects": entry_id,
        "reason": reason,
        "body": {},
    }
