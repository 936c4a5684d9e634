"""The sheet "fit to record from ...": what was found at the opening, and what is outside.

A person signs what they saw; the sheet keeps it as it stood then. It is no certificate and says
so: where the law asks for one, an accredited person gives it.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.database import utc_now
from app.records.people import Person
from app.records.plans import FitSheet
from app.services.install import parts as commissioning_parts
from app.services.install.openings import OpeningView, openings
from app.services.install.parts import Sheet
from app.services.sites import structures
from app.services.sites.changes import names_of
from app.services.sites.dated import in_force
from app.services.sites.views import ratings_of, zeros_of

NOT_A_CERTIFICATE = (
    "Signed by the person named for what they saw. This is no certificate, no structural design "
    "and no verification that a law or permit asks for: those are given by licensed people."
)


@dataclass(frozen=True)
class Signed:
    """A signature, and the sheet as it stood then."""

    row: FitSheet
    by: str


def newest_opening(session: Session, structure_id: int) -> OpeningView | None:
    """Return the newest opening that no correction replaced."""
    found = [view for view in openings(session, structure_id) if view.stands]
    return found[-1] if found else None


def sheet(session: Session, structure_id: int) -> Sheet:
    """Return the sheet as things stand now; raises NotFound."""
    site, structure = structures.place(session, structure_id)
    found = Sheet(
        site=site,
        structure=structure,
        parts=[],
        outside=[],
        unknown=[],
        fit_from=None,
        fit_words="",
    )
    opened = newest_opening(session, structure_id)
    at = opened.entry.observed_at if opened else utc_now()
    rating = in_force(ratings_of(session, [structure_id]), at)
    zero = in_force(zeros_of(session, [structure_id]), at)
    commissioning_parts.structure(session, found, rating, zero)
    commissioning_parts.built(session, found)
    commissioning_parts.levels(session, found)
    commissioning_parts.stops(session, found)
    if opened is None:
        found.unknown.append("no opening recorded: gate, steadiness, seeps, sensor and clock")
    else:
        commissioning_parts.opening(found, opened)
    commissioning_parts.first_gaugings(session, found, opened.entry if opened else None)
    return found


def sign(
    session: Session, structure_id: int, form: Form, person: Person, now: datetime
) -> FitSheet:
    """Keep a signature with the sheet as it stands; raises BadInput."""
    held = sheet(session, structure_id)
    fit_from = forms.site_moment(form, "fit_from", held.site.utc_offset_min)
    name = forms.text(form, "signed_name", most=80, required=True)
    told = forms.text(form, "words", most=2000, required=bool(held.outside))
    assert person.id is not None
    row = FitSheet(
        structure_id=structure_id, fit_from=fit_from, signed_name=name, words=told,
        sheet=held.frozen(), by_id=person.id, signed_at=now,
    )  # fmt: skip
    session.add(row)
    session.flush()
    after = {"fit_sheet": row.id, "fit_from": fit_from.isoformat(), "outside": len(held.outside)}
    write_audit(
        session, person.id, "commissioning sheet signed", "structure", structure_id,
        after=after, reason=told,
    )  # fmt: skip
    return row


def signed(session: Session, structure_id: int) -> list[Signed]:
    """Return the signatures of a structure, newest first."""
    names = names_of(session)
    query = select(FitSheet).where(FitSheet.structure_id == structure_id)
    return [
        Signed(row, names.get(row.by_id, ""))
        for row in session.exec(query.order_by(col(FitSheet.id).desc()))
    ]
