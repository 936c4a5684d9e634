"""As built against the named size, and the rating made from it; what is outside is listed."""

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from sqlmodel import Session, col, select

from app.errors import BadInput, SillbookError
from app.hydraulics.families.registry import family as family_of
from app.hydraulics.install import checks as install
from app.hydraulics.structure.device import Device
from app.hydraulics.structure.outline import Outline, Part
from app.language import words
from app.language.drawing import Drawing
from app.records.entries import Entry
from app.records.sites import Rating, Site, Structure
from app.services.entries.links import what_stands
from app.services.install import drawing as device_drawing
from app.services.plans import make as planning
from app.services.sites import structures
from app.services.sites.changes import names_of
from app.services.sites.views import ratings_of
from app.services.surveys.history import level_history, standing

SHEET_REPEATS = 3  # top, middle, bottom


@dataclass(frozen=True)
class Measured:
    """Repeats of one dimension, m, and where they came from."""

    values_m: tuple[float, ...]
    entry: Entry
    by: str
    note: str

    @property
    def mean_m(self) -> float:
        return math.fsum(self.values_m) / len(self.values_m)

    @property
    def half_range_m(self) -> float:
        return 0.5 * (max(self.values_m) - min(self.values_m))


@dataclass(frozen=True)
class LineOfSheet:
    """One dimension of the sheet."""

    part: Part
    check: install.DimensionCheck
    measured: Measured | None

    @property
    def tolerance_words(self) -> str:
        """Return where the tolerance comes from, with its provenance."""
        return f"{self.check.source} ({self.check.provenance})"

    @property
    def spread_words(self) -> str:
        """Return a word where the repeats differ by more than the tolerance."""
        m = self.measured
        if m is None or m.half_range_m <= self.check.tolerance_m + 1e-9:
            return ""
        return f"repeats differ by {2000 * m.half_range_m:.1f} mm: walls bowed or not parallel"


@dataclass(kw_only=True)
class AsBuilt:
    """The sheet of a structure. `problem` tells why there is no list of dimensions."""

    site: Site
    structure: Structure
    named_from: str
    named_dims: dict[str, Any]
    device: Device | None = None
    outline: Outline | None = None
    drawings: list[Drawing] = field(default_factory=list)
    lines: list[LineOfSheet] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    problem: str = ""
    corner_words: str = "not levelled yet"
    dims: dict[str, Any] | None = None
    dims_problem: str = ""
    made: Rating | None = None
    budget: list[tuple[float, float]] = field(default_factory=list)

    @property
    def sources(self) -> list[str]:
        """Return the sources of named values and tolerances, each once."""
        said = [w for x in self.lines for w in (x.part.source_words, x.tolerance_words) if w]
        return list(dict.fromkeys(said))

    def source_number(self, source: str) -> int:
        return self.sources.index(source) + 1


def named(session: Session, structure: Structure) -> tuple[str, dict[str, Any], str]:
    """Return family, dimensions and origin of the named size: the plan's choice, else the first.

    A rating made from the as-built must not become the size that the as-built is held against.
    """
    assert structure.id is not None
    chosen = planning.intended(session, structure.id)
    if chosen is not None:
        choice, plan = chosen
        rating = session.get(Rating, choice.rating_id)
        assert rating is not None
        return rating.family, rating.dims, f"intended design of plan {plan.id}, {plan.name}"
    ratings = ratings_of(session, [structure.id])
    same = [r for r in ratings if r.family == structure.family]
    if not same:
        return structure.family, structure.dims, "the structure as entered"
    first = min(same, key=lambda r: r.id or 0)
    return first.family, first.dims, f"rating {first.id}, the first of this kind"


def measured(session: Session, structure_id: int) -> dict[str, Measured]:
    """Return the newest measurement of each dimension, of entries that stand."""
    query = select(Entry).where(Entry.kind == "dimension_check", Entry.structure_id == structure_id)
    entries = session.exec(query.order_by(col(Entry.observed_at), col(Entry.id))).all()
    links = what_stands(session, entries[0].site_id if entries else 0)
    names = names_of(session)
    found: dict[str, Measured] = {}
    for entry in entries:
        if not links.stands(entry.id):
            continue
        for one in entry.body["dimensions"]:
            if one["measured_m"]:
                found[one["key"]] = Measured(
                    tuple(one["measured_m"]), entry, names.get(entry.by_id, ""), one.get("note", "")
                )
    return found


def as_built(session: Session, structure_id: int) -> AsBuilt:
    """Return the sheet of a structure; raises NotFound."""
    site, structure = structures.place(session, structure_id)
    key, dims, origin = named(session, structure)
    sheet = AsBuilt(site=site, structure=structure, named_from=origin, named_dims=dims)
    corners(session, sheet)
    try:
        sheet.device = family_of(key).build(dims)
        sheet.outline = sheet.device.outline()
    except SillbookError as error:
        sheet.problem = str(error)
        return sheet
    if sheet.outline is None:
        sheet.problem = "A rating of its own has no dimensions to measure."
        return sheet
    sheet.drawings = device_drawing.views(sheet.outline, sheet.device.describe())
    found = measured(session, structure_id)
    compare(sheet, sheet.outline, found)
    propose(sheet, sheet.device, found)
    for rating in ratings_of(session, [structure_id]):
        if rating.dims == sheet.dims and rating.family == key and sheet.dims != dims:
            sheet.made = rating
            break
    return sheet


def compare(sheet: AsBuilt, outline: Outline, found: dict[str, Measured]) -> None:
    """Hold each measured dimension against its named value."""
    parts = {part.key: part for part in outline.parts}
    checks = install.check_dimensions(
        {key: part.named_m for key, part in parts.items()},
        {key: found[key].mean_m for key in parts if key in found},
        {key: part.rule for key, part in parts.items()},
    )
    for check in checks:
        line = LineOfSheet(parts[check.key], check, found.get(check.key))
        sheet.lines.append(line)
        name = f"{check.key}, {line.part.label.lower()}"
        if line.measured is None:
            sheet.missing.append(name)
        elif not check.inside:
            sheet.outside.append(
                f"{name}: {check.difference_m * 1000:+.1f} mm, allowed "
                f"{check.tolerance_m * 1000:.1f} mm ({check.source}, {check.provenance})"
            )
        if line.spread_words:
            sheet.outside.append(f"{name}: {line.spread_words}")


def propose(sheet: AsBuilt, device: Device, found: dict[str, Measured]) -> None:
    """Put the measured values that enter the rating in place of the named ones."""
    dims: dict[str, Any] = dict(sheet.named_dims)
    for line in sheet.lines:
        if line.part.rated_as and line.measured:
            dims[line.part.rated_as] = round(line.measured.mean_m, 6)
    try:
        built = device.family.build(dims)
    except BadInput as error:
        sheet.dims_problem = f"{error.field} {error.value}: {error.rule}. {error.remedy}"
        return
    sheet.dims = dict(built.dims)
    heads = np.array([built.head_min_m, 0.5 * built.head_max_m, built.head_max_m])
    share = np.broadcast_to(built.dimension_uncertainty_pct(heads), heads.shape)
    sheet.budget = [(float(h), float(s)) for h, s in zip(heads, share, strict=True)]


def corners(session: Session, sheet: AsBuilt) -> None:
    """Add the corners of the crest from the newest level run that counts."""
    assert sheet.structure.id is not None
    history = level_history(session, sheet.structure.id, sheet.structure.site_id)
    runs = [v for v in history.runs if standing(v) and v.results]
    if not runs or runs[-1].results is None:
        sheet.missing.append("crest corners, levelled")
        return
    found = runs[-1].results
    sheet.corner_words = (
        f"{found.corner_word}: range {found.corner_range_m * 1000:.1f} mm, allowed "
        f"{found.corner_tolerance_m * 1000:g} mm (common practice), levelled "
        f"{words.site_time(runs[-1].entry.observed_at, sheet.site.utc_offset_min)[:10]}"
    )
    if found.corners_inside is False:
        sheet.outside.append(f"crest corners {sheet.corner_words}")
