"""The kinds of fault a head series can have, the limits they are found by, and a finding."""

from dataclasses import dataclass
from enum import StrEnum


class Fault(StrEnum):
    """What can be wrong with a stretch of record."""

    RANGE = "outside the range"
    NEGATIVE = "negative head"
    RATE = "changes faster than the pond allows"
    STEP = "step without gate change"
    SPIKE = "spike"
    FLAT = "flat line"
    STUCK = "stuck sensor"
    NOISE = "noise"
    GAP = "gap"
    CLOCK = "clock jump"


@dataclass(frozen=True, kw_only=True)
class FaultLimits:
    """Limits of the checks, metres and seconds; defaults are common practice.

    `largest_change_m_per_s` is the largest rate over the pond's area (see `pond_rate_m_per_s`);
    without it the rate of change is not checked. `highest_m` None: no upper end is checked.
    """

    lowest_m: float = -0.05
    highest_m: float | None = None
    below_zero_m: float = 0.003
    largest_change_m_per_s: float | None = None
    spike_m: float = 0.020
    step_m: float = 0.015
    gate_window_s: int = 2_700
    dry_m: float = 0.002
    flat_s: int = 86_400
    stuck_s: int = 3 * 86_400
    noise_m: float = 0.004
    gap_s: int | None = None


@dataclass(frozen=True)
class Finding:
    """One stretch to look at: what, from and to (epoch s, both included), how much, in words."""

    kind: Fault
    from_s: int
    to_s: int
    size: float
    unit: str
    words: str
