"""One reading explained: what was seen, and every step from it to its discharge, with sources."""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import NotFound, SillbookError
from app.hydraulics.rating.rate import Rated
from app.hydraulics.structure.device import flag_words
from app.language import words
from app.language.trade import OCCASIONS
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.entries.links import what_stands
from app.services.entries.standing import Standing
from app.services.entries.written import observer_of, source_words
from app.services.readings.observed import Observed, observed
from app.services.readings.rate import PHONE_DIFFERENCE, rate_observed
from app.services.readings.steps import Step, parts_of, steps_of
from app.services.settings.in_force import judged_by
from app.services.sites.changes import names_of
from app.services.sites.dated import device_of
from app.services.sites.views import described

REPRODUCED = 1e-9  # a share: the same arithmetic, but for the last digits of another processor


@dataclass(frozen=True)
class Value:
    """A flow value, present or earlier, with the rating and gauge zero it cites."""

    value: FlowValue
    rating: Rating | None
    zero: GaugeZero | None

    @property
    def shown(self) -> str:
        return words.discharge(self.value.discharge_m3s, self.value.uncertainty_pct)

    @property
    def flow(self) -> str:
        return words.flow_word(self.value.flow)

    @property
    def flags(self) -> list[str]:
        return flag_words(self.value.flags)


@dataclass(frozen=True)
class Linked:
    """An entry before or after this one in a line of corrections."""

    id: str
    by: str
    observed_at: datetime
    reason: str | None
    relation: str  # corrects | corrected by | other correction


@dataclass(frozen=True)
class Preview:
    """What the phone showed, beside the server's value by the same rating."""

    shown: str
    flow: str
    flags: list[str]
    difference_pct: float | None
    words: str


@dataclass(frozen=True, kw_only=True)
class Explained:
    """Everything a page says of one reading."""

    entry: Entry
    site: Site
    structure: Structure
    by: str
    observer: str
    source: str
    occasion: str
    visit_observers: list[str]
    present: Value | None
    earlier: list[Value]
    described: str
    steps: list[Step]
    parts: list[tuple[str, float]]
    sources: list[tuple[str, str]]
    reproduced: bool | None
    reproduction: str
    linked: list[Linked]
    stands: bool
    replaced: bool
    withdrawn: list[Linked]
    rival: bool
    preview: Preview | None
    late_min: float


def get_reading(session: Session, entry_id: str) -> Entry:
    """Return a head reading; raises NotFound."""
    entry = session.get(Entry, entry_id) if "\0" not in entry_id else None
    if entry is None or entry.kind != "head_reading":
        raise NotFound(f"reading {entry_id}")
    return entry


def explain(session: Session, entry_id: str) -> Explained:
    """Return a reading with its computation done again step by step; raises NotFound."""
    entry = get_reading(session, entry_id)
    site, structure = session.get(Site, entry.site_id), session.get(Structure, entry.structure_id)
    assert site is not None
    assert structure is not None
    names = names_of(session)
    values = values_of(session, entry_id)
    present = next((v for v in values if v.value.current), None)
    links = what_stands(session, entry.site_id)
    visit = session.get(Entry, links.latest(entry.visit_id) or "") if entry.visit_id else None
    steps: list[Step] = []
    parts: list[tuple[str, float]] = []
    sources: list[tuple[str, str]] = []
    reproduced: bool | None = None
    reproduction = "There is no computed value yet to compare with."
    if present and present.rating and present.zero:
        try:
            device = device_of(present.rating)
            limits = judged_by(present.value.limits)
            seen = observed(entry, structure, present.zero, device, limits)
            kept = present.value.head_uncertainty_m
            seen = replace(
                seen, head_uncertainty_m=seen.head_uncertainty_m if kept is None else kept
            )
            result = rate_observed(device, [seen])
            steps = steps_of(
                entry,
                structure,
                present.zero,
                value=present.value,
                device=device,
                seen=seen,
                result=result,
            )
            parts = parts_of(result, present.value)
            sources = [(s.text, str(s.provenance)) for s in device.sources]
            reproduced, reproduction = reproduces(present.value, seen, result)
        except SillbookError as error:
            reproduction = f"It cannot be computed again: {error}"
    elif present:
        reproduction = present.value.reason
    return Explained(
        entry=entry,
        site=site,
        structure=structure,
        by=names.get(entry.by_id, "unknown"),
        observer=observer_of(entry.body, names.get(entry.by_id, "unknown")),
        source=source_words(entry.body),
        occasion=OCCASIONS[entry.body.get("occasion", "during")],
        visit_observers=visit.body.get("observers", []) if visit else [],
        present=present,
        earlier=[v for v in values if not v.value.current],
        described=described(present.rating) if present and present.rating else "not rated",
        steps=steps,
        parts=parts,
        sources=sources,
        reproduced=reproduced,
        reproduction=reproduction,
        linked=linked(session, links, entry_id, names),
        stands=links.stands(entry_id),
        replaced=bool(links.replaced_by(entry_id)),
        withdrawn=withdrawals(session, links, entry_id, names),
        rival=links.rival(entry_id),
        preview=preview_of(entry, present),
        late_min=(entry.received_at - entry.saved_at).total_seconds() / 60.0,
    )


def values_of(session: Session, entry_id: str) -> list[Value]:
    """Return all flow values of a reading, newest first."""
    found = session.execute(
        sa.select(FlowValue, Rating, GaugeZero)
        .outerjoin(Rating, col(FlowValue.rating_id) == col(Rating.id))
        .outerjoin(GaugeZero, col(FlowValue.gauge_zero_id) == col(GaugeZero.id))
        .where(col(FlowValue.entry_id) == entry_id)
        .order_by(col(FlowValue.rated_at).desc(), col(FlowValue.id).desc())
    )
    return [Value(*row) for row in found]


def reproduces(value: FlowValue, seen: Observed, result: Rated) -> tuple[bool, str]:
    """Tell whether the stored value comes out again, in words."""
    again = float(result.discharge_m3s[0])
    stored = math.nan if value.discharge_m3s is None else value.discharge_m3s
    if math.isnan(again) and math.isnan(stored) and value.flow == int(result.flow[0]):
        return True, "Computed again from the staff readings: not determined, as stored."
    if math.isclose(again, stored, rel_tol=REPRODUCED, abs_tol=1e-15):
        return True, f"Computed again from the staff readings: {again:.6g} m³/s, as stored."
    return False, (
        f"Computed again from the staff readings: {again:.6g} m³/s, but stored is "
        f"{stored:.6g} m³/s by {value.engine}. Rate the site again to see every change."
    )


def linked(session: Session, links: Standing, entry_id: str, names: dict[int, str]) -> list[Linked]:
    """Return what a reading corrects, what corrects it, and what competes with it."""
    before = links.line(entry_id)[1:]
    after = links.corrections(entry_id)
    beside = [e for p in before[:1] for e in links.corrections(p) if e != entry_id]
    relation = dict.fromkeys(before, "corrects")
    relation |= dict.fromkeys(after, "corrected by") | dict.fromkeys(beside, "other correction")
    found = session.exec(select(Entry).where(col(Entry.id).in_(relation)))
    return [
        Linked(e.id, names.get(e.by_id, ""), e.observed_at, e.reason, relation[e.id])
        for e in sorted(found, key=lambda e: e.received_at)
    ]


def withdrawals(
    session: Session, links: Standing, entry_id: str, names: dict[int, str]
) -> list[Linked]:
    """Return who withdrew an entry and why, where that is in force."""
    found = session.exec(
        select(Entry)
        .where(col(Entry.id).in_(links.withdrawals(entry_id)))
        .order_by(col(Entry.received_at))
    )
    return [
        Linked(e.id, names.get(e.by_id, ""), e.observed_at, e.reason, "withdrawn by") for e in found
    ]


def preview_of(entry: Entry, present: Value | None) -> Preview | None:
    """Return what the phone showed and how it compares; None when it showed nothing."""
    shown: dict[str, Any] | None = entry.body.get("preview")
    if not shown:
        return None
    phone = shown.get("discharge_m3s")
    server = present.value.discharge_m3s if present else None
    difference = None
    if phone is not None and server:
        difference = 100.0 * (phone - server) / server
    if present is None or shown.get("rating_id") != present.value.rating_id:
        verdict = "The phone used another rating, so the two may differ."
    elif difference is None:
        verdict = "There is nothing to compare."
    elif abs(difference) > 100.0 * PHONE_DIFFERENCE:
        verdict = f"The phone differs by {difference:+.2f} %; the office's value counts."
    else:
        verdict = f"They agree ({difference:+.3f} %)."
    return Preview(
        words.discharge(phone, shown.get("uncertainty_pct")),
        shown.get("flow") or "no flow word",
        shown.get("flags") or [],
        difference,
        verdict,
    )


def read_times(entry: Entry) -> list[datetime]:
    """Return the times of the repeats, UTC; empty when they were not noted."""
    moments = entry.body.get("read_at") or []
    return [datetime.fromisoformat(moment).astimezone(UTC) for moment in moments]
