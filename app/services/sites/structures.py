"""Structures of a site: the form made from the registry, and the two dated histories.

A rating and a gauge zero hold from a date and are never overwritten; a newer row takes over.
"""

from datetime import datetime
from functools import partial
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.hydraulics.base.units import LENGTH_M
from app.hydraulics.structure.device import Device
from app.language import forms
from app.language.forms import ChangedMeanwhile, Form
from app.records.audit import write_audit
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.settings.in_force import value
from app.services.sites import twice
from app.services.sites.changes import update_revision, who_last, write_change
from app.services.sites.families import DIM, device_from
from app.services.sites.register import get_site, structures_of
from app.services.sites.views import ratings_of

LEVEL_M = 9000.0  # reduced levels lie within this of their datum

HEAD_UNCERTAINTY = "head_uncertainty_m"  # the setting of that name


def get_structure(session: Session, structure_id: int) -> Structure:
    """Return a structure; raises NotFound."""
    structure = session.get(Structure, structure_id)
    if structure is None:
        raise NotFound(f"structure {structure_id}")
    return structure


def place(session: Session, structure_id: int) -> tuple[Site, Structure]:
    """Return a structure and its site; raises NotFound."""
    structure = get_structure(session, structure_id)
    return get_site(session, structure.site_id), structure


def form_of(structure: Structure) -> dict[str, str]:
    """Return a structure as its form shows it."""
    return {
        "name": structure.name,
        "tailwater_gauge": "yes" if structure.tailwater_gauge else "",
        "pond_area_m2": forms.figure_text(structure.pond_area_m2),
        "head_uncertainty_mm": forms.figure_text(structure.head_uncertainty_m / LENGTH_M["mm"]),
        "revision": str(structure.revision),
    }


def new_form(site: Site, now: datetime) -> dict[str, str]:
    """Return the form of a structure not yet entered."""
    return {
        **form_of(Structure(site_id=0, name="", family="")),
        "revision": "",
        "family": "",
        "valid_from": forms.local_text(now.replace(second=0, microsecond=0), site.utc_offset_min),
        "reason": "",
        "crest_rl_m": "",
        "zero_rl_m": "",
        "tail_zero_rl_m": "",
    }


def proposed(session: Session) -> dict[str, str]:
    """Return what the office proposes at a new structure."""
    head_m = value(session, HEAD_UNCERTAINTY)
    return {"head_uncertainty_mm": forms.figure_text(round(head_m / LENGTH_M["mm"], 9))}


def rating_form(site: Site, structure: Structure, typed: Form, now: datetime) -> dict[str, str]:
    """Return the form of a new rating: the newest dimensions under what was typed so far.

    Dimensions of another family are not carried over, even where their names agree.
    """
    dims: dict[str, str] = {}
    if typed.get("family", structure.family) == structure.family:
        dims = {
            DIM + key: value if isinstance(value, str) else forms.figure_text(value)
            for key, value in structure.dims.items()
        }
    return {**new_form(site, now), "family": structure.family, **dims, **typed}


def values_of(session: Session, form: Form) -> dict[str, Any]:
    """Return the columns a person may change; raises BadInput with every fault."""
    found = forms.together(
        name=lambda: forms.text(form, "name", most=80, required=True),
        tailwater_gauge=lambda: forms.ticked(form, "tailwater_gauge"),
        pond_area_m2=lambda: forms.number(form, "pond_area_m2", low=0, high=1e7, unit="m²"),
        head_mm=lambda: forms.number(form, "head_uncertainty_mm", low=0.1, high=200, unit="mm"),
    )
    head_mm = found.pop("head_mm")
    usual = value(session, HEAD_UNCERTAINTY)
    uncertainty = usual if head_mm is None else round(head_mm * LENGTH_M["mm"], 9)
    return {**found, "head_uncertainty_m": uncertainty}


def refuse_taken(session: Session, site_id: int, name: str, own_id: int | None) -> None:
    for other in structures_of(session, site_id):
        if other.name == name and other.id != own_id:
            raise BadInput(
                "name", name, "another structure here has this name", "Say which one it is."
            )


def add_structure(session: Session, site_id: int, form: Form, by_id: int | None) -> Structure:
    """Add a structure with its first rating and, when levels are given, its gauge zero.

    Raises
    ------
    BadInput
        For the first field that breaks a rule.
    """
    site = get_site(session, site_id)
    reason = form.get("reason", "").strip() or "First rating"
    filled = {**form, "reason": reason}
    levelled = form.get("crest_rl_m", "").strip() or form.get("zero_rl_m", "").strip()
    found = forms.together(
        values=lambda: values_of(session, form),
        device=lambda: device_from(form),
        dated=lambda: _dated(site, filled),
        levels=lambda: _levels(form) if levelled else None,
    )
    values, device = found["values"], found["device"]
    structure = Structure(
        site_id=site_id, **values, family=device.family.key, dims=dict(device.dims)
    )
    session.exec(select(Site.id).where(col(Site.id) == site_id).with_for_update())
    known = next((s for s in structures_of(session, site_id) if s.name == structure.name), None)
    same = known and known.model_dump(exclude={"id"}) == structure.model_dump(exclude={"id"})
    if known and same and twice.added_again(session, known, "structure", by_id):
        structure = known  # its rating and zero below are held already too, unless they differ
    else:
        refuse_taken(session, site_id, values["name"], None)
        session.add(structure)
        session.flush()
        write_audit(session, by_id, "added", "structure", structure.id, after=values)
    assert structure.id is not None
    _write_rating(session, structure, device, found["dated"], by_id)
    if levelled:
        add_gauge_zero(session, structure.id, filled, by_id)
    return structure


def change_structure(
    session: Session, structure_id: int, form: Form, by_id: int | None
) -> Structure:
    """Change name, tailwater gauge, pond area or head uncertainty.

    Raises
    ------
    ChangedMeanwhile
        When somebody saved it since this form was opened; nothing is written.
    BadInput
        For the first field that breaks a rule.
    """
    structure = get_structure(session, structure_id)
    values = values_of(session, form)
    refuse_taken(session, structure.site_id, values["name"], structure_id)
    before = structure.model_dump(include=set(values))
    if not update_revision(session, Structure, structure_id, forms.revision(form), values):
        session.rollback()
        structure = get_structure(session, structure_id)
        who = who_last(session, "structure", structure_id)
        raise ChangedMeanwhile("structure", form_of(structure), who)
    write_change(session, by_id, "structure", structure_id, before, values)
    session.expire(structure)
    return structure


def add_rating(session: Session, structure_id: int, form: Form, by_id: int | None) -> Rating:
    """Add a rating in force from a date; raises BadInput."""
    site, structure = place(session, structure_id)
    found = forms.together(device=lambda: device_from(form), dated=lambda: _dated(site, form))
    return _write_rating(session, structure, found["device"], found["dated"], by_id)


def _dated(site: Site, form: Form) -> dict[str, Any]:
    """Return from when something holds, and why; raises BadInput with every fault."""
    return forms.together(
        valid_from=lambda: forms.site_moment(form, "valid_from", site.utc_offset_min),
        reason=lambda: forms.text(form, "reason", most=2000, required=True),
    )


def _levels(form: Form) -> dict[str, Any]:
    """Return the levels of a gauge zero; raises BadInput with every fault."""
    level = partial(forms.needed, form, low=-LEVEL_M, high=LEVEL_M, unit="m")
    return forms.together(
        crest_rl_m=lambda: level("crest_rl_m"),
        zero_rl_m=lambda: level("zero_rl_m"),
        tail_zero_rl_m=lambda: forms.number(
            form, "tail_zero_rl_m", low=-LEVEL_M, high=LEVEL_M, unit="m"
        ),
    )


def _write_rating(
    session: Session,
    structure: Structure,
    device: Device,
    dated: dict[str, Any],
    by_id: int | None,
) -> Rating:
    assert structure.id is not None
    rating = Rating(
        structure_id=structure.id,
        **dated,
        family=device.family.key,
        dims=dict(device.dims),
        by_id=by_id,
    )
    known = twice.sent_again(session, rating)
    if known is not None:
        return known
    session.add(rating)
    session.flush()
    newest = ratings_of(session, [structure.id])[0]
    structure.family, structure.dims = newest.family, newest.dims
    after = {
        "rating_id": rating.id,
        "valid_from": rating.valid_from.isoformat(),
        "family": rating.family,
        "dims": rating.dims,
    }
    write_audit(
        session, by_id, "rating added", "structure", structure.id, after=after, reason=rating.reason
    )
    return rating


def add_gauge_zero(session: Session, structure_id: int, form: Form, by_id: int | None) -> GaugeZero:
    """Add a gauge zero in force from a date; raises BadInput."""
    site, structure = place(session, structure_id)
    found = forms.together(levels=lambda: _levels(form), dated=lambda: _dated(site, form))
    zero = GaugeZero(structure_id=structure_id, **found["dated"], **found["levels"], by_id=by_id)
    for field, offset in (("zero_rl_m", zero.offset_m), ("tail_zero_rl_m", zero.tail_offset_m)):
        if abs(offset) > 10.0:
            raise BadInput(
                field,
                form.get(field, ""),
                f"the gauge zero would lie {abs(offset):.3f} m from the crest",
                "Give both levels over the same datum; 10 m is the most.",
            )
    known = twice.sent_again(session, zero)
    if known is not None:
        return known
    session.add(zero)
    session.flush()
    after = zero.model_dump(include={"id", "crest_rl_m", "zero_rl_m", "tail_zero_rl_m"}) | {
        "valid_from": zero.valid_from.isoformat()
    }
    write_audit(
        session,
        by_id,
        "gauge zero added",
        "structure",
        structure.id,
        after=after,
        reason=zero.reason,
    )
    return zero
