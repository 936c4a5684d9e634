"""What a check gauging must hold: the raw observations of one method, figures as they were typed.

Figures stay text with comma or point, so that nothing a person wrote is changed; they are
understood when the gauging is worked out. A figure that is no number is stored all the same and
named then, because an observation is never lost for a slip of the finger.
"""

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from app.services.entries.bodies.base import (
    Instant,
    KeptId,
    Metres,
    ShortText,
    Strict,
    Tailwater,
    Text,
    WaterCondition,
)
from app.services.entries.bodies.written import Written

Figure = (
    Annotated[str, Field(max_length=24)]
    | Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]
)
Name = Annotated[str, Field(max_length=80)]
MOST_VERTICALS = 100
MOST_READINGS = 5000  # of a trace: 80 minutes at one a second
MOST_TRACE_TEXT = 200_000


class Head(Strict):
    """One staff reading during the gauging, metres as read, with the text typed."""

    at: Instant
    staff_m: Metres
    text: ShortText | None = None


class Instrument(Strict):
    """What was used, in the observer's words."""

    kind: ShortText = ""
    serial: ShortText = ""
    last_calibration: ShortText = ""


class Point(Strict):
    """One point in a vertical: a velocity read off, or counts and the time they took."""

    velocity_ms: Figure | None = None
    counts: Figure | None = None
    seconds: Figure | None = None


class Vertical(Strict):
    """One vertical, or a water's edge: place along the tape, depth, points by their depth."""

    distance_m: Figure
    depth_m: Figure
    points: dict[Literal["v", "v02", "v06", "v08"], Point] = {}


Pairs = Annotated[
    list[Annotated[list[Figure], Field(min_length=2, max_length=2)]],
    Field(min_length=1, max_length=30),
]


class VelocityAreaObserved(Strict):
    """Verticals in the order of the tape, both water's edges included."""

    method: Literal["velocity_area"]
    section: Literal["mid", "mean"] = "mid"
    edges: Annotated[list[Literal["bank", "wall"]], Field(min_length=2, max_length=2)]
    # rows of the meter's equation: [revolutions a second from which it holds, slope, offset m/s]
    meter_pieces: Annotated[
        list[Annotated[list[Figure], Field(min_length=3, max_length=3)]], Field(max_length=6)
    ] = []
    verticals: Annotated[list[Vertical], Field(max_length=MOST_VERTICALS)]
    # changed components of the uncertainty: a number, or a table of pairs
    components: dict[Name, Figure | Pairs] | None = None


class Fill(Strict):
    """One fill of a vessel."""

    volume_l: Figure
    time_s: Figure


class VolumetricObserved(Strict):
    """Repeated fills."""

    method: Literal["volumetric"]
    fills: Annotated[list[Fill], Field(max_length=60)]
    volume_uncertainty_pct: Figure | None = None
    timer_uncertainty_s: Figure | None = None


class CalibrationPoint(Strict):
    """One point of the calibration of salt against conductivity."""

    concentration_mg_l: Figure
    conductivity_us_cm: Figure


Numbers = Annotated[
    list[Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]],
    Field(max_length=MOST_READINGS),
]


class GulpObserved(Strict):
    """One gulp of salt: the dose, the trace and how it came in, the calibration."""

    method: Literal["dilution_gulp"]
    mass_g: Figure | None = None
    volume_l: Figure | None = None
    concentration_g_l: Figure | None = None
    time_s: Numbers
    conductivity_us_cm: Numbers
    second_us_cm: Numbers | None = None
    trace_text: Annotated[str, Field(max_length=MOST_TRACE_TEXT)] = ""
    trace_from: Literal["typed", "pasted", "file"] = "typed"
    file_name: ShortText | None = None
    background_us_cm: Figure | None = None
    background_end_us_cm: Figure | None = None
    calibration: Annotated[list[CalibrationPoint], Field(max_length=30)] = []
    factor_mg_l_per_us_cm: Figure | None = None
    factor_uncertainty_pct: Figure | None = None
    dose_uncertainty_pct: Figure | None = None


class ConstantObserved(Strict):
    """Tracer fed at a constant rate; all concentrations in one unit, named."""

    method: Literal["dilution_constant"]
    injection_ml_s: Figure
    injected: Figure
    background: Figure | None = None
    background_end: Figure | None = None
    plateau: Annotated[list[Figure], Field(max_length=60)]
    unit: ShortText = "mg/L"
    injection_uncertainty_pct: Figure | None = None
    concentration_uncertainty_pct: Figure | None = None


class FloatObserved(Strict):
    """Surface floats over a run of known length."""

    method: Literal["float"]
    distance_m: Figure
    times_s: Annotated[list[Figure], Field(max_length=60)]
    width_m: Figure
    depths_m: Annotated[list[Figure], Field(max_length=60)]
    factor: Figure | None = None
    uncertainty_pct: Figure | None = None


class PortableDevice(Strict):
    """A portable device of the registry, whole, so that it can be built again."""

    key: Name
    family: Name
    dims: dict[Name, Annotated[str, Field(max_length=40)] | float]


class PortableObserved(Strict):
    """A portable plate or flume: heads over its own zero, or a discharge by its own table."""

    method: Literal["portable"]
    device: PortableDevice | None = None
    heads_mm: Annotated[list[Figure], Field(max_length=20)] = []
    head_uncertainty_mm: Figure | None = None
    free_seen: bool = False
    described: ShortText = ""
    discharge_l_s: Figure | None = None
    uncertainty_pct: Figure | None = None


class StatedObserved(Strict):
    """A discharge as an old book states it; without an uncertainty stated it is unknown."""

    method: Literal["stated"]
    discharge: Figure
    unit: Literal["L/s", "m3/s"] = "L/s"
    uncertainty_pct: Figure | None = None
    described: ShortText = ""
    """How it was gauged, in the words of the book."""


Observed = Annotated[
    VelocityAreaObserved
    | VolumetricObserved
    | GulpObserved
    | ConstantObserved
    | FloatObserved
    | PortableObserved
    | StatedObserved,
    Field(discriminator="method"),
]


class GaugingPreview(Strict):
    """What the phone showed; the office works everything out again."""

    discharge_m3s: Annotated[float, Field(allow_inf_nan=False)] | None = None
    uncertainty_pct: Annotated[float, Field(allow_inf_nan=False)] | None = None
    rating_m3s: Annotated[float, Field(allow_inf_nan=False)] | None = None
    rating_uncertainty_pct: Annotated[float, Field(allow_inf_nan=False)] | None = None
    head_mean_m: Annotated[float, Field(allow_inf_nan=False)] | None = None
    deviation_pct: Annotated[float, Field(allow_inf_nan=False)] | None = None
    e_n: Annotated[float, Field(allow_inf_nan=False)] | None = None
    word: ShortText = ""
    reason: Annotated[str, Field(max_length=400)] = ""
    flags: Annotated[list[ShortText], Field(max_length=40)] = []
    problem: Annotated[str, Field(max_length=600)] | None = None
    rating_id: int | None = None
    table_hash: ShortText | None = None


class CheckGauging(Strict):
    """One check gauging: what was observed, the heads meanwhile, the control, the phone's view."""

    observed: Observed
    started_at: Instant
    ended_at: Instant
    heads: Annotated[list[Head], Field(max_length=20)] = []
    head_unit: Literal["mm", "cm", "m"] = "mm"
    tailwater: Tailwater = Tailwater()
    control: list[Literal["clear"] | WaterCondition] = []
    observers: Annotated[list[ShortText], Field(max_length=10)] = []
    instrument: Instrument = Instrument()
    instrument_id: KeptId | None = None
    tolerance_pct: Figure | None = None
    note: Text = ""
    time_reason: ShortText | None = None
    cautions_read: bool = False
    preview: GaugingPreview | None = None
    source: Written | None = None
    """The book it was copied from; none for a gauging made on the spot."""

    @model_validator(mode="before")
    @classmethod
    def method_is_known(cls, content: Any) -> Any:
        """Say plainly which methods there are, before the union of bodies complains at length."""
        found = content.get("observed") if isinstance(content, dict) else None
        method = found.get("method") if isinstance(found, dict) else ""
        if isinstance(found, dict) and not (isinstance(method, str) and method in METHODS):
            raise ValueError(f"observed.method is one of {', '.join(METHODS)}")
        return content

    @model_validator(mode="after")
    def ends_after_start(self) -> "CheckGauging":
        if self.ended_at < self.started_at:
            raise ValueError("a gauging ends after it starts: correct one of the times")
        return self


METHODS = {
    "velocity_area": "velocity-area",
    "volumetric": "volumetric",
    "dilution_gulp": "salt dilution, gulp",
    "dilution_constant": "dilution, constant rate",
    "float": "float",
    "portable": "portable plate or flume",
    "stated": "as a book states it",
}
"""Keys of the methods and the words people read."""
