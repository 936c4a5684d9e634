"""What a race can carry at most: stated by a person, never less than what was seen to pass.

It bounds what may have passed while nothing was recorded. Without a statement nobody can tell;
the top head of a rating says what was tested, not what the race holds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

import numpy as np
from sqlmodel import Session

from app.errors import BadInput, SillbookError
from app.hydraulics.base.units import DAY_S, LENGTH_M
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flag
from app.language import forms, words
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.people import Person
from app.records.sites import Rating
from app.records.takes import RaceCapacity
from app.services.series import read as series_read
from app.services.series.months import day_begins_s
from app.services.sites import twice
from app.services.sites.changes import names_of
from app.services.sites.dated import device_of, histories, in_force
from app.services.sites.structures import place
from app.services.takes.shelf import Shelf, shelf_of, stated_of

CAPACITY_KINDS = {
    "head": "head at bank-full",
    "flow": "flow at bank-full",
    "unknown": "not known any more",
}
NOT_STATED = "the race's capacity is not stated"


@dataclass(frozen=True, kw_only=True)
class CapacityLine:
    """A statement as people read it."""

    id: int
    structure: str
    kind: str
    kind_words: str
    head_m: float | None
    discharge_m3s: float | None
    valid_from: date
    reason: str
    by: str
    added_at: datetime


@dataclass(frozen=True)
class Capacity:
    """The most that can have passed at once, m3/s, and where it is from; None: cannot tell."""

    rate_m3s: float | None
    words: str


def add_capacity(
    session: Session, structure_id: int, form: Form, person: Person, now: datetime
) -> RaceCapacity:
    """State what a race carries at most, from a form: kind, amount, unit, valid_from, reason.

    A head is in the unit of the form (the site's own), over the crest; a flow is in m3/s.

    Raises
    ------
    BadInput
        For the first field that breaks a rule.
    """
    site, _ = place(session, structure_id)
    kind = form.get("kind", "")
    if kind not in CAPACITY_KINDS:
        raise BadInput("kind", kind[:20], f"one of {', '.join(CAPACITY_KINDS)}", "Choose one.")
    found = forms.together(
        amount=lambda: _amount(form, kind, site.head_unit),
        valid_from=lambda: forms.day_needed(form, "valid_from", "Give the first day it holds."),
        reason=lambda: forms.text(form, "reason", most=2000, required=True),
    )
    assert person.id is not None
    row = RaceCapacity(
        structure_id=structure_id,
        kind=kind,
        **found,
        by_id=person.id,
        added_at=now,
    )
    known = twice.sent_again(session, row)
    if known is not None:
        return known
    session.add(row)
    session.flush()
    write_audit(
        session,
        person.id,
        "race capacity stated",
        "structure",
        structure_id,
        after={"kind": kind, "amount": row.amount, "from": str(row.valid_from)},
        reason=row.reason,
    )
    return row


def _amount(form: Form, kind: str, site_unit: str) -> float | None:
    """Return the head, m, or the flow, m3/s, that is stated; None where nothing is."""
    if kind == "head":
        unit = form.get("unit") or site_unit
        if unit not in LENGTH_M:
            raise BadInput("unit", unit[:20], "is no unit of a head", "Use mm, cm, m or ft.")
        factor = LENGTH_M[unit]
        amount = forms.needed(form, "amount", low=0.001 / factor, high=20.0 / factor, unit=unit)
        return round(amount * factor, 9)
    if kind == "flow":
        return forms.needed(form, "amount", low=0.0, high=1e5, unit="m3/s")
    return None


def lines(session: Session, structure_id: int) -> list[CapacityLine]:
    """Return the statements of a structure, in the order in which they take over."""
    names = names_of(session)
    _, structure = place(session, structure_id)
    return [
        CapacityLine(
            id=row.id or 0,
            structure=structure.name,
            kind=row.kind,
            kind_words=CAPACITY_KINDS[row.kind],
            head_m=row.amount if row.kind == "head" else None,
            discharge_m3s=row.amount if row.kind == "flow" else None,
            valid_from=row.valid_from,
            reason=row.reason,
            by=names.get(row.by_id, ""),
            added_at=row.added_at,
        )
        for row in stated_of(session, [structure_id]).get(structure_id, [])
    ]


def capacity(
    session: Session, structure_id: int, first: date, last: date, shelf: Shelf | None = None
) -> Capacity:
    """Return the most that can have passed at once between two days, both included.

    The largest of what is stated for any of the days, and never less than the largest rate that
    the record, a reading that stands or a check gauging has shown.
    """
    shelf = shelf or shelf_of(session, {structure_id: (first, last)})
    rows = [row for row in shelf.stated.get(structure_id, ()) if row.valid_from <= last]
    before = [row for row in rows if row.valid_from <= first]
    held = before[-1:] + [row for row in rows if row.valid_from > first]
    if not before:
        since = f" before {held[0].valid_from}" if held else ""
        return Capacity(None, NOT_STATED + since)
    stated = []
    for row in held:
        if row.amount is None:
            return Capacity(None, f"{NOT_STATED} from {row.valid_from} on")
        found = row.amount if row.kind == "flow" else _at_head(session, row, first, last)
        if found is None:
            return Capacity(
                None,
                f"no rating gives a flow at bank-full, {words.millimetres(row.amount)}, so the "
                "race's capacity is not known",
            )
        stated.append(found)
    doubt = _beyond(session, structure_id, shelf, held, first, last)
    if doubt:
        return Capacity(None, doubt)
    seen, where = shelf.seen[structure_id]
    most = max(stated)
    if seen > most:
        return Capacity(seen, f"at most {seen:.3g} m³/s, as {where} has shown")
    return Capacity(most, f"at most {most:.3g} m³/s, the stated capacity of the race")


def _at_head(session: Session, row: RaceCapacity, first: date, last: date) -> float | None:
    """Return the upper bound of the free flow at bank-full by every rating of the days."""
    ratings = histories(session, Rating, [row.structure_id])[row.structure_id]
    begin = datetime.combine(max(first, row.valid_from), datetime.min.time(), UTC)
    end = datetime.combine(last, datetime.max.time(), UTC)
    used = [rating for rating in ratings if begin < rating.valid_from <= end]
    at_first = in_force(ratings, begin)
    found = []
    for rating in [*used, *([at_first] if at_first else [])]:
        try:
            device = device_of(rating)
        except SillbookError:
            return None
        rated = rate(device, [row.amount or 0.0], free_seen=[True])
        found.append(float(rated.discharge_m3s[0] * (1.0 + rated.uncertainty_pct[0] / 100.0)))
    return max(found) if found and bool(np.isfinite(found).all()) else None


def _beyond(
    session: Session,
    structure_id: int,
    shelf: Shelf,
    held: Sequence[RaceCapacity],
    first: date,
    last: date,
) -> str:
    """Return why the record itself refutes the statement; nothing where it does not."""
    rows = shelf.days_of(structure_id, first, last)
    beyond = int(Flag.BEYOND_LIMIT)  # plain bits: there are many days
    odd = [row for row in rows if row.undetermined or row.flags & beyond]
    if any(row.flags & beyond for row in odd):
        return "the record shows heads too far above the range to say how much passed"
    heads = [row.amount for row in held if row.kind == "head" and row.amount is not None]
    if not odd or not heads:
        return ""
    offset_min = shelf.offset_min(structure_id)
    a = day_begins_s(odd[0].day, offset_min)
    b = day_begins_s(odd[-1].day, offset_min) + DAY_S
    found = series_read.load(session, structure_id, a, b, ("head_m", "discharge_m3s"))
    lost = found["head_m"][~np.isfinite(found["discharge_m3s"])]
    if lost.size and float(np.nanmax(np.append(lost, -np.inf))) > max(heads):
        return "the record shows heads above bank-full whose flow is not determined"
    return ""
