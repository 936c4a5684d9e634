"""The stops of setting a flume: what each asks, what was recorded, and stop or go.

The words check one stop against the next; they do not design or certify. A person who may do
that decides, and `went_on` keeps what was decided at the time.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput
from app.hydraulics.base.rounding import fixed, general
from app.hydraulics.install import checks as install
from app.hydraulics.install import groundwork
from app.language.trade import CORNERS
from app.records.entries import Entry
from app.services.entries.links import what_stands
from app.services.entries.standing import Standing
from app.services.install.hold_points import STOP_OF, Stop
from app.services.sites.changes import names_of

WIDTHS = ("top_m", "middle_m", "bottom_m")


@dataclass(frozen=True, kw_only=True)
class StopView:
    """One recorded stop with its checks; `word` is stop, go, unknown or noted."""

    entry: Entry
    by: str
    stop: Stop
    word: str
    reasons: tuple[tuple[str, str], ...]
    corners_m: dict[str, float]
    corner_check: install.StopCheck | None
    widths_m: dict[str, float]
    width_check: install.StopCheck | None
    water: groundwork.Uplift | None
    wet_concrete: groundwork.Uplift | None
    concrete_to_hold_m3: float | None
    ballast_to_hold_kg: float | None
    lift: groundwork.LiftPressure | None
    concrete: groundwork.Concrete | None
    creep: groundwork.Creep | None
    practice: tuple[install.PracticeNote, ...]
    corrected_by: str | None
    stands: bool
    rival: bool


def corner_levels(body: dict[str, Any]) -> dict[str, float]:
    """Return the reduced levels, m, of the corners sighted at one stop."""
    seen = body.get("corners")
    if not seen:
        return {}
    height = seen["reference_rl_m"] + seen["backsight_m"]
    return {key: height - seen["readings_m"][key] for key in CORNERS if key in seen["readings_m"]}


def stops(session: Session, structure_id: int) -> list[StopView]:
    """Return the stops recorded at a structure, oldest first, each checked against those before."""
    query = select(Entry).where(Entry.kind == "install_stop", Entry.structure_id == structure_id)
    entries = session.exec(query.order_by(col(Entry.observed_at), col(Entry.id))).all()
    links = what_stands(session, entries[0].site_id if entries else 0)
    names = names_of(session)
    found = []
    earlier: list[dict[str, Any]] = []
    for entry in entries:
        found.append(stop_view(entry, earlier, names.get(entry.by_id, ""), links))
        if links.stands(entry.id):
            earlier.append(entry.body)
    return found


def since_set(bodies: Sequence[dict[str, Any]], part: str) -> list[list[float]]:
    """Return rows of corner levels or widths from the last setting (S2) on; NaN where unread.

    Before it is set the box is moved on purpose: only what changes afterwards is a movement.
    """
    read = corner_levels if part == "corners" else width_values
    keys = CORNERS if part == "corners" else WIDTHS
    begun = max((i for i, body in enumerate(bodies) if body["stop"] == "S2"), default=0)
    values = [read(body) for body in bodies[begun:]]
    return [[row.get(key, math.nan) for key in keys] for row in values if row]


def width_values(body: dict[str, Any]) -> dict[str, float]:
    return {k: v for k, v in (body.get("widths") or {}).items() if v is not None}


def stop_view(
    entry: Entry, earlier: Sequence[dict[str, Any]], by: str = "", links: Standing | None = None
) -> StopView:
    """Check one stop against the standing stops before it."""
    body, links = entry.body, links or Standing([])
    replaced = links.replaced_by(entry.id)
    corners, widths = corner_levels(body), width_values(body)
    history = [*earlier, body]
    corner_check = width_check = None
    if corners:
        corner_check = install.corner_stop(
            since_set(history, "corners"), tolerance_m=body.get("corner_tolerance_m", 0.002)
        )
    if widths:
        width_check = install.width_stop(
            since_set(history, "widths"), limit_m=body.get("width_limit_m", 0.001)
        )
    reasons = [(c.word, c.reason) for c in (corner_check, width_check) if c]
    reasons += [
        ("stop", f"{text}: no")
        for key, text in STOP_OF[body["stop"]].asks
        if (body.get("seen") or {}).get(key) == "no"
    ]
    sums = Sums(body)
    reasons += sums.reasons
    words = {word for word, _ in reasons}
    word = next((w for w in ("stop", "unknown", "go") if w in words), "noted")
    return StopView(
        entry=entry,
        by=by,
        stop=STOP_OF[body["stop"]],
        word=word,
        reasons=tuple(reasons),
        corners_m=corners,
        corner_check=corner_check,
        widths_m=widths,
        width_check=width_check,
        water=sums.water,
        wet_concrete=sums.wet_concrete,
        concrete_to_hold_m3=sums.concrete_to_hold_m3,
        ballast_to_hold_kg=sums.ballast_to_hold_kg,
        lift=sums.lift,
        concrete=sums.concrete,
        creep=sums.creep,
        practice=tuple(sums.practice),
        corrected_by=replaced[-1] if replaced else None,
        stands=links.stands(entry.id),
        rival=links.rival(entry.id),
    )


class Sums:
    """The totals of one stop; a sum that cannot be made is a reason, not a fault."""

    def __init__(self, body: dict[str, Any]) -> None:
        self.reasons: list[tuple[str, str]] = []
        self.water: groundwork.Uplift | None = None
        self.wet_concrete: groundwork.Uplift | None = None
        self.lift: groundwork.LiftPressure | None = None
        self.concrete: groundwork.Concrete | None = None
        self.creep: groundwork.Creep | None = None
        self.concrete_to_hold_m3: float | None = None
        self.ballast_to_hold_kg: float | None = None
        self.practice: list[install.PracticeNote] = []
        try:
            self._add(body)
        except BadInput as error:
            said = general(error.value) if isinstance(error.value, float) else error.value
            self.reasons.append(("unknown", f"{error.field} {said}: {error.rule}. {error.remedy}"))

    def _add(self, body: dict[str, Any]) -> None:
        box, tail = body.get("box"), body.get("tail") or {}
        if box:
            self._hold(box)
        lift, base = body.get("lift_m"), body.get("base_height_m")
        if lift:
            self.lift = groundwork.lift_pressure(lift)
        if parts := body.get("concrete"):
            self.concrete = groundwork.concrete_volume_m3(
                parts["parts_m3"], void_m3=parts.get("void_m3", 0.0)
            )
        if path := body.get("creep"):
            self.creep = groundwork.weighted_creep(**path)
            word = {True: "go", False: "stop", None: "unknown"}[self.creep.holds]
            self.reasons.append((word, f"seepage path: {self.creep.word}"))
        self.practice = install.practice_notes(
            tail_fall_m=tail.get("fall_m"),
            lift_fraction=lift / base if lift and base else None,
        )

    def _hold(self, box: dict[str, Any]) -> None:
        plan = {key: box[key] for key in ("length_m", "width_m", "mass_kg")}
        held = {"hold_down_kn": box.get("hold_down_kn", 0.0), "target": box.get("target", 1.25)}
        if box.get("water_depth_m"):
            depth = box["water_depth_m"]
            self.water = groundwork.uplift(**plan, depth_m=depth, **held)
            self.concrete_to_hold_m3 = groundwork.concrete_to_hold_m3(
                **plan, depth_m=depth, target=held["target"]
            )
            self.ballast_to_hold_kg = groundwork.ballast_to_hold_kg(
                **plan, depth_m=depth, target=held["target"]
            )
        if box.get("concrete_depth_m"):
            self.wet_concrete = groundwork.uplift(
                **plan,
                depth_m=box["concrete_depth_m"],
                density_kg_m3=groundwork.CONCRETE_KG_M3,
                **held,
            )
        for what, found in (("water", self.water), ("wet concrete", self.wet_concrete)):
            if found:
                words = f"box in {what}: {found.word}, factor {fixed(found.factor, 2)}"
                self.reasons.append(("go" if found.holds else "stop", words))
