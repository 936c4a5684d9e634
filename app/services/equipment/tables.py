"""The register and the page of one instrument as tables, and what of it a phone carries."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlmodel import Session, col, select

from app.language.tables import Column, Table
from app.records.sensors import Logger
from app.records.sites import Structure
from app.services.equipment import fitness
from app.services.equipment.calibrations import (
    CalibrationLine,
    calibrations_of,
    checks_of,
)
from app.services.equipment.coefficients import coefficient_lines
from app.services.equipment.fitness import State, state_on
from app.services.equipment.naming import Mention, mentions, plain
from app.services.equipment.register import (
    InstrumentLine,
    PlaceLine,
    facts_of,
    get_instrument,
    history_of_places,
    line,
    lines,
)
from app.services.sites.changes import names_of

SOON = timedelta(days=30)

REGISTER_COLUMNS = (
    Column("id", "Instrument"),
    Column("kind_words", "Kind"),
    Column("described", "Description"),
    Column("serial", "Serial number"),
    Column("place_words", "Where it is"),
    Column("since", "There since"),
    Column("site_id", "Site id"),
    Column("person_id", "Person id"),
    Column("calibration", "Calibration"),
    Column("calibration_words", "Calibration, in words"),
    Column("calibrated_on", "Last calibration or check"),
    Column("due_on", "Next due"),
    Column("interval_days", "Interval, days"),
    Column("note", "Note"),
)
CALIBRATION_COLUMNS = (
    Column("id", "Calibration"),
    Column("entry_id", "Level run of the two-peg test"),
    Column("what", "What"),
    Column("on_day", "On"),
    Column("by_whom", "By"),
    Column("outcome", "Outcome"),
    Column("result", "Result"),
    Column("coefficients", "Coefficients"),
    Column("due_on", "Next due"),
    Column("certificate_name", "Certificate"),
    Column("certificate_sha256", "SHA-256 of the certificate"),
    Column("stands", "Counts"),
    Column("replaces_id", "Puts right"),
    Column("void", "Says there was none"),
    Column("reason", "Reason"),
    Column("by", "Entered by"),
    Column("added_at", "Entered, UTC"),
)
PLACE_COLUMNS = (
    Column("since", "Since"),
    Column("place", "Place"),
    Column("words", "Where"),
    Column("site_id", "Site id"),
    Column("reason", "Reason"),
    Column("by", "Entered by"),
    Column("added_at", "Entered, UTC"),
)
FACT_COLUMNS = (
    Column("added_at", "Said, UTC"),
    Column("kind", "Kind"),
    Column("described", "Description"),
    Column("serial", "Serial number"),
    Column("interval_days", "Interval, days"),
    Column("note", "Note"),
    Column("reason", "Reason"),
    Column("by", "By"),
)


@dataclass(frozen=True)
class RegisterLine:
    """An instrument with the state of its calibration today."""

    of: InstrumentLine
    state: State
    soon: bool

    @property
    def rank(self) -> tuple[bool, int, bool, str]:
        """Return what the list is sorted by: the most pressing first, the gone last."""
        place = fitness.STATES.index(self.state.word)
        return (self.of.gone, place, not self.soon, str(self.state.due_on or ""))

    def as_row(self) -> dict[str, Any]:
        row = vars(self.of) | {"kind_words": self.of.kind_words, "place_words": self.of.place_words}
        return row | {
            "calibration": self.state.word,
            "calibration_words": self.state.words,
            "calibrated_on": self.state.on_day,
            "due_on": self.state.due_on,
        }


@dataclass(frozen=True, kw_only=True)
class InstrumentPage:
    """Everything the page of one instrument says."""

    now: RegisterLine
    calibrations: list[CalibrationLine]
    places: list[PlaceLine]
    facts: list[dict[str, Any]]
    mentions: list[Mention]
    loggers: list[tuple[int, int, str]]
    same_serial: list[InstrumentLine]


def register(
    session: Session,
    today: date,
    *,
    kind: str = "",
    state: str = "",
    site_id: int | None = None,
    words: str = "",
    in_use: bool = False,
    ids: Sequence[int] | None = None,
) -> list[RegisterLine]:
    """Return the instruments, the most pressing first; in a few statements for all.

    Parameters
    ----------
    kind, state, site_id, words : only those of a kind, in a state, at a site, with such words
    in_use : without those that are gone for good
    """
    held = lines(session, today, ids)
    calibrations = calibrations_of(session, ids)
    found = []
    for one in held:
        said = state_on(checks_of(calibrations.get(one.id, [])), today)
        due = said.due_on
        soon = said.word == fitness.IN_DATE and due is not None and due - today <= SOON
        found.append(RegisterLine(one, said, soon))
    sought = words.casefold().strip()
    chosen = [
        x
        for x in found
        if (not kind or x.of.kind == kind)
        and not (in_use and x.of.gone)
        and (not state or x.state.word == state)
        and (site_id is None or x.of.site_id == site_id)
        and (not sought or sought in f"{x.of.name} {x.of.place_words} {x.of.note}".casefold())
    ]
    return sorted(chosen, key=lambda x: x.rank)


def register_table(found: Sequence[RegisterLine]) -> Table:
    return Table("equipment", REGISTER_COLUMNS, [one.as_row() for one in found])


def instrument_page(session: Session, instrument_id: int, today: date) -> InstrumentPage:
    """Return everything known of an instrument; raises NotFound."""
    get_instrument(session, instrument_id)
    now = register(session, today, ids=[instrument_id])[0]
    serial = now.of.serial
    same = [x for x in lines(session, today) if serial and plain(x.serial) == plain(serial)]
    return InstrumentPage(
        now=now,
        calibrations=calibrations_of(session, [instrument_id])[instrument_id][::-1],
        places=history_of_places(session, instrument_id),
        facts=_facts(session, instrument_id)[::-1],
        mentions=mentions(session, serial),
        loggers=_loggers(session, serial) if now.of.kind in ("logger", "sensor") else [],
        same_serial=[x for x in same if x.id != instrument_id],
    )


def _facts(session: Session, instrument_id: int) -> list[dict[str, Any]]:
    names = names_of(session)
    return [
        row.model_dump() | {"by": names.get(row.by_id, "")}
        for row in facts_of(session, [instrument_id])[instrument_id]
    ]


def _loggers(session: Session, serial: str) -> list[tuple[int, int, str]]:
    """Return loggers of the record with this serial number: id, site, name."""
    if not plain(serial):
        return []
    rows = session.exec(
        select(Logger, Structure.site_id)
        .where(Logger.structure_id == Structure.id, col(Logger.serial) != "")
        .order_by(col(Logger.id))
    )
    return [(x.id or 0, site, x.name) for x, site in rows if plain(x.serial) == plain(serial)]


def calibrations_table(session: Session, instrument_id: int) -> Table:
    get_instrument(session, instrument_id)
    rows = [
        vars(x) | {"outcome": x.outcome_words, "coefficients": coefficient_lines(x.coefficients)}
        for x in calibrations_of(session, [instrument_id])[instrument_id]
    ]
    return Table(f"calibrations-{instrument_id}", CALIBRATION_COLUMNS, rows)


def places_table(session: Session, instrument_id: int) -> Table:
    get_instrument(session, instrument_id)
    rows = [vars(x) for x in history_of_places(session, instrument_id)]
    return Table(f"places-{instrument_id}", PLACE_COLUMNS, rows)


def facts_table(session: Session, instrument_id: int) -> Table:
    get_instrument(session, instrument_id)
    return Table(f"facts-instrument-{instrument_id}", FACT_COLUMNS, _facts(session, instrument_id))


def form_of(session: Session, instrument_id: int, today: date) -> dict[str, str]:
    """Return an instrument as the form of its facts shows it."""
    one = line(session, instrument_id, today)
    return {
        "kind": one.kind,
        "described": one.described,
        "serial": one.serial,
        "interval_days": str(one.interval_days or ""),
        "note": one.note,
        "reason": "",
    }


def calibration_form(found: CalibrationLine) -> dict[str, str]:
    """Return a calibration as the form that puts it right shows it."""
    return {
        "on_day": str(found.on_day),
        "by_whom": found.by_whom,
        "outcome": found.outcome,
        "result": found.result,
        "coefficients": "\n".join(coefficient_lines(found.coefficients)),
        "due_on": str(found.due_on or ""),
        "replaces_id": str(found.id or ""),
    }


def for_phone(session: Session, today: date) -> list[dict[str, Any]]:
    """Return what a phone needs to offer instruments: those in use, small.

    `due_on` and `calibration` are as of the day of the pack; the phone may say more only when it
    knows the day.
    """
    return [
        {
            "id": x.of.id,
            "kind": x.of.kind,
            "name": x.of.name,
            "site_id": x.of.site_id,
            "calibration": x.state.word,
            "due_on": x.state.due_on.isoformat() if x.state.due_on else None,
        }
        for x in sorted(register(session, today), key=lambda x: x.of.id)
        if not x.of.gone
    ]
