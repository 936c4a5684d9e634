"""The state of a flow and the flags beside it, in the words that people read."""

from dataclasses import dataclass, field
from enum import IntEnum, IntFlag

from app.hydraulics.base.arrays import Floats, Ints


class Flow(IntEnum):
    """The state of the flow through a structure, in the words that people read."""

    FREE = 0
    ASSUMED_FREE = 1
    SUBMERGED_CORRECTED = 2
    SUBMERGED_UNDETERMINED = 3
    NO_FLOW = 4
    NOT_RATED = 5

    @property
    def word(self) -> str:
        """Return the state in the words that people read."""
        return _FLOW_WORDS[self]


_FLOW_WORDS = {
    Flow.FREE: "free",
    Flow.ASSUMED_FREE: "assumed free",
    Flow.SUBMERGED_CORRECTED: "submerged, corrected",
    Flow.SUBMERGED_UNDETERMINED: "submerged, not determined",
    Flow.NO_FLOW: "no flow",
    Flow.NOT_RATED: "not rated",
}


class Flag(IntFlag):
    """What a reader must know beside the number. Bits of an int64; never renumbered."""

    BELOW_RANGE = 1 << 0
    ABOVE_RANGE = 1 << 1
    APPROACH_TOO_FAST = 1 << 2
    GEOMETRY_OUTSIDE_LIMITS = 1 << 3
    OUTSIDE_ISO_LIMITS = 1 << 4
    OUTSIDE_BOS_LIMITS = 1 << 5
    NO_CONTROL = 1 << 6
    HIGH_SUBMERGENCE = 1 << 7
    TAILWATER_ABOVE_HEAD = 1 << 8
    NEAR_MODULAR_LIMIT = 1 << 9
    SETTLING = 1 << 10
    SURGING = 1 << 11
    REPEATS_DISAGREE = 1 << 12
    ZERO_OVERDUE = 1 << 13
    DIFFERS_FROM_SENSOR = 1 << 14
    UNSTEADY = 1 << 15
    HEAD_MISSING = 1 << 16
    HEAD_BELOW_ZERO = 1 << 17
    ISO_EXTENDED_RANGE = 1 << 18
    HEADS_TOO_CLOSE = 1 << 19
    CONTROL_UNDEFINED = 1 << 20
    PHONE_DIFFERS = 1 << 21
    BEYOND_LIMIT = 1 << 24
    LIMIT_UNKNOWN = 1 << 25
    DROWNING_DOUBTED = 1 << 26
    UNUSUAL_HEAD = 1 << 27
    UNUSUAL_CONFIRMED = 1 << 28
    TIME_AHEAD = 1 << 29


_FLAG_WORDS = {
    Flag.BELOW_RANGE: "below range",
    Flag.ABOVE_RANGE: "above range",
    Flag.APPROACH_TOO_FAST: "approach too fast",
    Flag.GEOMETRY_OUTSIDE_LIMITS: "geometry outside limits",
    Flag.OUTSIDE_ISO_LIMITS: "outside ISO limits",
    Flag.OUTSIDE_BOS_LIMITS: "outside Bos limits",
    Flag.NO_CONTROL: "no critical control",
    Flag.HIGH_SUBMERGENCE: "submergence above 0.90",
    Flag.TAILWATER_ABOVE_HEAD: "tailwater above head",
    Flag.NEAR_MODULAR_LIMIT: "near the modular limit",
    Flag.SETTLING: "settling",
    Flag.SURGING: "surging",
    Flag.REPEATS_DISAGREE: "repeats disagree",
    Flag.ZERO_OVERDUE: "zero overdue",
    Flag.DIFFERS_FROM_SENSOR: "differs from sensor",
    Flag.UNSTEADY: "unsteady",
    Flag.HEAD_MISSING: "head missing",
    Flag.HEAD_BELOW_ZERO: "head below zero",
    Flag.ISO_EXTENDED_RANGE: "ISO extended range, 2 % added",
    Flag.HEADS_TOO_CLOSE: "heads too close to tell",
    Flag.CONTROL_UNDEFINED: "control section undefined at this head",
    Flag.PHONE_DIFFERS: "differs from what the phone showed",
    Flag.UNUSUAL_HEAD: "unusual head, not confirmed",
    Flag.UNUSUAL_CONFIRMED: "unusual head, confirmed as read",
    Flag.TIME_AHEAD: "time ahead: clock or slip",
    Flag.BEYOND_LIMIT: "too far above range for a discharge",
    Flag.LIMIT_UNKNOWN: "modular limit unknown",
    Flag.DROWNING_DOUBTED: "said never to drown: tailwater high",
}


_FLAG_BITS = tuple((int(flag), words) for flag, words in _FLAG_WORDS.items())  # plain, so fast


def flag_words(bits: int) -> list[str]:
    """Return the words of the set bits, in the order of the table."""
    bits = int(bits)
    return [words for flag, words in _FLAG_BITS if bits & flag] if bits else []


Flags = Ints  # bits of `Flag`


@dataclass(frozen=True)
class FreeFlow:
    """Free discharge and what was found on the way; arrays of the shape of the heads.

    `detail` may carry coefficient, velocity_coefficient, total_head_m, froude and the like; a
    figure that is the same at all heads may be 0-d.
    `discharge_m3s` is NaN only where the flags say NO_CONTROL, CONTROL_UNDEFINED, or where the
    coefficient has no value (a documented lower bound of the equation). `log_slope_per_m` is
    d ln Q / dh where the equations give it on the way.
    """

    discharge_m3s: Floats
    flags: Flags
    detail: dict[str, Floats] = field(default_factory=dict)
    log_slope_per_m: Floats | None = None
