"""Accept what a phone sends: one receipt an entry, the raw observation committed first.

Sending twice is harmless: the id made on the phone is the key, and the same id with the same
content is `already_held`. The same id with other content is refused and both are kept.
"""

import hashlib
import json
import logging
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.audit import ServerFact
from app.records.database import insert_new
from app.records.entries import Entry, RefusedEntry
from app.records.people import Person
from app.records.sites import Site, Structure
from app.records.trouble import trouble_of
from app.services.entries import links
from app.services.entries.ahead import ahead_words, times_ahead
from app.services.entries.kinds import BODIES, NEEDS_STRUCTURE, Envelope, check
from app.services.equipment import naming as equipment
from app.services.plans import make as planning
from app.services.readings import rate as rating
from app.services.surveys import zeros as surveys
from app.services.sync.protocol import MOST_ENTRIES as MOST_ENTRIES
from app.services.sync.protocol import PROTOCOL as PROTOCOL
from app.services.sync.protocol import Batch as Batch
from app.services.sync.protocol import Receipt as Receipt
from app.services.sync.protocol import batch_of as batch_of
from app.services.sync.protocol import canonical_json as canonical_json
from app.services.sync.protocol import clock_notes, printable, storable

log = logging.getLogger("sillbook.sync")

TRIES = 4  # of a batch that crossed with another


def server_epoch(session: Session) -> str:
    """Return the epoch that a restore from backup changes; made when the database was made."""
    fact = session.get(ServerFact, "server_epoch")
    return fact.value if fact else ""


def accept(session: Session, person: Person, batch: Batch, received_at: datetime) -> list[Receipt]:
    """Store the entries and return a receipt for each, in the order sent.

    The observations are committed before they are rated; a rating that fails leaves them stored,
    with a note in the receipt. Where two batches crossed in the database, which ends one of them,
    this one is taken again: sending twice is harmless.
    """
    for _ in range(TRIES - 1):
        try:
            return accept_once(session, person, batch, received_at)
        except DBAPIError as error:
            trouble = trouble_of(error)
            session.rollback()
            if trouble is None or not trouble.at_once:
                raise
    return accept_once(session, person, batch, received_at)


def accept_once(
    session: Session, person: Person, batch: Batch, received_at: datetime
) -> list[Receipt]:
    phone, entries = batch.phone, batch.entries
    places = Places(session, entries)
    clock = clock_notes(batch.sent_at, received_at)
    receipts: list[Receipt] = []
    rows: dict[str, dict[str, Any]] = {}
    waiting: dict[str, list[Receipt]] = {}
    for content in entries:
        shown = content.get("id") if isinstance(content, dict) else None
        receipt = Receipt(printable(shown)[:80] if shown is not None else "", "refused")
        receipts.append(receipt)
        try:
            row = row_of(content, person, phone, received_at, places)
        except BadInput as error:
            receipt.error = error
        except Exception:
            # A fault of ours in judging one entry must not keep the others from the office.
            log.exception("an entry could not be judged")
            receipt.error = BadInput(
                "entry",
                "",
                "the office could not make sense of it",
                "It is kept at the office as it came. Save it to a file and tell a steward.",
            )
        if receipt.error is not None:
            keep_refused(session, content, receipt, person, phone, received_at)
            continue
        earlier = rows.get(row["id"])
        if earlier is not None and earlier["content_sha256"] != row["content_sha256"]:
            receipt.error = other_content(row["id"])
            keep_refused(session, content, receipt, person, phone, received_at)
            continue
        rows.setdefault(row["id"], row)
        waiting.setdefault(row["id"], []).append(receipt)
    new = insert_new(session, Entry, list(rows.values()), "id")
    known = [key for key in rows if key not in new]
    held: dict[str, str] = {}
    if known:
        query = sa.select(col(Entry.id), col(Entry.content_sha256))
        held = dict(session.execute(query.where(col(Entry.id).in_(known))).all())
    for key, mine in waiting.items():
        for place, receipt in enumerate(mine):
            if key in new:
                receipt.state = "stored" if place == 0 else "already_held"
            elif held.get(key) == rows[key]["content_sha256"]:
                receipt.state = "already_held"
            else:
                receipt.error = other_content(key)
                sent = next(e for e in entries if isinstance(e, dict) and e.get("id") == key)
                keep_refused(session, sent, receipt, person, phone, received_at)
            receipt.notes += clock
            ahead = times_ahead(rows[key]["observed_at"], rows[key]["body"], received_at)
            if ahead and receipt.error is None:
                receipt.notes.append(ahead_words(ahead, rows[key]["utc_offset_min"]))
    session.commit()
    for key, words in links.held_words(session, [rows[key] for key in new]).items():
        waiting[key][0].notes.append(words)
    # zeros before ratings, so that readings sent with a run are rated by the zero it sets
    levelled = [k for k, r in waiting.items() if rows[k]["kind"] == "level_run" and not r[0].error]
    for key, words in surveys.set_zeros(session, levelled, person).items():
        waiting[key][0].notes.append(words)
    asked = [k for k, r in waiting.items() if rows[k]["kind"] == "plan" and not r[0].error]
    for key, words in planning.make_asked(session, asked, received_at).items():
        waiting[key][0].notes.append(words)
    for key, words in rating.rate_new(session, sorted(new)).items():
        waiting[key][0].notes.append(words)
    return receipts


class Places:
    """Sites and structures, looked up once a batch."""

    def __init__(self, session: Session, entries: list[object]) -> None:
        self.instruments = equipment.check_named(session, instruments_in(entries))
        self.sites = set(session.exec(select(Site.id)))
        self.site_of: dict[int, int] = dict(
            session.execute(sa.select(col(Structure.id), col(Structure.site_id))).all()
        )

    def check(self, envelope: Envelope) -> None:
        if envelope.site_id not in self.sites:
            raise BadInput(
                "site_id",
                envelope.site_id,
                "the office has no such site",
                "Refresh the sites on the phone and choose the site again.",
            )
        structure = envelope.structure_id
        if structure is None and envelope.kind in NEEDS_STRUCTURE:
            raise BadInput("structure_id", "", "a reading names its structure", "Choose it again.")
        if structure is not None and self.site_of.get(structure) != envelope.site_id:
            raise BadInput(
                "structure_id",
                structure,
                "this structure is not at this site",
                "Choose site and structure again.",
            )


def instruments_in(entries: list[object]) -> set[int]:
    """Return the ids that entries name an instrument by, as far as a register can hold them."""
    bodies = [e.get("body") for e in entries if isinstance(e, dict)]
    named = [body.get("instrument_id") for body in bodies if isinstance(body, dict)]
    return {x for x in named if type(x) is int and 1 <= x < 2**31}


def row_of(
    content: object, person: Person, phone: str, received_at: datetime, places: Places
) -> dict[str, Any]:
    """Return an entry as a table row.

    Raises
    ------
    BadInput
        For the first rule it breaks.
    """
    if not isinstance(content, dict):
        raise BadInput("entry", str(content)[:80], "an entry is an object", "Reload Sillbook.")
    canonical = storable(content)
    envelope = check(Envelope, content)
    assert isinstance(envelope, Envelope)
    model = BODIES.get(envelope.kind)
    if model is None:
        raise BadInput(
            "kind",
            envelope.kind,
            "this server does not know the kind",
            "Update the server, then send again; the entry stays on the phone.",
        )
    if envelope.by != person.id:
        raise BadInput(
            "by",
            envelope.by,
            "entries are sent by the person who made them",
            "Sign in as that person on this phone and send again.",
        )
    places.check(envelope)
    check(model, envelope.body, "body")
    instrument = envelope.body.get("instrument_id")
    if instrument is not None and instrument not in places.instruments:
        raise BadInput(
            "body.instrument_id",
            instrument,
            "the register at the office has no such instrument",
            "Refresh the sites on the phone and choose it again, or leave it out.",
        )
    return {
        "id": envelope.id,
        "kind": envelope.kind,
        "site_id": envelope.site_id,
        "structure_id": envelope.structure_id,
        "visit_id": envelope.visit_id,
        "observed_at": envelope.observed_at,
        "utc_offset_min": envelope.utc_offset_min,
        "by_id": person.id,
        "saved_at": envelope.saved_at,
        "received_at": received_at,
        "phone": phone,
        **links.stored_link(envelope.corrects, person.role, moves=envelope.moves),
        "reason": envelope.reason,
        "body": envelope.body,
        "content_sha256": hashlib.sha256(canonical.encode()).hexdigest(),
    }


def other_content(entry_id: str) -> BadInput:
    return BadInput(
        "id",
        entry_id,
        "the office holds another entry under this id",
        "Both are kept. Save this one as a correction of the first.",
    )


def keep_refused(
    session: Session,
    content: object,
    receipt: Receipt,
    person: Person,
    phone: str,
    received_at: datetime,
) -> None:
    """Keep a refused entry whole, once, with the reason."""
    assert receipt.error is not None
    text = json.dumps(content, ensure_ascii=True)
    row = {
        "sha256": hashlib.sha256(text.encode()).hexdigest(),
        "entry_id": receipt.id,
        "by_id": person.id,
        "phone": printable(phone),
        "received_at": received_at,
        "content": text,
        "settled": False,
        **{name: printable(part)[:2000] for name, part in receipt.error.as_dict().items()},
    }
    insert_new(session, RefusedEntry, [row], "sha256")
