"""What the register says of the instrument an entry was made with, at the time of the entry."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.levelling.results import two_peg
from app.records.entries import Entry
from app.services.equipment import fitness
from app.services.equipment.calibrations import PEG_TEST, calibrations_of, checks_of
from app.services.equipment.fitness import State
from app.services.equipment.naming import day_of, instruments_of
from app.services.equipment.register import INSTRUMENT_KINDS, facts_of, place_on, places_of

NOT_NAMED = "unknown: no instrument of the register is named"
AWAY = {"lost": "lost", "retired": "retired", "sent": "sent away"}
# kinds that an observation is made with; any other is told, because somebody likely chose wrong
MADE_WITH = {
    "level_run": {"level", "other"},
    "velocity_area": {"current_meter", "other"},
    "dilution_gulp": {"conductivity_probe", "logger", "sensor", "other"},
    "dilution_constant": {"conductivity_probe", "logger", "sensor", "other"},
}


@dataclass(frozen=True)
class Used:
    """The instrument of an entry and whether it was in date then; `flags` is what to worry of."""

    instrument_id: int | None
    name: str
    state: State
    flags: tuple[str, ...] = ()

    @property
    def calibration(self) -> str:
        return self.state.words


NO_INSTRUMENT = Used(None, "", State(fitness.UNKNOWN, NOT_NAMED))


def used_by(session: Session, entries: Sequence[Entry]) -> dict[str, Used]:
    """Return what is known of the instrument of each entry; in a few statements for all."""
    named = instruments_of(session, entries) if entries else {}
    ids = {one for one in named.values() if one is not None}
    if not ids:
        return {entry.id: _own_test(entry, NO_INSTRUMENT) for entry in entries}
    facts, places = facts_of(session, ids), places_of(session, ids)
    calibrations = calibrations_of(session, ids)
    checks = {one: checks_of(calibrations[one]) for one in ids}
    found = {}
    for entry in entries:
        one = named[entry.id]
        if one is None or one not in facts:
            found[entry.id] = _own_test(entry, NO_INSTRUMENT)
            continue
        fact, day = facts[one][-1], day_of(entry.observed_at, entry.utc_offset_min)
        state = fitness.state_on(checks[one], day)
        name = f"{fact.described}, {fact.serial}" if fact.serial else fact.described
        flags = []
        if state.word in (fitness.OVERDUE, fitness.NOT_FIT):
            flags.append(f"instrument: calibration {state.words}")
        kinds = MADE_WITH.get(_method(entry))
        if kinds is not None and fact.kind not in kinds:
            flags.append(f"instrument: {name} is of the kind {INSTRUMENT_KINDS[fact.kind]}")
        place = place_on(places.get(one, []), day)
        if place is not None and place.place in AWAY:
            flags.append(f"instrument: {AWAY[place.place]} on that day, says the register")
        found[entry.id] = _own_test(entry, Used(one, name, state, tuple(flags)))
    return found


def _method(entry: Entry) -> str:
    observed = entry.body.get("observed")
    return str(observed.get("method")) if isinstance(observed, dict) else entry.kind


def _own_test(entry: Entry, used: Used) -> Used:
    """Let a two-peg test that the run itself brought along, and failed, count for the run."""
    test = entry.body.get("peg_test") if entry.kind == "level_run" else None
    if not test:
        return used
    try:
        if two_peg(**test).passes:
            return used
    except BadInput:
        return used
    words = f"{fitness.NOT_FIT} by its own {PEG_TEST}"
    if used.state.word == fitness.NOT_FIT:
        return used
    day = day_of(entry.observed_at, entry.utc_offset_min)
    flag = f"instrument: {words}"
    return Used(used.instrument_id, used.name, State(fitness.NOT_FIT, words, None, day),
                (*used.flags, flag))  # fmt: skip
