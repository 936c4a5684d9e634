"""Sites: the list, one site's page, and changing a site so that nobody's change is lost."""

import re
from typing import Any

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.language import forms, position, words
from app.language.forms import ChangedMeanwhile, Form
from app.records.audit import write_audit
from app.records.sites import Site, Structure
from app.services.settings import in_force
from app.services.settings.kinds import offset_said
from app.services.settings.known import HEAD_UNITS as HEAD_UNITS
from app.services.sites import twice
from app.services.sites.changes import update_revision, who_last, write_change

CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,19}")
EDITED = (
    "code",
    "name",
    "latitude",
    "longitude",
    "utc_offset_min",
    "head_unit",
    "hazards",
    "notes",
)


def get_site(session: Session, site_id: int) -> Site:
    """Return a site; raises NotFound."""
    site = session.get(Site, site_id)
    if site is None:
        raise NotFound(f"site {site_id}")
    return site


def site_by_code(session: Session, code: str) -> Site:
    """Return a site by its code, or by its id written in digits; raises BadInput."""
    site = session.exec(select(Site).where(Site.code == code)).first()
    if site is None and code.isascii() and code.isdigit() and len(code) < 10:
        site = session.get(Site, int(code))
    if site is None:
        codes = session.exec(select(Site.code).order_by(Site.code).limit(20)).all()
        raise BadInput(
            "site", code, "no such site", f"Use one of: {', '.join(codes) or 'none yet'}."
        )
    return site


def structures_of(session: Session, site_id: int) -> list[Structure]:
    return list(
        session.exec(
            select(Structure).where(Structure.site_id == site_id).order_by(col(Structure.id))
        )
    )


def first_structure(session: Session) -> tuple[Site, Structure] | None:
    """Return the first site that has a structure, with it; None where no site has one."""
    found = session.exec(
        select(Site, Structure)
        .join(Structure, col(Structure.site_id) == col(Site.id))
        .order_by(col(Site.id), col(Structure.id))
    ).first()
    return None if found is None else (found[0], found[1])


def the_structure(session: Session, site: Site, structure_id: int | None) -> Structure:
    """Return the named structure of a site, or its only one.

    Raises
    ------
    BadInput
        When the site has no such structure, or none is named and it has several.
    """
    assert site.id is not None
    found = structures_of(session, site.id)
    for structure in found:
        if structure.id == structure_id or (structure_id is None and len(found) == 1):
            return structure
    listed = ", ".join(f"{s.id} ({s.name})" for s in found) or "none yet"
    raise BadInput(
        "structure", structure_id or "", "name a structure of this site", f"One of: {listed}."
    )


def form_of(site: Site) -> dict[str, str]:
    """Return a site as its form shows it."""
    return {
        "code": site.code,
        "name": site.name,
        "latitude": forms.figure_text(site.latitude),
        "longitude": forms.figure_text(site.longitude),
        "utc_offset": words.offset_words(site.utc_offset_min).removeprefix("UTC"),
        "head_unit": site.head_unit,
        "hazards": site.hazards,
        "notes": site.notes,
        "revision": str(site.revision),
    }


EMPTY_FORM = form_of(Site(code="", name="")) | {"utc_offset": "", "revision": ""}


def new_form(session: Session) -> dict[str, str]:
    """Return the form of a new site, with what the office proposes."""
    held = in_force.values(session)
    offset = held["utc_offset_min"]
    proposed = "" if offset is None else offset_said(offset)
    return EMPTY_FORM | {"utc_offset": proposed, "head_unit": held["head_unit"]}


def values_of(form: Form) -> dict[str, Any]:
    """Return the columns of a site from its form; raises BadInput with every fault."""
    found = forms.together(
        code=lambda: _code(form),
        name=lambda: forms.text(form, "name", most=80, required=True),
        position=lambda: _position(form),
        utc_offset_min=lambda: forms.utc_offset_min(form),
        head_unit=lambda: _head_unit(form),
        hazards=lambda: forms.text(form, "hazards", most=4000),
        notes=lambda: forms.text(form, "notes", most=4000),
    )
    latitude, longitude = found.pop("position")
    return {**found, "latitude": latitude, "longitude": longitude}


def _code(form: Form) -> str:
    code = forms.text(form, "code", most=20, required=True)
    if not CODE.fullmatch(code):
        raise BadInput(
            "code",
            code,
            "a code has letters, digits, - and _, at most 20 of them",
            "Give a short code for file names, such as TANSY.",
        )
    return code


def _position(form: Form) -> tuple[float | None, float | None]:
    found = forms.together(
        latitude=lambda: position.typed_in(form, "latitude"),
        longitude=lambda: position.typed_in(form, "longitude"),
    )
    latitude, longitude = found["latitude"], found["longitude"]
    if (latitude is None) != (longitude is None):
        raise BadInput(
            "longitude" if longitude is None else "latitude",
            "",
            "a position has both latitude and longitude",
            "Give both, or neither.",
        )
    return latitude, longitude


def _head_unit(form: Form) -> str:
    unit = form.get("head_unit", "mm")
    if unit not in HEAD_UNITS:
        raise BadInput("head_unit", unit, "heads are read in mm, cm or m", "Choose one of them.")
    return unit


def add_site(session: Session, form: Form, by_id: int | None) -> Site:
    """Add a site; raises BadInput."""
    values = values_of(form)
    site, made = Site(**values), {"id", "created_at"}
    known = session.exec(select(Site).where(Site.code == values["code"])).first()
    same = known and known.model_dump(exclude=made) == site.model_dump(exclude=made)
    if known and same and twice.added_again(session, known, "site", by_id):
        return known
    refuse_taken(session, values["code"], None)
    session.add(site)
    try:
        session.flush()
    except IntegrityError:  # two people chose the code at the same instant
        session.rollback()
        raise taken(values["code"]) from None
    write_audit(session, by_id, "added", "site", site.id, after=values)
    return site


def change_site(session: Session, site_id: int, form: Form, by_id: int | None) -> Site:
    """Change a site.

    Raises
    ------
    ChangedMeanwhile
        When somebody saved it since this form was opened; nothing is written.
    BadInput
        For the first field that breaks a rule.
    """
    site = get_site(session, site_id)
    values = values_of(form)
    refuse_taken(session, values["code"], site_id)
    before = site.model_dump(include=set(EDITED))
    try:
        written = update_revision(session, Site, site_id, forms.revision(form), values)
    except IntegrityError:
        session.rollback()
        raise taken(values["code"]) from None
    if not written:
        session.rollback()
        site = get_site(session, site_id)
        who = who_last(session, "site", site_id)
        raise ChangedMeanwhile("site", form_of(site), who)
    write_change(session, by_id, "site", site_id, before, values)
    session.expire(site)
    return site


def refuse_taken(session: Session, code: str, own_id: int | None) -> None:
    holder = session.exec(select(Site.id).where(Site.code == code)).first()
    if holder is not None and holder != own_id:
        raise taken(code)


def taken(code: str) -> BadInput:
    return BadInput("code", code, "another site has this code", "Choose another code.")
