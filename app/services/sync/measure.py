"""Dimensions typed at the office, and the rating made from what was measured."""

import uuid
from datetime import datetime

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base import figures
from app.hydraulics.base.units import LENGTH_M
from app.language import forms
from app.language.forms import Form
from app.language.typed import Doubtful, refuse_future, shown, slip
from app.records.people import Person
from app.records.sites import Rating
from app.services.install.as_built import SHEET_REPEATS, as_built
from app.services.sites import structures
from app.services.sync import accept as sync

OFFICE = "office"  # stands for the phone in entries typed at a desk
MM = LENGTH_M["mm"]
LEAST_MM, MOST_MM = 0.0001, 1e6


def enter(session: Session, structure_id: int, form: Form, person: Person, now: datetime) -> None:
    """Keep dimensions typed at the office as an entry like those of a phone; commits.

    Raises
    ------
    BadInput
        For the first figure that is none, or when nothing was typed.
    """
    site, structure = structures.place(session, structure_id)
    sheet = as_built(session, structure_id)
    told = []
    for line in sheet.lines:
        names = [f"m.{line.part.key}.{i}" for i in range(1, SHEET_REPEATS + 1)]
        named_mm = line.check.named_m / MM
        typed = [dimension_mm(form, name, named_mm) for name in names]
        values = [round(v * MM, 6) for v in typed if v is not None]
        if values:
            told.append({"key": line.part.key, "label": line.part.label, "measured_m": values})
    sure = [form[name] for name in form if name.startswith("sure:m.")]
    if not told:
        raise BadInput("dimensions", "", "nothing was measured", "Type one figure at least.")
    at = forms.site_moment(form, "at", site.utc_offset_min)
    refuse_future("at", at, now, form.get("at", ""))
    entry: dict[str, object] = {
        "id": str(uuid.uuid4()),
        "kind": "dimension_check",
        "site_id": site.id,
        "structure_id": structure.id,
        "visit_id": None,
        "observed_at": sync_text(at),
        "utc_offset_min": site.utc_offset_min,
        "by": person.id,
        "saved_at": sync_text(now),
        "corrects": None,
        "reason": None,
        "body": {
            "dimensions": told,
            "instrument": forms.text(form, "instrument", most=200),
            "note": forms.text(form, "note", most=4000),
            **({"as_typed": sure} if sure else {}),
        },
    }
    receipt = sync.accept(session, person, sync.Batch(OFFICE, None, [entry]), now)[0]
    if receipt.error is not None:
        raise receipt.error


def dimension_mm(form: Form, name: str, named_mm: float) -> float | None:
    """Return a measured dimension, mm; one unlike its named value is asked about once.

    A figure of two meanings is the one that is like its named value; where that does not settle
    it, both are asked about together with what each is likely meant as.

    Raises
    ------
    BadInput
        When it is no length; Doubtful when it is likely a slip or can be two.
    """
    found = [v for v in figures.meanings(form.get(name, "")) if LEAST_MM <= v <= MOST_MM]
    if not found or (len(found) == 1 and form.get("sure:" + name) == form[name]):
        return forms.number(form, name, low=LEAST_MM, high=MOST_MM, unit="mm")
    meant = {value: slip(value, named_mm) for value in found}
    alike = [value for value in found if meant[value] == value]
    if len(alike) == 1:
        return alike[0]
    likely = [shown(round(m, 1)) for m in meant.values() if m is not None]
    choices = list(dict.fromkeys([*likely, *map(shown, found)]))
    raise Doubtful(name, form[name], f"it is named {named_mm:.1f} mm", choices)


def sync_text(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def make_rating(session: Session, structure_id: int, form: Form, by_id: int) -> Rating:
    """Make the rating from the as-built, in force from a date; raises BadInput."""
    sheet = as_built(session, structure_id)
    if sheet.device is None or sheet.dims is None:
        raise BadInput(
            "dimensions", "", sheet.dims_problem or sheet.problem, "Measure again or see the size."
        )
    reason = forms.text(form, "reason", most=1500) or "measured at the site"
    rated = [line for line in sheet.lines if line.part.rated_as]
    if not any(line.measured for line in rated):
        raise BadInput(
            "dimensions",
            "",
            "no dimension that enters the rating was measured",
            "Measure " + ", ".join(line.part.key for line in rated) + ".",
        )
    words = "all inside tolerance" if not sheet.outside else f"{len(sheet.outside)} outside"
    fields = {
        structures.DIM + key: value if isinstance(value, str) else forms.figure_text(value)
        for key, value in sheet.dims.items()
    }
    fields |= {
        "family": sheet.device.family.key,
        "valid_from": form.get("valid_from", ""),
        "reason": f"From the as-built ({words}): {reason}",
    }
    return structures.add_rating(session, structure_id, fields, by_id)
