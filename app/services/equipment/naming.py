"""Which instrument of the register an entry was made with.

An entry may name it (`instrument_id` in its body); the office's word on it is a row of its own and
goes before that. What an older entry says in free text is compared by serial number, and only
offered: a number can be misread, and two instruments can bear the same.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.entries import Entry
from app.records.equipment import Instrument, InstrumentFact, InstrumentNaming
from app.records.people import Person
from app.services.entries.links import standing_only, what_stands
from app.services.equipment.register import facts_of
from app.services.sites import twice

NAMING_KINDS = ("check_gauging", "level_run")
SHORTEST_SERIAL = 3  # of letters and digits: a shorter one is in half of all sentences


@dataclass(frozen=True)
class NamedRun:
    """A standing level run that names its level, with its two-peg test if it has one."""

    entry_id: str
    instrument_id: int
    day: date
    by_id: int
    peg_test: dict[str, Any] | None


@dataclass(frozen=True)
class Mention:
    """A standing entry whose own words hold the serial number of an instrument."""

    entry_id: str
    kind: str
    site_id: int
    observed_at: datetime
    words: str


def check_named(session: Session, ids: Iterable[int]) -> set[int]:
    """Return which of some ids are instruments of the register."""
    wanted = sorted(set(ids))
    if not wanted:
        return set()
    return set(session.exec(select(Instrument.id).where(col(Instrument.id).in_(wanted))))  # type: ignore[arg-type]


def day_of(observed_at: datetime, utc_offset_min: int) -> date:
    """Return the day on the site's clock."""
    return (observed_at + timedelta(minutes=utc_offset_min)).date()


def office_words(session: Session, ids: Iterable[str]) -> dict[str, InstrumentNaming]:
    """Return the newest word of the office on each entry that has one."""
    statement = select(InstrumentNaming).where(col(InstrumentNaming.entry_id).in_(list(ids)))
    return {row.entry_id: row for row in session.exec(statement.order_by(col(InstrumentNaming.id)))}


def instruments_of(session: Session, entries: Sequence[Entry]) -> dict[str, int | None]:
    """Return the instrument of each entry, None where none is named."""
    said = office_words(session, [entry.id for entry in entries])
    return {
        entry.id: said[entry.id].instrument_id
        if entry.id in said
        else entry.body.get("instrument_id")
        for entry in entries
    }


def named_runs(session: Session, wanted: Sequence[int] | None = None) -> list[NamedRun]:
    """Return the standing level runs that name one of some instruments, oldest first."""
    body: Any = Entry.body
    statement = (
        sa.select(
            col(Entry.id),
            col(Entry.observed_at),
            col(Entry.utc_offset_min),
            col(Entry.by_id),
            body["instrument_id"],
            body["peg_test"],
        )
        .where(
            col(Entry.kind) == "level_run",
            standing_only(session, Entry.id, what_stands(session)),
        )
        .order_by(col(Entry.observed_at), col(Entry.id))
    )
    newest = (
        sa.select(sa.func.max(col(InstrumentNaming.id)))
        .group_by(col(InstrumentNaming.entry_id))
        .scalar_subquery()
    )
    pairs = sa.select(col(InstrumentNaming.entry_id), col(InstrumentNaming.instrument_id))
    said = dict(session.execute(pairs.where(col(InstrumentNaming.id).in_(newest))).all())
    found = []
    for key, at, offset, by, own, test in session.execute(statement):
        instrument = said.get(key, own)
        if instrument is not None and (wanted is None or instrument in wanted):
            found.append(NamedRun(key, instrument, day_of(at, offset), by, test))
    return found


def plain(text: str) -> str:
    """Return letters and digits of a text, so that 0-12/A and 012a are one number."""
    return re.sub(r"[\W_]+", "", text).casefold()


def words_of(kind: str, body: dict[str, Any]) -> str:
    """Return what an entry says in its own words of its instrument."""
    said = body.get("instrument") or ""
    if kind == "check_gauging":
        return str((said or {}).get("serial", "")) if isinstance(said, dict) else ""
    return str(said)


def matches(kind: str, words: str, serial: str) -> bool:
    """Tell whether an entry's words hold a serial number.

    The serial number of a gauging is a box of its own and is compared whole; a level run has one
    line for make and number.
    """
    number = plain(serial)
    if kind == "check_gauging":
        return bool(number) and plain(words) == number
    return len(number) >= SHORTEST_SERIAL and number in plain(words)


def offered(session: Session, entry: Entry) -> list[InstrumentFact]:
    """Return the instruments whose serial number an entry's own words hold; nothing is done."""
    words = words_of(entry.kind, entry.body)
    if not words or entry.kind not in NAMING_KINDS:
        return []
    newest = [said[-1] for said in facts_of(session).values()]
    return [fact for fact in newest if matches(entry.kind, words, fact.serial)]


def mentions(session: Session, serial: str) -> list[Mention]:
    """Return the standing entries that hold a serial number and name no instrument yet."""
    if not plain(serial):
        return []
    body: Any = Entry.body
    statement = (
        sa.select(
            col(Entry.id), col(Entry.kind), col(Entry.site_id), col(Entry.observed_at),
            body["instrument"], body["instrument_id"],
        )
        .where(
            col(Entry.kind).in_(NAMING_KINDS),
            standing_only(session, Entry.id, what_stands(session)),
            col(Entry.id).not_in(sa.select(col(InstrumentNaming.entry_id))),
        )
        .order_by(col(Entry.observed_at).desc())
    )  # fmt: skip
    found = []
    for key, kind, site, at, said, named in session.execute(statement):
        words = words_of(kind, {"instrument": said})
        if named is None and matches(kind, words, serial):
            found.append(Mention(key, kind, site, at, words))
    return found


def name_instrument(
    session: Session, entry_id: str, form: Form, person: Person, now: datetime
) -> Entry:
    """Write down which instrument an entry was made with; an empty box: it is not known.

    Raises
    ------
    BadInput
        Without a reason, or when the register has no such instrument.
    """
    entry = session.get(Entry, entry_id) if "\0" not in entry_id else None
    if entry is None or entry.kind not in NAMING_KINDS:
        raise NotFound(f"check gauging or level run {entry_id}")
    assert person.id is not None
    text = form.get("instrument_id", "").strip()
    known = text.isascii() and text.isdigit() and len(text) < 10
    if text and (not known or not check_named(session, [int(text)])):
        raise no_such(text[:20])
    row = InstrumentNaming(
        entry_id=entry_id,
        instrument_id=int(text) if text else None,
        reason=forms.text(form, "reason", most=2000, required=True),
        by_id=person.id,
        added_at=now,
    )
    before = instruments_of(session, [entry])[entry_id]
    if twice.said_again(session, row, "entry_id") is None:
        session.add(row)
        write_audit(
            session,
            person.id,
            "instrument named",
            "entry",
            entry_id,
            before={"instrument_id": before},
            after={"instrument_id": row.instrument_id},
            reason=row.reason,
        )
    return entry


def no_such(value: object) -> BadInput:
    return BadInput(
        "instrument_id", value, "the register has no such instrument", "Choose it from the list."
    )


@dataclass(frozen=True)
class NamingBox:
    """What the form that names an instrument offers: those the words hold first, then the rest."""

    words: str
    offers: list[tuple[int, str]]
    others: list[tuple[int, str]]


def naming_box(session: Session, entry: Entry) -> NamingBox:
    """Return what to offer for an entry; nothing of it is chosen beforehand."""
    offers = {fact.instrument_id for fact in offered(session, entry)}
    named = [
        (key, f"{said[-1].described}, {said[-1].serial}".rstrip(", "))
        for key, said in facts_of(session).items()
    ]
    named.sort(key=lambda pair: (pair[1].casefold(), pair[0]))
    return NamingBox(
        words_of(entry.kind, entry.body),
        [pair for pair in named if pair[0] in offers],
        [pair for pair in named if pair[0] not in offers],
    )
