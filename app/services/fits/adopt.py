"""A fit becomes a rating: only by a person, from a date, for a reason, after a look at the change.

The rating is stored by the same service as any other; old ratings and old discharges stay.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.families.registry import fit_family
from app.hydraulics.rating.fit import RatingFit
from app.hydraulics.rating.tests import VolumeEffect
from app.language import forms, words
from app.language.forms import Form
from app.records.sites import Rating
from app.services.fits.candidates import Fitted, fitted
from app.services.fits.tests import next_from
from app.services.ratings.curve import device_or_none
from app.services.ratings.volumes import HeadRecord, as_if_always, effect, head_record
from app.services.readings.list import span_of
from app.services.rerating.readings import ReadingChanges, reading_changes
from app.services.sites import structures
from app.services.sites.views import ratings_of
from app.services.sites.words import lowest_limit

BOXES = ("valid_from", "rating_pct", "modular_limit", "cannot_drown", "reason")
MOST_LIMIT = 0.99


@dataclass(frozen=True, kw_only=True)
class Look:
    """What a rating made of a fit would change; nothing of it is stored."""

    found: Fitted
    reason: str
    valid_from: datetime
    until: datetime | None  # when a rating that is there already takes over again
    change: ReadingChanges
    record: HeadRecord | None  # from the rating's date on
    volumes: VolumeEffect | None
    year: HeadRecord | None  # the last twelve months, as if the rating had always held
    year_volumes: VolumeEffect | None


def uncertainty_of(fit: RatingFit) -> float | None:
    """Return the widest band of the mean within the gauged heads, %, rounded up to 0.5.

    A fitted rating states one uncertainty for all its heads; the widest errs on the safe side.
    """
    heads = np.linspace(fit.head_min_m, fit.head_max_m, 60)
    widest = float(np.max(fit.bands(heads).mean_pct)) if fit.degrees > 0 else math.nan
    if not math.isfinite(widest):
        return None
    return min(50.0, max(0.5, math.ceil(widest / 0.5 - 1e-9) * 0.5))


def make_form(found: Fitted, typed: Form, now: datetime) -> dict[str, str]:
    """Return the form that makes a rating of a fit: sensible figures under what was typed."""
    # the tail is the structure's, not the fit's: what is known of drowning is offered on, the
    # lowest limit of the range because a fitted rating has one for all heads
    limit, never = None, ""
    device = device_or_none(found.current)
    if device is not None:
        limit = lowest_limit(device)
        limit = round(limit, 3) if limit is not None and limit <= MOST_LIMIT else None
        never = str(device.dims.get("cannot_drown", ""))
    moment = now.replace(second=0, microsecond=0)
    start = {
        "valid_from": forms.local_text(moment, found.site.utc_offset_min),
        "rating_pct": forms.figure_text(uncertainty_of(found.fit) if found.fit else None),
        "modular_limit": forms.figure_text(limit),
        "cannot_drown": never,
        "reason": "",
    }
    return start | {key: typed[key] for key in BOXES if key in typed}


def look(
    session: Session, structure_id: int, typed: Form, by_id: int | None, now: datetime
) -> Look:
    """Return what a rating made of the fit would change, then take everything back.

    Raises
    ------
    BadInput
        When there is no fit, or a box of the form breaks a rule.
    """
    trial = session.begin_nested()
    try:
        before = ratings_of(session, [structure_id])
        found, rating = store(session, structure_id, typed, by_id)
        assert found.site.id is not None
        change = reading_changes(session, found.site.id, now)
        day = words.site_time(rating.valid_from, found.site.utc_offset_min)[:10]
        since = head_record(session, structure_id, span_of(day, "", found.site.utc_offset_min))
        year = head_record(session, structure_id)
        return Look(
            found=found,
            reason=rating.reason,
            valid_from=rating.valid_from,
            until=next_from([*before, rating], rating),
            change=change,
            record=since,
            volumes=effect(since, before, [*before, rating]) if since else None,
            year=year,
            year_volumes=effect(year, before, as_if_always(rating)) if year else None,
        )
    finally:
        trial.rollback()


def make(session: Session, structure_id: int, typed: Form, by_id: int | None) -> Rating:
    """Store the fit as a rating in force from its date; raises BadInput."""
    return store(session, structure_id, typed, by_id)[1]


def store(
    session: Session, structure_id: int, typed: Form, by_id: int | None
) -> tuple[Fitted, Rating]:
    found = fitted(session, structure_id, typed)
    if found.fit is None:
        raise found.error or BadInput("gaugings", 0, "there is no fit", "Choose gaugings.")
    family = fit_family()
    assert family.fitted_dims is not None
    pct = forms.needed(typed, "rating_pct", low=0.1, high=50.0, unit="%")
    limit = forms.number(typed, "modular_limit", low=0.0, high=MOST_LIMIT)
    never = forms.text(typed, "cannot_drown", most=500)
    why = forms.text(typed, "reason", most=1000, required=True)
    dims = family.fitted_dims(found.fit.segments(), pct, limit)
    if never:
        dims["cannot_drown"] = never
    form = {
        structures.DIM + key: value if isinstance(value, str) else forms.figure_text(value)
        for key, value in dims.items()
    } | {
        "family": family.key,
        "valid_from": typed.get("valid_from", ""),
        "reason": reason_text(found, why),
    }
    return found, structures.add_rating(session, structure_id, form, by_id)


def reason_text(found: Fitted, why: str) -> str:
    """Return the reason with what the rating rests on: the fit, and who was left out and why."""
    fit = found.fit
    assert fit is not None
    used = [row.candidate.one for row in found.used]
    days = [one.started_at for one in used]
    offset = found.site.utc_offset_min
    first, last = (words.site_time(at, offset)[:10] for at in (min(days), max(days)))
    said = [
        why,
        f"Fitted to {len(used)} check gaugings, {first} to {last}, heads "
        f"{words.millimetres(fit.head_min_m)} to {words.millimetres(fit.head_max_m)}; "
        f"scatter {words.percent(fit.scatter_pct)} (k = 1).",
    ]
    said += [f"{line}." for line in options_said(found)]
    for row in found.left_out:
        at = words.site_time(row.candidate.one.started_at, offset)[:16]
        said.append(f"Left out: {at} ({row.why}).")
    return "\n".join(said)


def options_said(found: Fitted) -> list[str]:
    """Return the options of a fit in words."""
    form, said = found.form, []
    if form["cease_to_flow_m"]:
        said.append(f"Cease-to-flow head fixed at {form['cease_to_flow_m']}")
    if form["exponent"]:
        said.append(f"Exponent fixed at {form['exponent']}")
    if form["prior_exponent"]:
        sd = form["prior_sd"] or "0.05"
        said.append(f"Exponent steadied by theory: {form['prior_exponent']} ± {sd} (k = 1)")
    if form["breaks_m"]:
        said.append(f"Segments meet at {form['breaks_m']}")
    return said


def equations(fit: RatingFit) -> Sequence[str]:
    """Return the segments as people write them; heads in metres, discharge in m3/s."""
    return [
        f"Q = {each['coefficient']:.4g} (h {'-' if each['cease_to_flow_m'] >= 0 else '+'} "
        f"{abs(each['cease_to_flow_m']):.4f})^{each['exponent']:.3f}"
        for each in fit.segments()
    ]
