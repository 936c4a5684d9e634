"""What instruments there are, what each is, where it is and where it was.

Nothing is overwritten: what an instrument is said to be is corrected by saying it anew, and where
it is by saying where it is from a day on.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, select

from app.errors import NotFound
from app.records.equipment import Instrument, InstrumentFact, InstrumentPlace
from app.records.sites import Site
from app.services.sites.changes import names_of

INSTRUMENT_KINDS = {
    "logger": "logger",
    "sensor": "sensor",
    "level": "level",
    "current_meter": "current meter",
    "conductivity_probe": "conductivity probe",
    "staff": "staff",
    "other": "other",
}
INSTRUMENT_PLACES = {
    "site": "at a site",
    "store": "in a store",
    "person": "with a person",
    "sent": "sent away",
    "lost": "lost",
    "retired": "retired",
}
GONE = ("lost", "retired")
NOWHERE = "place not said"


@dataclass(frozen=True, kw_only=True)
class PlaceLine:
    """Where an instrument was from a day on."""

    since: date
    place: str
    words: str
    site_id: int | None
    reason: str
    by: str
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class InstrumentLine:
    """An instrument as it is now: what, and where."""

    id: int
    kind: str
    described: str
    serial: str
    interval_days: int | None
    note: str
    place: str
    place_words: str
    site_id: int | None
    person_id: int | None
    since: date | None

    @property
    def kind_words(self) -> str:
        return INSTRUMENT_KINDS.get(self.kind, self.kind)

    @property
    def name(self) -> str:
        """Return what people call it: the description, with the serial number."""
        return f"{self.described}, {self.serial}" if self.serial else self.described

    @property
    def gone(self) -> bool:
        return self.place in GONE


def get_instrument(session: Session, instrument_id: int) -> Instrument:
    """Return an instrument; raises NotFound."""
    found = session.get(Instrument, instrument_id)
    if found is None:
        raise NotFound(f"instrument {instrument_id}")
    return found


def facts_of(session: Session, ids: Iterable[int] | None = None) -> dict[int, list[InstrumentFact]]:
    """Return what was said of some instruments, or of all, oldest first."""
    return _grouped(session, InstrumentFact, ids, (col(InstrumentFact.id),))


def places_of(
    session: Session, ids: Iterable[int] | None = None
) -> dict[int, list[InstrumentPlace]]:
    """Return where some instruments were, or all, in the order in which the places take over."""
    order = (col(InstrumentPlace.since), col(InstrumentPlace.id))
    return _grouped(session, InstrumentPlace, ids, order)


def _grouped(
    session: Session, model: Any, ids: Iterable[int] | None, order: Sequence[Any]
) -> dict[int, list[Any]]:
    statement = select(model).order_by(*order)
    if ids is not None:
        statement = statement.where(model.instrument_id.in_(sorted(set(ids))))
    found: dict[int, list[Any]] = defaultdict(list)
    for row in session.exec(statement):
        found[row.instrument_id].append(row)
    return found


def place_on(places: Sequence[InstrumentPlace], day: date) -> InstrumentPlace | None:
    """Return where an instrument was on a day; of two said of one day the one said last."""
    begun = [row for row in places if row.since <= day]
    return begun[-1] if begun else None


def lines(session: Session, today: date, ids: Iterable[int] | None = None) -> list[InstrumentLine]:
    """Return instruments as they are today, by kind and description; in four statements."""
    facts, places = facts_of(session, ids), places_of(session, ids)
    where = _where(session)
    found = []
    for instrument_id, said in facts.items():
        fact, now = said[-1], place_on(places.get(instrument_id, []), today)
        found.append(
            InstrumentLine(
                id=instrument_id,
                kind=fact.kind,
                described=fact.described,
                serial=fact.serial,
                interval_days=fact.interval_days,
                note=fact.note,
                place=now.place if now else "",
                place_words=where(now) if now else NOWHERE,
                site_id=now.site_id if now else None,
                person_id=now.person_id if now else None,
                since=now.since if now else None,
            )
        )
    order = list(INSTRUMENT_KINDS)
    return sorted(found, key=lambda x: (order.index(x.kind), x.described.casefold(), x.id))


def line(session: Session, instrument_id: int, today: date) -> InstrumentLine:
    """Return one instrument as it is today; raises NotFound."""
    get_instrument(session, instrument_id)
    return lines(session, today, [instrument_id])[0]


def _where(session: Session) -> Any:
    sites = {site.id: site.name for site in session.exec(select(Site))}
    names = names_of(session)

    def words(row: InstrumentPlace) -> str:
        said = {"site": sites.get(row.site_id, ""), "person": names.get(row.person_id or 0, "")}
        named = said.get(row.place, "") or INSTRUMENT_PLACES.get(row.place, row.place)
        return f"{named}, {row.words}" if row.words else named

    return words


def history_of_places(session: Session, instrument_id: int) -> list[PlaceLine]:
    """Return where an instrument was, newest first."""
    where, names = _where(session), names_of(session)
    return [
        PlaceLine(
            since=row.since,
            place=row.place,
            words=where(row),
            site_id=row.site_id,
            reason=row.reason,
            by=names.get(row.by_id, ""),
            added_at=row.added_at,
        )
        for row in reversed(places_of(session, [instrument_id]).get(instrument_id, []))
    ]
