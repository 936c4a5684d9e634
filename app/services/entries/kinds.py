"""What each kind of field entry must hold; one strict model a kind.

A model refuses what cannot be (text where a number belongs, eleven repeats) and lets through what
is only doubtful: that is stored as seen and flagged afterwards. Adding a kind is one model and
one line in BODIES.
"""

from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, model_validator

from app.errors import BadInput
from app.services.entries.bodies.base import (
    Instant,
    KeptId,
    Metres,
    ShortText,
    Strict,
    Tailwater,
    Text,
    Uuid,
    WaterCondition,
    rule_of,
)
from app.services.entries.bodies.base import instant as instant
from app.services.entries.bodies.gauging import CheckGauging
from app.services.entries.bodies.logger import LoggerFileSent
from app.services.entries.bodies.plan import PlanAsked
from app.services.entries.bodies.survey import SURVEY_BODIES
from app.services.entries.bodies.written import Written


class Envelope(Strict):
    """What every entry carries around its body."""

    id: Uuid
    kind: ShortText
    site_id: KeptId
    structure_id: KeptId | None = None
    visit_id: Uuid | None = None
    observed_at: Instant
    utc_offset_min: Annotated[int, Field(ge=-14 * 60, le=14 * 60)]
    by: KeptId
    saved_at: Instant
    corrects: Uuid | None = None
    reason: Annotated[str, Field(max_length=2000)] | None = None
    moves: bool = False
    body: dict[str, Any]

    @model_validator(mode="after")
    def correction_has_reason(self) -> "Envelope":
        if self.corrects is not None and not (self.reason or "").strip():
            raise ValueError("a correction needs a reason")
        if self.kind == "withdrawal" and self.corrects is None:
            raise ValueError("a withdrawal names the entry it withdraws")
        if self.moves and self.corrects is None:
            raise ValueError("a move names the entry it moves")
        if self.corrects == self.id:
            raise ValueError("an entry cannot correct itself")
        return self


Condition = Literal[
    "weed", "debris", "silt", "ice", "surging", "damage", "leak", "stock", "vandal", "gate moved"
]


VisitWork = Literal["cleaned", "weed cut", "silt out", "debris out", "repaired"]


class Visit(Strict):
    """Somebody was there; readings and other entries cite the visit's id.

    When it ended, the hours and the work are optional: what is not said stays unknown.
    """

    purpose: ShortText = ""
    observers: Annotated[list[ShortText], Field(max_length=10)] = []
    started_at: Instant | None = None
    ended_at: Instant | None = None
    hours: Annotated[float, Field(gt=0.0, le=72.0, allow_inf_nan=False)] | None = None
    done: Annotated[list[VisitWork], Field(max_length=10)] = []
    conditions: list[Condition] = []
    note: Text = ""
    cautions_read: bool = False


StaffUnit = Literal["mm", "cm", "m"]


class Entered(Strict):
    """The figures as typed, with the unit printed beside the box."""

    unit: StaffUnit
    text: Annotated[list[ShortText], Field(max_length=10)]


class Preview(Strict):
    """What the phone showed at the time; the server's own value is the official one."""

    discharge_m3s: Annotated[float, Field(allow_inf_nan=False)] | None = None
    uncertainty_pct: Annotated[float, Field(allow_inf_nan=False)] | None = None
    flow: ShortText = ""
    flags: Annotated[list[ShortText], Field(max_length=40)] = []
    rating_id: int | None = None
    table_hash: ShortText | None = None


class Asked(Strict):
    """A figure that the phone asked about, and what the person said."""

    figure: Literal["staff", "tail"]
    typed: ShortText
    unit: StaffUnit
    answer: ShortText
    """`as typed`, `dry`, the figure that was meant; `not answered`: as typed, in doubt."""


class HeadReading(Strict):
    """Staff readings of head at one time, 1 to 10 repeats, metres as read on the staff."""

    occasion: Literal["as_found", "as_left", "during"] = "during"
    staff_m: Annotated[list[Metres], Field(min_length=1, max_length=10)]
    read_at: Annotated[list[Instant], Field(max_length=10)] | None = None
    entered: Entered | None = None
    tailwater: Tailwater = Tailwater()
    gate_opened_at: Instant | None = None
    conditions: list[WaterCondition] = []
    sensor_head_m: Metres | None = None
    as_typed: Annotated[list[ShortText], Field(max_length=11)] = []
    """Figures that are not usual here and that the person said are right."""
    asked: Annotated[list[Asked], Field(max_length=40)] = []
    """Every question about a figure with its answer, also where another one was meant."""
    dry: bool = False
    """The person said that nothing flows; a head far under the crest is no flow only then."""
    note: Text = ""
    time_reason: ShortText | None = None
    preview: Preview | None = None
    source: Written | None = None
    """The book it was copied from; none for a reading made on the spot."""

    @model_validator(mode="after")
    def one_time_a_repeat(self) -> "HeadReading":
        if self.read_at is not None and len(self.read_at) != len(self.staff_m):
            raise ValueError("give one time for each repeat, or none")
        return self


class Withdrawal(Strict):
    """The entry it names counts no more; the reason is in the envelope."""


BODIES: dict[str, type[Strict]] = {
    "visit": Visit,
    "head_reading": HeadReading,
    "withdrawal": Withdrawal,
    "check_gauging": CheckGauging,
    "logger_file": LoggerFileSent,
    **SURVEY_BODIES,
    "plan": PlanAsked,
}

NEEDS_STRUCTURE = {
    "head_reading",
    "check_gauging",
    "dimension_check",
    "install_stop",
    "opening",
}


def check(model: type[Strict], content: object, where: str = "") -> Strict:
    """Return the content as a model.

    Raises
    ------
    BadInput
        Naming the first field that breaks a rule.
    """
    try:
        return model.model_validate(content)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in (*([where] if where else []), *first["loc"]))
        value = first.get("input")
        raise BadInput(
            place[:80] or "entry",
            "" if isinstance(value, dict | list) else str(value)[:200],
            rule_of(first),
            "Correct this field on the phone and send again, or save the entry to a file.",
        ) from None
