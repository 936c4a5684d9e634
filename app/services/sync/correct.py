"""Correct a reading: a new entry beside the first, sent on the same road as every observation."""

import copy
from datetime import datetime
from functools import partial
from typing import Any

from sqlmodel import Session, select

from app.errors import BadInput, NotAllowed
from app.hydraulics.base.units import LENGTH_M
from app.language import forms
from app.language.clock import iso, uuid7
from app.language.forms import Form
from app.language.trade import OCCASIONS, TAILWATER, WATER
from app.language.typed import refuse_future
from app.records.database import utc_now
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.readings.export import REPEATS
from app.services.readings.page import get_reading
from app.services.sites.register import HEAD_UNITS
from app.services.sync import accept as sync
from app.services.sync import page
from app.services.sync.page import may_correct as may_correct


def form_of(session: Session, entry: Entry, now: datetime) -> dict[str, str]:
    """Return the form of a correction, filled with what the reading says now."""
    site = session.get(Site, entry.site_id)
    assert site is not None
    body = entry.body
    unit = (body.get("entered") or {}).get("unit") or site.head_unit
    tail = body.get("tailwater") or {}
    return {
        "correction_id": uuid7(now),
        "made_at": iso(now),
        "structure_id": str(entry.structure_id),
        "observed_at": forms.local_text(entry.observed_at, site.utc_offset_min),
        "occasion": body.get("occasion", "during"),
        "unit": unit,
        **{f"staff_{k}": shown(m, unit) for k, m in enumerate(body["staff_m"], 1)},
        "tail_state": tail.get("state", "not_seen"),
        "tail_staff": shown(tail.get("staff_m"), unit),
        **{f"condition_{name}": "yes" for name in body.get("conditions") or []},
        "note": body.get("note") or "",
        "reason": "",
    }


def shown(value_m: float | None, unit: str) -> str:
    return "" if value_m is None else forms.figure_text(round(value_m / LENGTH_M[unit], 9))


def places(session: Session) -> list[tuple[str, str]]:
    """Return all structures a reading may belong to, by id and name with site."""
    found = session.exec(
        select(Structure, Site).where(Structure.site_id == Site.id).order_by(Site.name)
    )
    return [(str(structure.id), f"{site.name}: {structure.name}") for structure, site in found]


def correct(
    session: Session, person: Person, entry_id: str, form: Form, received_at: datetime
) -> str:
    """Store a correction and return its id; the first reading stays as it was seen.

    The id and time in the form make a second sending of the same form harmless.

    Raises
    ------
    NotAllowed
        When crew would correct somebody else's reading.
    BadInput
        For the first field that breaks a rule.
    """
    entry = get_reading(session, entry_id)
    if not may_correct(person, entry):
        raise NotAllowed("crew correct their own readings; ask the office for this one")
    content = content_of(session, person, entry, form)
    batch = sync.Batch("office", None, [content])
    receipt = sync.accept(session, person, batch, received_at)[0]
    if receipt.error is not None:
        raise receipt.error
    return receipt.id


def withdraw(
    session: Session, person: Person, entry_id: str, form: Form, received_at: datetime
) -> None:
    """Store a withdrawal of a reading, as `entries.page.withdraw` does; raises NotFound too."""
    get_reading(session, entry_id)
    page.withdraw(session, person, entry_id, form, received_at)


def content_of(session: Session, person: Person, entry: Entry, form: Form) -> dict[str, Any]:
    """Return the correction as an entry; raises BadInput with every fault."""
    structure, site = place_of(session, form)
    found = forms.together(
        reason=lambda: forms.text(form, "reason", most=2000, required=True),
        observed_at=lambda: _observed_at(form, site),
        body=lambda: typed_body(form),
    )
    observed_at: datetime = found["observed_at"]
    body = copy.deepcopy(entry.body) | found["body"]
    return {
        "id": form.get("correction_id", ""),
        "kind": "head_reading",
        "site_id": site.id,
        "structure_id": structure.id,
        "visit_id": entry.visit_id,
        "observed_at": iso(observed_at),
        "utc_offset_min": site.utc_offset_min,
        "by": person.id,
        "saved_at": form.get("made_at", ""),
        "corrects": entry.id,
        "reason": found["reason"],
        "moves": site.id != entry.site_id,
        "body": body | moved_times(entry, body, observed_at),
    }


def _observed_at(form: Form, site: Site) -> datetime:
    observed_at = forms.site_moment(form, "observed_at", site.utc_offset_min)
    refuse_future("observed_at", observed_at, utc_now(), form.get("observed_at", ""))
    return observed_at


def place_of(session: Session, form: Form) -> tuple[Structure, Site]:
    typed = form.get("structure_id", "")
    known = typed.isascii() and typed.isdigit() and len(typed) < 10
    structure = session.get(Structure, int(typed)) if known else None
    site = session.get(Site, structure.site_id) if structure else None
    if structure is None or site is None:
        raise BadInput("structure_id", typed, "no such structure", "Choose one from the list.")
    return structure, site


def typed_body(form: Form) -> dict[str, Any]:
    """Return what the form says of a reading; raises BadInput with every fault."""
    unit = form.get("unit", "")
    if unit not in HEAD_UNITS:
        raise BadInput("unit", unit, "heads are read in mm, cm or m", "Choose one of them.")
    typed = [form.get(f"staff_{k}", "").strip() for k in range(1, REPEATS + 1)]
    if not any(typed):
        raise BadInput("staff_1", "", "at least one staff reading is needed", "Fill it in.")
    state = form.get("tail_state", "")
    if state not in TAILWATER:
        raise BadInput("tail_state", state, "not a state of the tailwater", "Choose one.")
    tail_typed = form.get("tail_staff", "").strip()
    occasion = form.get("occasion", "")
    if occasion not in OCCASIONS:
        raise BadInput("occasion", occasion, "not an occasion", "Choose one of the list.")
    staff = {
        f"staff_{k}": partial(metres_of, form, f"staff_{k}", unit)
        for k in range(1, REPEATS + 1)
        if typed[k - 1]
    }
    found = forms.together(
        **staff,
        tail=lambda: _tail_m(form, tail_typed, unit) if state == "read" else None,
        note=lambda: forms.text(form, "note", most=4000),
    )
    return {
        "occasion": occasion,
        "staff_m": [found[name] for name in staff],
        "entered": {"unit": unit, "text": [text for text in typed if text]},
        "tailwater": {
            "state": state,
            "staff_m": found["tail"],
            "text": tail_typed or None if state == "read" else None,
        },
        "conditions": [name for name in WATER if form.get(f"condition_{name}") == "yes"],
        "note": found["note"],
        "preview": None,
    }


def _tail_m(form: Form, typed: str, unit: str) -> float:
    if not typed:
        raise BadInput(
            "tail_staff",
            "",
            "a tailwater that was read has a figure",
            "Give the tail staff reading, or choose another state.",
        )
    return metres_of(form, "tail_staff", unit)


def metres_of(form: Form, field: str, unit: str) -> float:
    value = forms.needed(form, field, low=-50 / LENGTH_M[unit], high=50 / LENGTH_M[unit])
    return round(value * LENGTH_M[unit], 9)


def moved_times(entry: Entry, body: dict[str, Any], observed_at: datetime) -> dict[str, Any]:
    """Return the times of repeats and gate, moved with the reading's own time.

    Times of repeats are dropped when their number changed: they would no longer fit.
    """
    by = observed_at - entry.observed_at
    moments = body.get("read_at")
    if moments is not None and len(moments) != len(body["staff_m"]):
        moments = None
    gate = body.get("gate_opened_at")
    return {
        "read_at": moments and [iso(datetime.fromisoformat(m) + by) for m in moments],
        "gate_opened_at": gate and iso(datetime.fromisoformat(gate) + by),
    }
