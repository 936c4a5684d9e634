"""Bodies of what is levelled, measured and photographed when a structure is set and opened.

A model holds the figures as booked; reduced levels, checks and words are made from them again
by the server. Reduced levels lie within 9000 of their datum; staff readings are never longer
than a staff, in metres or feet.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from app.services.entries.bodies.base import Instant, KeptId, Metres, ShortText, Strict, Text, Uuid

Level = Annotated[float, Field(ge=-30000.0, le=30000.0, allow_inf_nan=False)]
Sight = Annotated[float, Field(ge=-33.0, le=33.0, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0.0, le=1e6, allow_inf_nan=False)]
Amount = Annotated[float, Field(ge=0.0, le=1e6, allow_inf_nan=False)]
Name = Annotated[str, Field(min_length=1, max_length=80)]
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]

Stability = Literal["firm", "doubtful", "disturbed", "gone"]
SeepState = Literal["none", "clear", "muddy", "not looked at"]
Corner = Literal["corner_ul", "corner_ur", "corner_dl", "corner_dr"]
Role = Literal[
    "corner_ul", "corner_ur", "corner_dl", "corner_dr", "floor", "staff_mark", "tail_mark",
    "sensor", "pipe_invert", "water", "tail_floor", "tail_water", "bank", "benchmark",
    "turning_point", "other",
]  # fmt: skip


class Benchmark(Strict):
    """A mark that should not move: what it is, how firm, where, and its level if it has one."""

    name: Name
    mark: Literal["bolt", "pin", "plate", "building", "rock", "post", "other"] = "other"
    stability: Stability = "doubtful"
    rl_m: Level | None = None
    datum: ShortText = ""
    place: Text = ""
    note: Text = ""


class LevelRow(Strict):
    """One sight as booked; `struck` keeps what was written first and struck out."""

    point: Name
    role: Role = "other"
    bs: Sight | None = None
    is_: Annotated[Sight | None, Field(alias="is")] = None
    fs: Sight | None = None
    distance_m: Annotated[float | None, Field(gt=0.0, le=300.0)] = None
    struck: Annotated[list[ShortText], Field(max_length=20)] = []


class Misclosure(Strict):
    """The rule chosen for the run, with what it needs."""

    name: Literal["setups", "distance", "ordinary", "fixed"] = "setups"
    distance_km: Positive | None = None
    limit_mm: Positive | None = None

    @model_validator(mode="after")
    def has_what_it_needs(self) -> "Misclosure":
        if self.name == "fixed" and self.limit_mm is None:
            raise ValueError("a fixed rule needs its limit in mm")
        return self


class TwoPegTest(Strict):
    """Sights of the two-peg test, metres."""

    middle_a_m: Metres
    middle_b_m: Metres
    end_a_m: Metres
    end_b_m: Metres
    end_distance_a_m: Amount
    end_distance_b_m: Amount


class SetZero(Strict):
    """The wish that this run sets the gauge zero from an instant."""

    from_: Annotated[Instant, Field(alias="from")]
    reason: Annotated[str, Field(max_length=2000)] = ""
    accepted_because: Annotated[str, Field(max_length=2000)] = ""
    """Why a run in doubt (its misclosure over the limit, or not known) may set the zero."""


class LevelPreview(Strict):
    """What the phone showed when the run was saved."""

    misclosure_mm: float | None = None
    limit_mm: float | None = None
    within_limit: bool | None = None
    crest_rl_m: float | None = None
    zero_rl_m: float | None = None
    tail_zero_rl_m: float | None = None
    corner_range_m: float | None = None
    words: Annotated[list[ShortText], Field(max_length=40)] = []


class LevelRun(Strict):
    """A run of levels as booked; start and close levels in the unit of the book."""

    unit: Literal["m", "ft"] = "m"
    start_rl: Level
    close_rl: Level | None = None
    rows: Annotated[list[LevelRow], Field(min_length=1, max_length=400)]
    rule: Misclosure = Misclosure()
    adjusted: bool = False
    staff_mark_m: Metres | None = None
    tail_mark_m: Metres | None = None
    corner_tolerance_m: Annotated[float, Field(gt=0.0, le=0.1)] = 0.002
    low_head_m: Annotated[float, Field(gt=0.0, le=5.0)] = 0.1
    exponent: Annotated[float, Field(gt=0.0, le=4.0)] = 1.5
    instrument: ShortText = ""
    instrument_id: KeptId | None = None
    peg_test: TwoPegTest | None = None
    set_zero: SetZero | None = None
    note: Text = ""
    preview: LevelPreview | None = None

    @model_validator(mode="after")
    def distance_is_known(self) -> "LevelRun":
        every = all(row.distance_m for row in self.rows if row.is_ is None)
        if self.rule.name == "distance" and self.rule.distance_km is None and not every:
            raise ValueError("the rule by distance needs the length in km, or of every sight")
        return self


class MeasuredDimension(Strict):
    """One dimension of the structure as measured, repeats in metres; empty when not measured."""

    key: Name
    label: ShortText = ""
    measured_m: Annotated[list[Positive], Field(max_length=10)]
    note: ShortText = ""


class DimensionCheck(Strict):
    """As-built dimensions measured with a tape or rule."""

    dimensions: Annotated[list[MeasuredDimension], Field(min_length=1, max_length=60)]
    instrument: ShortText = ""
    note: Text = ""
    as_typed: Annotated[list[ShortText], Field(max_length=60)] = []
    """Figures unlike their named value that the person said are right."""


class CornerLevels(Strict):
    """Corner levels at one stop: a sight on a mark, then one on each corner (metres)."""

    reference: ShortText = ""
    reference_rl_m: Level
    backsight_m: Metres
    readings_m: dict[Corner, Metres]


class Widths(Strict):
    """Throat widths between the walls, metres."""

    top_m: Positive | None = None
    middle_m: Positive | None = None
    bottom_m: Positive | None = None


class Box(Strict):
    """The empty box against water or wet concrete: plan, depth of fluid, mass, hold-down."""

    length_m: Positive
    width_m: Positive
    water_depth_m: Positive | None = None
    concrete_depth_m: Positive | None = None
    mass_kg: Amount
    hold_down_kn: Amount = 0.0
    target: Annotated[float, Field(ge=1.0, le=5.0)] = 1.25


class ConcreteParts(Strict):
    """Concrete by part, cubic metres."""

    parts_m3: Annotated[dict[Name, Amount], Field(min_length=1, max_length=12)]
    void_m3: Amount = 0.0


class Creep(Strict):
    """Seepage path under the structure, metres, and the soil it goes through."""

    verticals_m: Annotated[list[Amount], Field(max_length=20)]
    horizontals_m: Annotated[list[Amount], Field(max_length=20)]
    head_m: Positive
    soil: ShortText | None = None


class Tail(Strict):
    """Fall and protection at the tail, metres, and scour as seen."""

    fall_m: Metres | None = None
    protection_m: Amount | None = None
    water_depth_m: Amount | None = None
    scour: Text = ""


class InstallStop(Strict):
    """One stop of the setting sequence, recorded; a stop may be recorded many times."""

    stop: Literal["S1", "S2", "S3", "S4", "S5", "S6", "S7", "S8", "S9"]
    moment: Literal["", "before", "during", "after"] = ""
    corners: CornerLevels | None = None
    corner_tolerance_m: Annotated[float, Field(gt=0.0, le=0.1)] = 0.002
    widths: Widths | None = None
    width_limit_m: Annotated[float, Field(gt=0.0, le=0.1)] = 0.001
    seen: Annotated[dict[Name, Literal["yes", "no"]], Field(max_length=20)] = {}
    lift_m: Positive | None = None
    base_height_m: Positive | None = None
    box: Box | None = None
    concrete: ConcreteParts | None = None
    creep: Creep | None = None
    tail: Tail | None = None
    delivered: ShortText = ""
    weather: ShortText = ""
    went_on: Literal["", "go", "stop"] = ""
    note: Text = ""
    preview: dict[Name, ShortText] | None = None


class GateStep(Strict):
    """The gate at one time, as its own scale says."""

    at: Instant
    opening: ShortText


class TimedHead(Strict):
    """A staff reading at one time while the pond fills, metres on the staff."""

    at: Instant
    staff_m: Metres
    tail_staff_m: Metres | None = None
    as_typed: ShortText | None = None
    """The figure as the person typed it, where it was asked about and is right."""
    dry: bool = False


class SensorSet(Strict):
    """The sensor set to the staff: what it showed before and after, metres over the crest."""

    at: Instant
    staff_m: Metres
    before_m: Metres | None = None
    after_m: Metres | None = None


class ClockSet(Strict):
    """The logger's clock against the right time, before and after setting."""

    right: Instant
    before: Instant | None = None
    after: Instant | None = None


class Opening(Strict):
    """The gate opened in steps, heads until steady, seeps looked for, sensor and clock set."""

    gate: Annotated[list[GateStep], Field(max_length=60)] = []
    heads: Annotated[list[TimedHead], Field(max_length=200)] = []
    seeps: Annotated[dict[Name, SeepState], Field(max_length=20)] = {}
    seep_note: Text = ""
    sensor: SensorSet | None = None
    clock: ClockSet | None = None
    gauging_ids: Annotated[list[Uuid], Field(max_length=20)] = []
    fit_from: Instant | None = None
    fit_words: Text = ""
    note: Text = ""
    preview: dict[Name, ShortText] | None = None


class Photo(Strict):
    """A photo by the hash of the bytes sent; `of` is the entry it belongs to."""

    sha256: Sha256
    caption: ShortText = ""
    place: ShortText = ""
    bearing_deg: Annotated[float, Field(ge=0.0, le=360.0)] | None = None
    of: Uuid | None = None
    width_px: Annotated[int, Field(ge=1, le=20000)] | None = None
    height_px: Annotated[int, Field(ge=1, le=20000)] | None = None
    bytes: Annotated[int, Field(ge=1)] | None = None
    time_from: Literal["picture", "chosen"] | None = None
    """Of a picture from the gallery: its own time, or when it was chosen; None: of the camera."""


SURVEY_BODIES: dict[str, type[Strict]] = {
    "benchmark": Benchmark,
    "level_run": LevelRun,
    "dimension_check": DimensionCheck,
    "install_stop": InstallStop,
    "opening": Opening,
    "photo": Photo,
}
