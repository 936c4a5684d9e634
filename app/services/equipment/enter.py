"""What people say of instruments: a new one, what it is put right, where it is now."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.equipment import Instrument, InstrumentFact, InstrumentPlace
from app.records.people import Person
from app.records.sites import Site
from app.services.equipment.register import (
    GONE,
    INSTRUMENT_KINDS,
    INSTRUMENT_PLACES,
    facts_of,
    get_instrument,
)
from app.services.sites import twice

LONGEST_INTERVAL_DAYS = 3660


def add_instrument(session: Session, form: Form, person: Person, now: datetime) -> int:
    """Add an instrument from a form and return its id.

    The form: kind, described, serial, interval_days, note, and where it is: since, place, site_id,
    person_id, words.

    Raises
    ------
    BadInput
        With every field that breaks a rule, or when the register holds it already.
    """
    assert person.id is not None
    found = forms.together(
        values=lambda: _facts(form), placed=lambda: _placed(session, form, now.date())
    )
    values, placed = found["values"], found["placed"]
    key = (values["kind"], values["serial"])
    for rows in facts_of(session).values():
        said = rows[-1]
        if not said.serial or (said.kind, said.serial) != key:
            continue
        again = said.by_id == person.id and now - said.added_at <= twice.WITHIN
        if again and {key: getattr(said, key) for key in values} == values:
            return said.instrument_id
        if said.described.casefold() == values["described"].casefold():
            raise BadInput(
                "serial",
                values["serial"],
                f"the register holds this {INSTRUMENT_KINDS[said.kind]} already",
                "Open it in the list; two that bear one number need descriptions that differ.",
            )
    instrument = Instrument(by_id=person.id, added_at=now)
    session.add(instrument)
    session.flush()
    assert instrument.id is not None
    made: dict[str, Any] = {"instrument_id": instrument.id, "by_id": person.id, "added_at": now}
    session.add(InstrumentFact(**values, reason="", **made))
    session.add(InstrumentPlace(**placed, reason="", **made))
    session.flush()
    write_audit(
        session, person.id, "added", "instrument", instrument.id, after=values | _told(placed)
    )
    return instrument.id


def change_facts(
    session: Session, instrument_id: int, form: Form, person: Person, now: datetime
) -> None:
    """Say anew what an instrument is; raises BadInput, also without a reason."""
    get_instrument(session, instrument_id)
    assert person.id is not None
    found = forms.together(
        values=lambda: _facts(form),
        reason=lambda: forms.text(form, "reason", most=2000, required=True),
    )
    values, reason = found["values"], found["reason"]
    before = facts_of(session, [instrument_id])[instrument_id][-1]
    changed = [key for key in values if getattr(before, key) != values[key]]
    if not changed:
        return
    session.add(
        InstrumentFact(
            instrument_id=instrument_id, **values, reason=reason, by_id=person.id, added_at=now
        )
    )
    write_audit(
        session,
        person.id,
        "changed",
        "instrument",
        instrument_id,
        before={key: getattr(before, key) for key in changed},
        after={key: values[key] for key in changed},
        reason=reason,
    )


def move(session: Session, instrument_id: int, form: Form, person: Person, now: datetime) -> None:
    """Say where an instrument is from a day on; raises BadInput."""
    get_instrument(session, instrument_id)
    assert person.id is not None
    needed = form.get("place", "") in GONE
    found = forms.together(
        placed=lambda: _placed(session, form, now.date()),
        reason=lambda: forms.text(form, "reason", most=2000, required=needed),
    )
    placed = found["placed"]
    row = InstrumentPlace(
        instrument_id=instrument_id,
        **placed,
        reason=found["reason"],
        by_id=person.id,
        added_at=now,
    )
    if twice.said_again(session, row, "instrument_id") is not None:
        return
    session.add(row)
    write_audit(
        session, person.id, "moved", "instrument", instrument_id, after=_told(placed),
        reason=row.reason,
    )  # fmt: skip


def _facts(form: Form) -> dict[str, Any]:
    return forms.together(
        kind=lambda: _one_of(INSTRUMENT_KINDS, form, "kind"),
        described=lambda: forms.text(form, "described", most=200, required=True),
        serial=lambda: forms.text(form, "serial", most=60),
        interval_days=lambda: forms.whole_days(form, "interval_days", high=LONGEST_INTERVAL_DAYS),
        note=lambda: forms.text(form, "note", most=4000),
    )


def _one_of(known: Mapping[str, str], form: Form, field: str) -> str:
    typed = form.get(field, "")
    if typed not in known:
        raise BadInput(field, typed[:20], f"one of {', '.join(known.values())}", "Choose one.")
    return typed


def _placed(session: Session, form: Form, today: date) -> dict[str, Any]:
    place = form.get("place", "")
    at_site, with_one = place == "site", place == "person"
    return forms.together(
        since=lambda: _since(form, today),
        place=lambda: _one_of(INSTRUMENT_PLACES, form, "place"),
        site_id=lambda: _row_of(session, Site, form, "site_id") if at_site else None,
        person_id=lambda: _row_of(session, Person, form, "person_id") if with_one else None,
        words=lambda: forms.text(form, "words", most=200, required=place in ("store", "sent")),
    )


def _since(form: Form, today: date) -> date:
    since = forms.site_day(form.get("since", ""), "since") or today
    if since > today:
        raise BadInput("since", str(since), "lies ahead of today", "Say it when it is so.")
    return since


def _row_of(session: Session, model: type[Site] | type[Person], form: Form, field: str) -> int:
    typed = form.get(field, "").strip()
    known = typed.isascii() and typed.isdigit() and len(typed) < 10
    if not known or session.get(model, int(typed)) is None:
        noun = field.removesuffix("_id")
        raise BadInput(field, typed[:20], f"name the {noun} it is with", "Choose one of the list.")
    return int(typed)


def _told(placed: dict[str, Any]) -> dict[str, Any]:
    return {
        key: str(v) if key == "since" else v for key, v in placed.items() if v not in (None, "")
    }
