"""Levels, benchmarks and install stops as office pages show them; the answer to an offered zero."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language import forms, trade, words
from app.language.drawing import Drawing, spread
from app.language.forms import Form
from app.language.tables import Column, Table
from app.records.audit import AuditEntry, write_audit
from app.records.people import Person
from app.records.sites import GaugeZero, Structure
from app.services.install import stops as install_stops
from app.services.sites.changes import names_of
from app.services.sites.register import get_site
from app.services.surveys import history as level_history
from app.services.surveys import photos
from app.services.surveys import runs as level_runs
from app.services.surveys import zeros as surveys
from app.services.surveys.history import LevelHistory, standing
from app.services.surveys.photos import PhotoView
from app.services.surveys.runs import RunView
from app.services.surveys.tables import LEVEL_COLUMNS, level_table, levels_apart

DECLINED = "offered gauge zero declined"
RUN = "level run"

MARK_COLUMNS = (
    Column("name", "Mark"),
    Column("mark", "Kind"),
    Column("stability", "Stability"),
    Column("rl_m", "Reduced level, m"),
    Column("datum", "Datum"),
    Column("place", "Place"),
    Column("at", "Described, UTC"),
    Column("by", "By"),
    Column("moves", "Found since"),
    Column("note", "Note"),
)
STOP_COLUMNS = (
    Column("entry_id", "Entry"),
    Column("at", "When, UTC"),
    Column("by", "By"),
    Column("stop", "Stop"),
    Column("title", "What"),
    Column("moment", "Moment"),
    Column("word", "Stop or go"),
    Column("reasons", "Reasons"),
    Column("corners_m", "Corner levels, m"),
    Column("widths_m", "Widths, m"),
    Column("went_on", "What was decided"),
    Column("photos", "Photos"),
    Column("note", "Note"),
)
BOOK_COLUMNS = (
    Column("setup", "Set-up"),
    Column("point", "Point"),
    Column("role", "What it is"),
    Column("kind", "Sight"),
    Column("reading", "Reading"),
    Column("rise", "Rise"),
    Column("fall", "Fall"),
    Column("collimation", "Height of collimation"),
    Column("rl", "Reduced level, by collimation"),
    Column("rl_rise_fall", "Reduced level, by rise and fall"),
    Column("correction", "Correction"),
    Column("rl_adjusted", "Reduced level, adjusted"),
)


@dataclass(frozen=True)
class Answer:
    """What the office said to the gauge zero that a run offers."""

    word: str
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True)
class Levels:
    """All of one structure's levels at a site."""

    structure: Structure
    history: LevelHistory
    trend: Drawing | None


def levels(session: Session, site_id: int) -> list[Levels]:
    """Return the level runs of each structure of a site, with trends."""
    found = session.exec(
        select(Structure).where(Structure.site_id == site_id).order_by(col(Structure.id))
    ).all()
    made = []
    for structure in found:
        assert structure.id is not None
        history = level_history.level_history(session, structure.id, site_id)
        made.append(Levels(structure, history, trend_drawing(structure, history)))
    return made


def answers(session: Session, view: RunView) -> list[Answer]:
    """Return how the offered zero of a run was answered, oldest first."""
    names = names_of(session)
    given = [
        Answer("accepted", z.reason, names.get(z.by_id or 0, ""), z.created_at) for z in view.zeros
    ]
    query = select(AuditEntry).where(
        AuditEntry.subject == RUN, AuditEntry.subject_id == view.entry.id
    )
    given += [
        Answer("declined", a.reason, names.get(a.by_id or 0, ""), a.at)
        for a in session.exec(query)
        if a.action == DECLINED
    ]
    return sorted(given, key=lambda answer: answer.at)


def accept(session: Session, run_entry_id: str, form: Form, person: Person) -> GaugeZero:
    """Accept the zero of a run from a date of the site; raises BadInput, NotFound."""
    view = level_runs.get_run(session, run_entry_id)
    site = get_site(session, view.entry.site_id)
    moment = forms.site_moment(form, "valid_from", site.utc_offset_min)
    reason = forms.text(form, "reason", most=2000)
    return surveys.accept_zero(session, run_entry_id, moment, reason, person)


def decline(session: Session, run_entry_id: str, form: Form, person: Person) -> None:
    """Keep why the zero of a run is not taken; raises BadInput, NotFound."""
    view = level_runs.get_run(session, run_entry_id)
    reason = forms.text(form, "reason", most=2000)
    if not reason:
        raise BadInput("reason", "", "declining a level run needs a reason", "Say why.")
    write_audit(session, person.id, DECLINED, RUN, view.entry.id, reason=reason)
    if view.entry.structure_id is not None:
        after = {"level_run": view.entry.id}
        write_audit(
            session, person.id, DECLINED, "structure", view.entry.structure_id,
            after=after, reason=reason,
        )  # fmt: skip


def trend_drawing(structure: Structure, history: LevelHistory) -> Drawing | None:
    """Return each corner's level over the years against the mean of its run; None below two."""
    whole = [
        v for v in history.runs if standing(v) and all(c in v.corners_m for c in trade.CORNERS)
    ]
    if len(whole) < 2:
        return None
    width, height, left, right, top, bottom = 900.0, 300.0, 74.0, 690.0, 24.0, 254.0
    out = Drawing(
        key=f"trend-{structure.id}",
        width=width,
        height=height,
        title=f"Corners of the crest over the years: {structure.name}",
    )
    times = [v.entry.observed_at.timestamp() for v in whole]
    means = [sum(v.corners_m[c] for c in trade.CORNERS) / 4.0 for v in whole]
    off = {
        c: [1000.0 * (v.corners_m[c] - m) for v, m in zip(whole, means, strict=True)]
        for c in trade.CORNERS
    }
    limit = max(2.0, *(abs(x) for row in off.values() for x in row)) * 1.15
    span = max(times[-1] - times[0], 1.0)

    def at(time: float, mm: float) -> tuple[float, float]:
        x = left + (time - times[0]) / span * (right - left)
        return x, 0.5 * (top + bottom) - mm / limit * 0.5 * (bottom - top)

    out.line([(0, 0), (width, 0), (width, height), (0, height)], "paper", closed=True)
    for mm in (-2.0, -1.0, 0.0, 1.0, 2.0):
        if abs(mm) <= limit:
            y = at(times[0], mm)[1]
            out.line([(left, y), (right, y)], "axis" if mm == 0 else "level")
            out.text(left - 8, y + 5, f"{mm:+.0f} mm" if mm else "mean", "end")
    ends = spread([at(times[-1], row[-1])[1] for row in off.values()], 17, top, bottom)
    said = []
    for i, ((corner, row), end) in enumerate(zip(off.items(), ends, strict=True)):
        points = [at(t, mm) for t, mm in zip(times, row, strict=True)]
        out.line(points, f"corner_{i}")
        for x, y in points:
            out.line([(x - 3, y - 3), (x + 3, y - 3), (x + 3, y + 3), (x - 3, y + 3)], "flow",
                     closed=True)  # fmt: skip
        out.line([points[-1], (right + 14, end)], "leader")
        out.text(right + 18, end + 5, f"{trade.CORNERS[corner]} {row[-1]:+.1f}")
        said.append(f"{trade.CORNERS[corner]} from {row[0]:+.1f} to {row[-1]:+.1f} mm")
    for view, time in zip(whole, times, strict=True):
        anchor = "start" if time == times[0] else "end" if time == times[-1] else "middle"
        out.text(at(time, 0)[0], bottom + 22, f"{day(view)}", anchor)
    out.description = (
        "Levels of the four crest corners against the mean of each run, "
        f"{day(whole[0])} to {day(whole[-1])}: "
        + "; ".join(said) + "."
    )  # fmt: skip
    return out


def day(view: RunView) -> str:
    """Return the day of a run by the clock of its site."""
    return words.site_time(view.entry.observed_at, view.entry.utc_offset_min)[:10]


def figures(view: RunView) -> list[tuple[str, str]]:
    """Return what a run says, as pairs of words; what was not levelled says so."""
    found = view.results
    if found is None:
        return []

    def metres(value: float, digits: int = 4) -> str:
        return "not levelled" if value != value else f"{value:.{digits}f} m"

    def mm(value: float) -> str:
        return "not levelled" if value != value else f"{value * 1000:+.1f} mm"

    ratio = found.tailwater_ratio
    return [
        ("Mean crest", f"{found.crest_rl_m:.4f} m, from {found.corner_count} corners"),
        ("Corner range", f"{found.corner_range_m * 1000:.1f} mm, {found.corner_word}"),
        ("What that does to the discharge",
         f"{found.corner_effect_pct:.1f} % at {view.entry.body.get('low_head_m', 0.1):g} m head"),
        ("Crest above the race floor", metres(found.crest_above_floor_m)),
        ("Gauge zero", metres(found.zero_rl_m)),
        ("Gauge zero minus crest", mm(found.zero_minus_crest_m)),
        ("Head by level", metres(found.head_by_level_m)),
        ("Staff should read", metres(found.staff_should_read_m)),
        ("Sensor below the crest", metres(found.sensor_below_crest_m)),
        ("Crest above the tail floor", metres(found.crest_above_tail_floor_m)),
        ("Tailwater above the crest", metres(found.tailwater_above_crest_m)),
        ("Tailwater ratio", "not levelled" if ratio != ratio else f"{100 * ratio:.1f} %"),
    ]  # fmt: skip


def site_table(session: Session, site_id: int) -> Table:
    """Return the level runs of all structures of a site."""
    site = get_site(session, site_id)
    rows: list[dict[str, Any]] = []
    columns = (Column("structure", "Structure"), *LEVEL_COLUMNS)
    for one in levels(session, site_id):
        rows += [row | {"structure": one.structure.name} for row in level_table(one.history).rows]
    return Table(f"levels-{site.code}", columns, rows)


def book_table(view: RunView) -> Table:
    rows = [{key: levels_apart(value) for key, value in row.items()} for row in view.book]
    return Table(f"level-run-{view.entry.id[:8]}", BOOK_COLUMNS, rows)


def marks_table(session: Session, site_id: int) -> Table:
    site = get_site(session, site_id)
    rows = [
        {**{k: getattr(b, k) for k in ("name", "mark", "stability", "rl_m", "datum", "place")},
         "at": b.entry.observed_at, "by": b.by, "note": b.note,
         "moves": [m.move.words for m in b.moves]}
        for b in level_history.benchmarks(session, site_id)
    ]  # fmt: skip
    return Table(f"benchmarks-{site.code}", MARK_COLUMNS, rows)


def pictures(session: Session, site_id: int) -> dict[str, list[PhotoView]]:
    """Return the photos of a site by the entry they belong to."""
    found: dict[str, list[PhotoView]] = {}
    for photo in photos.photos(session, site_id=site_id):
        found.setdefault(photo.of or "", []).append(photo)
    return found


def stops_table(session: Session, structure_id: int, site_id: int) -> Table:
    seen = pictures(session, site_id)
    rows = [
        {
            "entry_id": v.entry.id, "at": v.entry.observed_at, "by": v.by, "stop": v.stop.key,
            "title": v.stop.title, "moment": v.entry.body.get("moment", ""), "word": v.word,
            "reasons": [f"{word}: {text}" for word, text in v.reasons],
            "corners_m": [f"{k} {x:.4f}" for k, x in v.corners_m.items()],
            "widths_m": [f"{k.removesuffix('_m')} {x:.4f}" for k, x in v.widths_m.items()],
            "went_on": v.entry.body.get("went_on", ""),
            "photos": len(seen.get(v.entry.id, [])), "note": v.entry.body.get("note", ""),
        }
        for v in install_stops.stops(session, structure_id)
    ]  # fmt: skip
    return Table(f"install-stops-{structure_id}", STOP_COLUMNS, rows)
