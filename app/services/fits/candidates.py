"""Fit a rating to check gaugings: which of them, with what options, and what comes out.

Nothing here writes. Every gauging is in the fit unless a person leaves it out and says why; what
stands out is pointed at and never removed. `fitted_ratings` makes a rating of it when told to.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base.units import length_m, number
from app.hydraulics.rating.fit import RatingFit, fit_rating
from app.hydraulics.rating.fit_input import DEFAULT_UNCERTAINTY_PCT
from app.hydraulics.structure.device import Device, Flow
from app.language import forms
from app.language.forms import Form
from app.records.database import utc_now
from app.records.sites import Rating, Site, Structure
from app.services.gaugings.results import GaugingResult, gauging_results
from app.services.ratings.curve import device_or_none
from app.services.readings.list import Span, span_of
from app.services.sites.dated import in_force
from app.services.sites.structures import place
from app.services.sites.views import ratings_of

OUT, WHY = "out.", "why."  # form names: leave this gauging out, and the reason
OPTIONS = ("cease_to_flow_m", "exponent", "breaks_m", "prior_exponent", "prior_sd")
PREFERRED = 12
"""Gaugings from which a fit stands by itself (common practice); under it a prior is offered."""
PRIOR_SD = 0.05
"""How far the exponent may stray from theory, k = 1 (common practice)."""
BETWEEN = re.compile(r"\s*;\s*|\s+(?=[\d.,])")
OUTLIER_WORDS = {0: "", 2: "inspect", 3: "query"}
DROWNED = {Flow.SUBMERGED_CORRECTED.word, Flow.SUBMERGED_UNDETERMINED.word}


@dataclass(frozen=True)
class Candidate:
    """A gauging that may enter the fit; `unfit` says why it cannot, `doubt` why it should not."""

    one: GaugingResult
    unfit: str
    doubt: str

    @property
    def id(self) -> str:
        return self.one.entry.id


@dataclass(frozen=True)
class Row:
    """A gauging on the page: what was ticked and typed, and how it lies to the fit."""

    candidate: Candidate
    out: bool
    why: str
    fitted_m3s: float | None = None
    residual_pct: float | None = None
    outlier: str = ""

    @property
    def used(self) -> bool:
        return not self.out and not self.candidate.unfit


@dataclass(frozen=True)
class Theory:
    """The exponent of a rating that rests on theory or a standard, as a prior for a fit."""

    exponent: float
    sd: float
    rating: Rating
    family_name: str


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """The page of a fit: the choice as typed, the gaugings, and the fit or what prevents it."""

    site: Site
    structure: Structure
    span: Span
    form: dict[str, str]
    rows: list[Row]
    fit: RatingFit | None
    error: BadInput | None
    theory: Theory | None
    ratings: list[Rating]

    @property
    def current(self) -> Rating | None:
        """The rating in force now, which a fit would take over from."""
        return in_force(self.ratings, utc_now())

    @property
    def used(self) -> list[Row]:
        return [row for row in self.rows if row.used]

    @property
    def left_out(self) -> list[Row]:
        return [row for row in self.rows if row.out and not row.candidate.unfit]

    @property
    def few(self) -> bool:
        return len(self.used) < PREFERRED

    @property
    def choice(self) -> dict[str, str]:
        """Return the choice without empty boxes, as an address or hidden fields carry it."""
        kept = {"asked": "yes", "from": self.form["from"], "to": self.form["to"]}
        kept |= {key: self.form[key] for key in OPTIONS}
        for row in self.rows:
            if row.out:
                kept |= {OUT + row.candidate.id: "yes", WHY + row.candidate.id: row.why}
        return {key: value for key, value in kept.items() if value}

    @property
    def query(self) -> str:
        return urlencode(self.choice)


def fitted(session: Session, structure_id: int, typed: Form) -> Fitted:
    """Return the fit that a form asks for; with an error in place of a fit when it cannot be.

    Parameters
    ----------
    typed : Mapping
        Without `asked`, a first look: all gaugings but those with a doubt, no options.
    """
    site, structure = place(session, structure_id)
    assert site.id is not None
    form = {key: typed.get(key, "").strip() for key in ("from", "to", *OPTIONS)}
    error = None
    try:
        span = span_of(form["from"], form["to"], site.utc_offset_min)
    except BadInput as refused:
        error, span = refused, span_of("", "", site.utc_offset_min)
    found = gauging_results(session, site.id, span.since, span.until, structure_id)
    rows = [row_of(candidate_of(one), typed) for one in found]
    ratings = ratings_of(session, [structure_id])
    fit = None
    if error is None:
        try:
            fit = run(structure, form, rows)
            rows = with_residuals(rows, fit)
        except BadInput as refused:
            error = refused
    theory = theory_of(ratings, rows)
    return Fitted(
        site=site,
        structure=structure,
        span=span,
        form=form,
        rows=rows,
        fit=fit,
        error=error,
        theory=theory,
        ratings=ratings,
    )


def candidate_of(one: GaugingResult) -> Candidate:
    unfit, doubt = "", ""
    if one.discharge_m3s is None:
        unfit = "no discharge could be worked out"
    elif one.head_mean_m is None:
        unfit = one.rating.lacking or "the head is not known"
    elif one.gauging is not None and one.gauging.indication_only:
        doubt = "an indication only"
    elif one.rating.flow in DROWNED:
        doubt = "drowned, so not on the free rating"
    elif one.head is not None and one.head.steady is False:
        doubt = one.head.word
    return Candidate(one, unfit, doubt)


def row_of(candidate: Candidate, typed: Form) -> Row:
    """Return a gauging as ticked; at the first look what has a doubt is left out for that doubt."""
    if typed.get("asked") != "yes":
        return Row(candidate, bool(candidate.doubt), candidate.doubt)
    out = typed.get(OUT + candidate.id) == "yes"
    return Row(candidate, out, forms.text(_cut(typed, candidate.id), WHY, most=200))


def _cut(typed: Form, entry_id: str) -> Mapping[str, str]:
    return {WHY: typed.get(WHY + entry_id, "")[:200]}


def run(structure: Structure, form: Form, rows: Sequence[Row]) -> RatingFit:
    """Fit the gaugings in use; raises BadInput with the remedy."""
    for row in rows:
        if row.out and not row.candidate.unfit and not row.why:
            raise BadInput(
                WHY + row.candidate.id,
                "",
                "a gauging is left out only for a reason",
                "Say why in its row, or untick it; the reason is kept with the rating.",
            )
    used = [row.candidate.one for row in rows if row.used]
    if not used:
        raise BadInput(
            "gaugings", 0, "none is in the fit", "Untick some, or widen the range of days."
        )
    options = options_of(form)
    return fit_rating(
        [one.head_mean_m or 0.0 for one in used],
        [one.discharge_m3s or 0.0 for one in used],
        [one.uncertainty_pct or DEFAULT_UNCERTAINTY_PCT for one in used],
        cease_to_flow_m=options.cease_to_flow_m,
        exponent=options.exponent,
        breaks_m=options.breaks_m,
        exponent_prior=options.prior,
        head_uncertainty_m=structure.head_uncertainty_m,
    )


@dataclass(frozen=True)
class Options:
    """What a person may settle before the fit; None is left to it."""

    cease_to_flow_m: float | None
    exponent: float | None
    breaks_m: tuple[float, ...]
    prior: tuple[float, float] | None


def options_of(form: Form) -> Options:
    """Return the options typed, in metres; raises BadInput naming the box."""
    cease, exponent, prior = form["cease_to_flow_m"], form["exponent"], form["prior_exponent"]
    if prior and exponent:
        raise BadInput(
            "prior_exponent", prior, "the exponent is already fixed", "Empty one of the two boxes."
        )
    pair = None
    if prior:
        sd = positive("prior_sd", form["prior_sd"]) if form["prior_sd"] else PRIOR_SD
        pair = (positive("prior_exponent", prior), sd)
    return Options(
        length_m("cease_to_flow_m", cease) if cease else None,
        positive("exponent", exponent) if exponent else None,
        tuple(length_m("breaks_m", word) for word in BETWEEN.split(form["breaks_m"]) if word),
        pair,
    )


def positive(field: str, typed: str) -> float:
    value = number(field, typed, high=6.0)
    if not 0.0 < value <= 6.0:
        raise BadInput(field, typed, "it lies between 0 and 6", "Such as 1.5 or 2.5.")
    return value


def with_residuals(rows: Sequence[Row], fit: RatingFit) -> list[Row]:
    """Return the rows with the fitted discharge, the deviation from it, and the pointing word."""
    answer, place_in_fit = [], 0
    for row in rows:
        one, outlier = row.candidate.one, ""
        value = None
        if one.head_mean_m is not None:
            value = float(fit.discharge(np.array(one.head_mean_m)))
        if row.used:
            outlier = OUTLIER_WORDS[int(fit.outliers[place_in_fit])]
            place_in_fit += 1
        residual = None
        if value and one.discharge_m3s is not None:
            residual = 100.0 * (one.discharge_m3s / value - 1.0)
        answer.append(Row(row.candidate, row.out, row.why, value, residual, outlier))
    return answer


def theory_of(ratings: Sequence[Rating], rows: Sequence[Row]) -> Theory | None:
    """Return the exponent of the newest rating that was not fitted itself, mid of the heads."""
    heads = [row.candidate.one.head_mean_m for row in rows if row.used]
    known = [head for head in heads if head is not None and head > 0.0]
    for rating in ratings:
        device = device_or_none(rating)
        if device is None or device.family.fitted_dims is not None:
            continue
        middle = float(np.median(known)) if known else 0.5 * device.head_max_m
        return Theory(
            round(local_exponent(device, middle), 3), PRIOR_SD, rating, device.family.name
        )
    return None


def local_exponent(device: Device, head_m: float) -> float:
    """Return n of Q = C (h - e)^n as a rating has it at a head."""
    slope = device.log_slope(np.array([head_m]))
    return float(np.asarray(slope).ravel()[0]) * (head_m - device.cease_to_flow_m)
