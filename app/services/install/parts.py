"""The parts of a commissioning sheet, each made from what is on record of a structure."""

from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from typing import Any

from sqlmodel import Session

from app.errors import SillbookError
from app.language import words
from app.records.entries import Entry
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.gaugings import results as gaugings
from app.services.install import as_built
from app.services.install import stops as install_stops
from app.services.install.hold_points import STOPS
from app.services.install.openings import OpeningView
from app.services.sites.dated import device_of
from app.services.surveys.history import level_history, standing

SENSOR_M, SENSOR_SHARE = 0.002, 0.01  # default of the tool, common practice
SEEPS = {
    "bank_left": "bank downstream, left",
    "bank_right": "bank downstream, right",
    "toe": "toe below the tail",
    "wing_left": "wing, left",
    "wing_right": "wing, right",
    "joint": "joint of flume and concrete",
    "vortex": "swirl upstream at a wall",
}
FIRST = timedelta(days=120)  # gaugings up to here after the opening are its first
CLOCK_S = 60.0  # default of the tool, common practice


@dataclass
class Part:
    """A part of the sheet: pairs of words, and whether something is outside or not known."""

    title: str
    rows: list[tuple[str, str]] = field(default_factory=list)


@dataclass(kw_only=True)
class Sheet:
    """Everything the sheet says now; `outside` and `unknown` are listed, never hidden."""

    site: Site
    structure: Structure
    parts: list[Part]
    outside: list[str]
    unknown: list[str]
    fit_from: datetime | None
    fit_words: str

    def frozen(self) -> dict[str, Any]:
        """Return the sheet as JSON values, to be kept with a signature."""
        return {
            "structure": self.structure.name,
            "site": self.site.name,
            "parts": [asdict(part) for part in self.parts],
            "outside": self.outside,
            "unknown": self.unknown,
        }


def local(found: Sheet, text: str | datetime) -> str:
    moment = text if isinstance(text, datetime) else datetime.fromisoformat(text)
    return words.site_time(moment, found.site.utc_offset_min)


def structure(
    session: Session, found: Sheet, rating: Rating | None, zero: GaugeZero | None
) -> None:
    part = Part("Structure")
    if rating is None:
        found.unknown.append("no rating in force")
    else:
        try:
            described = device_of(rating).describe()
        except SillbookError as error:
            described = str(error)
        part.rows.append((f"Rating {rating.id}", f"{described}. {rating.reason}"))
    if zero is None:
        found.unknown.append("no gauge zero in force")
    else:
        part.rows.append(
            (f"Gauge zero {zero.id}",
             f"crest {zero.crest_rl_m:.4f} m, zero {zero.zero_rl_m:.4f} m, "
             f"{zero.offset_m * 1000:+.1f} mm on the staff")
        )  # fmt: skip
    found.parts.append(part)


def built(session: Session, found: Sheet) -> None:
    assert found.structure.id is not None
    built = as_built.as_built(session, found.structure.id)
    part = Part("As built")
    measured = [line for line in built.lines if line.measured]
    inside = sum(1 for line in measured if line.check.inside)
    part.rows.append(("Dimensions measured", f"{len(measured)} of {len(built.lines)}"))
    part.rows.append(("Inside tolerance", f"{inside} of {len(measured)}"))
    part.rows.append(
        ("Rating from them", f"rating {built.made.id}" if built.made else "not made yet")
    )
    found.outside += built.outside
    found.unknown += [f"not measured: {name}" for name in built.missing]
    if built.problem:
        found.unknown.append(built.problem)
    found.parts.append(part)


def levels(session: Session, found: Sheet) -> None:
    assert found.structure.id is not None
    history = level_history(session, found.structure.id, found.structure.site_id)
    runs = [view for view in history.runs if standing(view)]
    part = Part("Levels")
    if not runs or runs[-1].run is None:
        found.unknown.append("no level run")
        return
    run = runs[-1].run
    part.rows.append(("Levelled", f"{local(found, runs[-1].entry.observed_at)}, {runs[-1].by}"))
    if run.within_limit is None:
        found.unknown.append("misclosure of the last level run: it is not closed")
    else:
        told = f"{run.misclosure_mm:+.1f} mm, limit {run.limit_mm:.2f} mm"
        part.rows.append(("Misclosure", told))
        if not run.within_limit:
            found.outside.append(f"misclosure {told}")
    if (crest := runs[-1].results) is not None:
        part.rows.append(("Mean crest", f"{crest.crest_rl_m:.4f} m"))
        part.rows.append(("Corner range", f"{crest.corner_range_m * 1000:.1f} mm"))
    found.outside += [f"benchmark: {m.move.words}" for m in history.moves]
    found.parts.append(part)


def stops(session: Session, found: Sheet) -> None:
    assert found.structure.id is not None
    views = [v for v in install_stops.stops(session, found.structure.id) if v.stands]
    newest = {view.stop.key: view for view in views}
    part = Part("Install stops")
    said = ", ".join(f"{key} {view.word}" for key, view in sorted(newest.items()))
    part.rows.append(("Last word at each stop", said or "none recorded"))
    for key, view in sorted(newest.items()):
        found.outside += [f"{key} {view.stop.title}: {t}" for w, t in view.reasons if w == "stop"]
    missing = [stop.key for stop in STOPS if stop.key not in newest]
    if missing:
        found.unknown.append("install stops not recorded: " + ", ".join(missing))
    found.parts.append(part)


def opening(found: Sheet, view: OpeningView) -> None:
    body = view.entry.body
    part = Part("Opening")
    part.rows.append(("Opened", f"{local(found, view.entry.observed_at)}, {view.by}"))
    if body.get("gate"):
        steps = [f"{local(found, g['at'])[11:16]} {g['opening']}" for g in body["gate"]]
        part.rows.append(("Gate steps", "; ".join(steps)))
    else:
        found.unknown.append("gate steps")
    found.parts.append(part)
    _steady(found, part, view)
    _seeps(found, part, body)
    _sensor(found, part, view)
    found.fit_from, found.fit_words = view.fit_from, view.fit_words


def _steady(found: Sheet, part: Part, view: OpeningView) -> None:
    """Say whether the last readings were steady, and the flow they stand for."""
    if not view.heads or view.steady is None:
        found.unknown.append("timed heads: whether the flow was steady")
        return
    last, steady = view.heads[-1], view.steady
    part.rows.append(("Steady test", f"{steady.word}: {steady.reason}"))
    if steady.word == "unknown":
        found.unknown.append(f"steadiness: {steady.reason}")
    elif steady.word != "steady":
        found.outside.append(f"flow {steady.word}: {steady.reason}")
    if last.head_m is None:
        found.unknown.append(f"flow at the opening, {last.flow}")
        return
    told = words.discharge(last.discharge_m3s, last.uncertainty_pct)
    part.rows.append(("Head and flow then", f"{last.head_m * 1000:.1f} mm, {told}, {last.flow}"))
    if last.flow == "assumed free":
        found.unknown.append("tailwater at the opening: the flow is assumed free")
    elif last.flow != "free":
        found.outside.append(f"flow {last.flow} at the opening")


def _seeps(found: Sheet, part: Part, body: dict[str, Any]) -> None:
    seeps = body.get("seeps") or {}
    if not seeps:
        found.unknown.append("seeps and bypass: not looked at")
        return
    said = ", ".join(f"{SEEPS.get(k, k)}: {v}" for k, v in seeps.items())
    part.rows.append(("Seeps", said))
    for key in SEEPS:
        if key not in seeps:
            found.unknown.append(f"seep, {SEEPS[key]}: not looked at")
    for key, seen in seeps.items():
        place = SEEPS.get(key, key)
        if seen == "muddy":
            found.outside.append(f"muddy seep, {place}: soil moves, close the gate")
        elif seen == "clear":
            found.outside.append(f"clear seep, {place}: water passes beside the structure")
        elif seen == "not looked at":
            found.unknown.append(f"seep, {place}: not looked at")
    if body.get("seep_note"):
        part.rows.append(("Note on seeps", body["seep_note"]))


def _sensor(found: Sheet, part: Part, view: OpeningView) -> None:
    off, was = view.sensor_after_m, view.sensor_before_m
    if off is None:
        found.unknown.append("sensor set to the staff")
    else:
        before = "" if was is None else f", before {was * 1000:+.1f} mm"
        part.rows.append(("Sensor against the staff", f"{off * 1000:+.1f} mm as left{before}"))
        head = view.heads[-1].head_m if view.heads else None
        if abs(off) > max(SENSOR_M, SENSOR_SHARE * abs(head or 0.0)) + 1e-9:
            found.outside.append(
                f"sensor {off * 1000:+.1f} mm from the staff as left; default 2 mm or 1 % of head "
                "(common practice)"
            )
    off_s, was_s = view.clock_after_s, view.clock_before_s
    if off_s is None:
        found.unknown.append("clock set")
        return
    before = "" if was_s is None else f", before {words.clock_error(was_s)}"
    part.rows.append(("Logger clock", f"{words.clock_error(off_s)} as left{before}"))
    if abs(off_s) > CLOCK_S:
        found.outside.append(f"logger clock {words.clock_error(off_s)} as left")


def first_gaugings(session: Session, found: Sheet, opening: Entry | None) -> None:
    part = Part("First gaugings")
    since = opening.observed_at.replace(hour=0, minute=0) if opening else None
    results = gaugings.gauging_results(
        session,
        found.structure.site_id,
        since=since,
        until=since + FIRST if since else None,
        structure_id=found.structure.id,
    )[:3]
    for one in results:
        told = words.discharge(one.discharge_m3s, one.uncertainty_pct)
        apart = "" if one.deviation_pct is None else f", {one.deviation_pct:+.1f} % from the rating"
        part.rows.append((local(found, one.started_at), f"{one.method}: {told}{apart}, {one.word}"))
        if one.word == "fails":
            found.outside.append(f"gauging of {local(found, one.started_at)} fails: {one.reason}")
    if not results:
        found.unknown.append("first check gauging")
    found.parts.append(part)
