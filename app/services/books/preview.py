"""The rows of a sheet held against the record and rated as they would be, nothing stored."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.language import words
from app.language.clock import iso
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.books.check import AS_READ, Checked, check
from app.services.books.sheet import Row, Sheet, row_id
from app.services.days.state import approved_months
from app.services.entries.links import standing_only, what_stands
from app.services.readings.observed import repeats
from app.services.readings.rate import UNDER_WORDS, rated_rows
from app.services.series.months import month_of, month_text
from app.services.sites import accounts
from app.services.sites.structures import place

READY, ASK, REFUSED, HELD = "ready", "question", "refused", "on record"
SAME_M = 0.0005  # two figures of one time that differ by less are one reading


@dataclass(kw_only=True)
class Seen:
    """A row with its state and, where it can be taken in, its entry and what it is rated as."""

    checked: Checked
    state: str
    entry: dict[str, Any] | None = None
    value: dict[str, Any] = field(default_factory=dict)
    held_id: str = ""


@dataclass(frozen=True, kw_only=True)
class Look:
    """A sheet as it would be taken in."""

    site: Site
    structure: Structure
    sheet: Sheet
    rows: list[Seen]

    def count(self, state: str) -> int:
        return sum(one.state == state for one in self.rows)


@dataclass(frozen=True, kw_only=True)
class Around:
    """What the entries of a sheet have in common beside the sheet."""

    structure: Structure
    person_id: int
    register: dict[str, int]


def look(
    session: Session,
    structure_id: int,
    sheet: Sheet,
    rows: Sequence[Row],
    person: Person,
    now: datetime,
) -> Look:
    """Return every row with its checks and its discharge; nothing is stored."""
    site, structure = place(session, structure_id)
    assert person.id is not None
    around = Around(structure=structure, person_id=person.id, register=register(session))
    seen = [Seen(checked=one, state=REFUSED) for one in check(sheet, rows, now)]
    readable = [one for one in seen if not one.checked.faults]
    _hold_against(session, structure, readable)
    open_rows = [one for one in readable if one.state != HELD]
    begun = _dated_from(session, structure_id)
    approved = approved_months(session, structure_id)
    for one in open_rows:
        checked = one.checked
        assert checked.at is not None
        if checked.observer and checked.observer not in around.register:
            checked.notes.append("the reader is not in the register, kept as written")
        if begun is not None and checked.at < begun:
            shown = words.site_time(begun, site.utc_offset_min)
            checked.asks.append(f"before anything of the structure is dated ({shown})")
        month = month_of(int(checked.at.timestamp()), site.utc_offset_min)
        if month in approved:
            checked.notes.append(
                f"{month_text(month)} is approved and stays as it is until opened again"
            )
        one.entry = content_of(sheet, checked, around)
    _hold_known(session, open_rows)
    open_rows = [one for one in open_rows if one.state != HELD]
    _rate(session, open_rows, now)
    for one in open_rows:
        one.state = ASK if one.checked.asks and not one.checked.answer else READY
    return Look(site=site, structure=structure, sheet=sheet, rows=seen)


def told(found: Look, one: Seen) -> dict[str, Any]:
    """Return a row as its grid shows it."""
    checked, value = one.checked, one.value
    discharge = value.get("discharge_m3s")
    pct = value.get("uncertainty_pct")
    return {
        "row": checked.row.number,
        "state": one.state,
        "faults": [fault.as_dict() for fault in checked.faults],
        "asks": checked.asks,
        "notes": checked.notes,
        "observed_at": iso(checked.at) if checked.at else None,
        "observed_at_local": words.site_time(checked.at, found.site.utc_offset_min),
        "staff_m": checked.staff_m,
        "head_m": value.get("head_m"),
        "discharge_m3s": discharge,
        "uncertainty_pct": pct,
        "discharge": words.discharge(discharge, pct) if value else "",
        "flow": value.get("flow_words") or "",
        "flags": value.get("flag_words") or [],
        "entry_id": one.held_id or (one.entry["id"] if one.entry else None),
    }


def _dated_from(session: Session, structure_id: int) -> datetime | None:
    """Return the earliest time that anything of a structure is dated by, its readings aside."""
    found: list[datetime] = []
    for model in (Rating, GaugeZero):
        query = select(model.valid_from).where(model.structure_id == structure_id)
        found += session.exec(query).all()
    stops = select(Entry.observed_at).where(
        Entry.structure_id == structure_id, col(Entry.kind).in_(("install_stop", "opening"))
    )
    found += session.exec(stops).all()
    return min(found, default=None)


def register(session: Session) -> dict[str, int]:
    """Return everybody of the register by name, by earlier names too, the retired included."""
    known: dict[str, int] = {}
    for person_id, earlier in accounts.earlier_names(session).items():
        known |= dict.fromkeys(earlier, person_id)
    for one in accounts.people(session):
        assert one.id is not None
        known[one.name] = one.id
    return known


def _hold_against(session: Session, structure: Structure, rows: Sequence[Seen]) -> None:
    """Mark the rows that the record holds, and ask about those whose time it has otherwise."""
    held = _held(session, structure, [one.checked.at for one in rows if one.checked.at])
    for one in rows:
        checked = one.checked
        assert checked.at is not None
        assert checked.staff_m is not None
        for entry_id, body in held.get(checked.at, ()):
            mean, tail = repeats(body["staff_m"])[0], body.get("tailwater") or {}
            if abs(mean - checked.staff_m) < SAME_M and (
                checked.tail_m is None or _alike(tail.get("staff_m"), checked.tail_m)
            ):
                one.state, one.held_id = HELD, entry_id
                checked.notes.append("the record holds this reading")
                break
            shown = words.millimetres(mean)
            checked.asks.append(f"the record has another reading of this time: staff {shown}")


def _alike(known_m: float | None, read_m: float) -> bool:
    return known_m is not None and abs(known_m - read_m) < SAME_M


def _held(
    session: Session, structure: Structure, times: Sequence[datetime]
) -> dict[datetime, list[tuple[str, dict[str, Any]]]]:
    """Return the readings that stand between the first and the last of some times, by time."""
    found: dict[datetime, list[tuple[str, dict[str, Any]]]] = defaultdict(list)
    if times:
        links = what_stands(session, structure.site_id)
        query = sa.select(col(Entry.id), col(Entry.observed_at), col(Entry.body)).where(
            col(Entry.structure_id) == structure.id,
            col(Entry.kind) == "head_reading",
            col(Entry.observed_at).between(min(times), max(times)),
            standing_only(session, Entry.id, links),
        )
        for entry_id, at, body in session.execute(query):
            found[at].append((entry_id, body))
    return found


def _hold_known(session: Session, rows: Sequence[Seen]) -> None:
    """Mark the rows of this very batch that were taken in before and do not stand as typed."""
    by_id = {one.entry["id"]: one for one in rows if one.entry}
    ids = sorted(by_id)
    for begin in range(0, len(ids), 500):
        query = sa.select(col(Entry.id)).where(col(Entry.id).in_(ids[begin : begin + 500]))
        for (entry_id,) in session.execute(query):
            one = by_id[entry_id]
            one.state, one.held_id = HELD, entry_id
            one.checked.notes.append(
                "taken in with this sheet before, and withdrawn or corrected since: it stays out"
            )


def _rate(session: Session, rows: Sequence[Seen], now: datetime) -> None:
    """Rate the rows by the rating and zero of their dates, as stored readings are rated."""
    entries = [as_stored(one.entry, now) for one in rows if one.entry]
    valued = {value["entry_id"]: value for value in rated_rows(session, entries, now)}
    for one in rows:
        assert one.entry is not None
        value = valued[one.entry["id"]]
        flags = flag_words(value["flags"])
        one.value = value | {"flow_words": Flow(value["flow"]).word, "flag_words": flags}
        if value["reason"] == UNDER_WORDS:
            one.checked.asks.append(
                "far under the crest: was it dry? Write dry, or as read to keep the figure"
            )
        elif value["reason"]:
            one.checked.notes.append(f"not rated: {value['reason']}")
        elif value["flags"] & Flag.UNUSUAL_HEAD:
            one.checked.asks.append("far above every head of the rating: is the figure right?")


def as_stored(content: dict[str, Any], now: datetime) -> Entry:
    """Return an entry as its row will be; it is of no session."""
    known = set(Entry.model_fields)
    instants = {key: datetime.fromisoformat(content[key]) for key in ("observed_at", "saved_at")}
    return Entry(
        **{key: value for key, value in content.items() if key in known} | instants,
        by_id=content["by"],
        received_at=now,
        phone="",
        content_sha256="",
    )


def content_of(sheet: Sheet, one: Checked, around: Around) -> dict[str, Any]:
    """Return a row as the entry that is sent."""
    assert one.at is not None
    said = (around.structure.id, iso(one.at), one.staff_m, one.tail_state, one.tail_m)
    return {
        "id": row_id(sheet.batch, one.at, said),
        "kind": "head_reading",
        "site_id": around.structure.site_id,
        "structure_id": around.structure.id,
        "visit_id": None,
        "observed_at": iso(one.at),
        "utc_offset_min": sheet.utc_offset_min,
        "by": around.person_id,
        "saved_at": iso(sheet.made_at),
        "corrects": None,
        "reason": None,
        "body": {
            "occasion": "during",
            "staff_m": [one.staff_m],
            "entered": {"unit": sheet.unit, "text": [one.row.cell("staff")[:200]]},
            "tailwater": {
                "state": one.tail_state,
                "staff_m": one.tail_m,
                "text": one.row.cell("tail")[:200] or None if one.tail_state == "read" else None,
            },
            "as_typed": [one.row.cell("staff")[:200]] if one.answer == AS_READ else [],
            "dry": one.dry,
            "note": one.row.cell("remark"),
            "source": {
                "kind": sheet.kind,
                "name": sheet.name,
                "page": one.page,
                "observer": one.observer,
                "observer_id": around.register.get(one.observer),
                "batch": sheet.batch,
                "row": one.row.number,
            },
        },
    }
