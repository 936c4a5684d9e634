"""What the long-throated families share: dimensions, limits of ISO 4359, the modular limit.

Modular limit, lower of two: a rule of thumb by the exit (Bos 1989; ISO 4359), and the energy
method (Bos, Replogle & Clemmens 1984; Clemmens et al. 2001, ILRI Publ. 58 ch. 6), both from
memory: H2 = H1 Cd^(1/u) - xi (vc - v2)^2 / 2g, friction of the exit reach left out, with
xi = [log10(114.59 atan(1/m)) - 1.165] / 1.742 for a ramp falling 1 in m and 1.2 for an abrupt end.
"""

from dataclasses import dataclass
from math import atan, log10

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.critical import Controlled
from app.hydraulics.channel.sections import Section, Trapezoid
from app.hydraulics.structure.device import Dimension, Dims, Flag
from app.hydraulics.structure.states import Flags

ABRUPT_LOSS = 1.2
MAX_FROUDE = 0.5
MAX_AREA_RATIO = 0.7
ISO_FULL_H_L = 0.50
ISO_EXTENDED_H_L = 0.67
"""The stricter of two figures in print (0.67 and 0.7), until the standard itself is checked."""

# exit ramp 1 vertical in m horizontal: lowest published limit (Bos 1989, from memory)
_RULE_BY_RAMP = ((10.0, 0.90), (6.0, 0.83), (3.0, 0.80))


def length(key: str, label: str, tolerance: float = 0.0, **more: object) -> Dimension:
    """Return a length of a throat or channel, above 0 and at most 100 m."""
    values: dict[str, object] = {"low": 0.0, "low_open": True, "high": 100.0}
    return Dimension(key=key, label=label, tolerance=tolerance, **(values | more))  # type: ignore[arg-type]


THROAT_LENGTH = length("L", "Throat length along the flow", 0.005, aliases=("length",))
SILL = length(
    "p",
    "Sill height over the approach bed",
    0.003,
    required=False,
    default=0.0,
    low_open=False,
    aliases=("p1", "sill"),
    race="sill",
)
APPROACH_SLOPE = Dimension(
    key="B_m",
    label="Approach side slope, horizontal to 1 vertical",
    unit="",
    kind="slope",
    required=False,
    default=0.0,
    low=0.0,
    high=10.0,
    aliases=("B_z", "approach_m", "approach_z"),
    race="slope",
)
TAIL: tuple[Dimension, ...] = (
    Dimension(
        key="exit_slope",
        label="Exit ramp, horizontal to 1 vertical",
        unit="",
        kind="slope",
        required=False,
        default=0.0,
        low=0.0,
        high=50.0,
        help="0 is an abrupt end, which is also assumed when nothing is known.",
        aliases=("exit", "ramp", "exit_m"),
    ),
    length("tail_B", "Tail channel bottom width", required=False, help="As the approach if left."),
    Dimension(
        key="tail_m",
        label="Tail channel side slope",
        unit="",
        kind="slope",
        required=False,
        low=0.0,
        high=10.0,
        aliases=("tail_z",),
    ),
    length(
        "p2",
        "Sill height over the tail bed",
        required=False,
        low_open=False,
        help="As p if left.",
    ),
)


def refuse_wide_throat(key: str, width_m: float, approach: Section, sill_m: float) -> None:
    """Refuse a throat wider than the approach where it begins.

    Raises
    ------
    BadInput
    """
    if isinstance(approach, Trapezoid):
        there = float(approach.top_width(np.asarray(sill_m)))
        if width_m > there + 1e-9:
            raise BadInput(
                key,
                f"{width_m:g}",
                f"a throat cannot be wider than its approach, {there:g} m at the sill",
                "Check the throat's width and the approach's B and B_m.",
            )


def ramp_loss(slope: float) -> float:
    """Return xi of an exit ramp of `slope` horizontal to 1 vertical; 0 is an abrupt end."""
    if slope == 0:
        return ABRUPT_LOSS
    xi = (log10(114.59 * atan(1.0 / slope)) - 1.165) / 1.742
    return min(max(xi, 0.0), ABRUPT_LOSS)


def rule_of_thumb(slope: float, abrupt: float, ceiling: float = 1.0) -> float:
    """Return the rule-of-thumb limit for an exit ramp; `abrupt` below 1 in 3."""
    for ramp, limit in _RULE_BY_RAMP:
        if slope >= ramp:
            return min(limit, ceiling)
    return abrupt


@dataclass(frozen=True)
class Tail:
    """Channel below the exit, and how the exit opens into it."""

    section: Section
    sill_m: float
    loss: float

    @staticmethod
    def of(dims: Dims, approach: Section) -> "Tail":
        """Return the tail stated in the dimensions; the approach stands in for what is not."""
        section = approach
        if "tail_B" in dims:
            section = Trapezoid(float(dims["tail_B"]), float(dims.get("tail_m", 0.0)))
        sill = float(dims.get("p2", dims["p"]))
        return Tail(section, sill, ramp_loss(float(dims["exit_slope"])))


def energy_limit(
    tail: Tail, discharge_m3s: Floats, total_head_m: Floats, kept: Floats, control_velocity: Floats
) -> tuple[Floats, Floats]:
    """Return the modular limit by the energy method as H2/H1, and the tail depth over the sill.

    Parameters
    ----------
    discharge_m3s, total_head_m : arrays
        Free flow, m3/s, and total head H1 over the sill, m.
    kept : array
        Share of H1 left at the control, Cd^(1/u).
    control_velocity : array, m/s

    Returns
    -------
    (array, array)
        H2/H1 between 0 and 1, and h2, m: the greatest tail depth over the sill.
    """
    energy = total_head_m * kept
    low, high = np.full_like(energy, 1e-6), tail.sill_m + energy
    speed_head = np.zeros_like(energy)
    for _ in range(50):  # halving: the loss falls as the tail deepens, so the gap only grows
        depth = 0.5 * (low + high)
        area = tail.section.area(depth)
        speed = discharge_m3s / area
        speed_head = speed * speed / (2.0 * G)
        lost = tail.loss * (control_velocity - speed) ** 2 / (2.0 * G)
        gap = depth - tail.sill_m + speed_head + lost - energy
        shooting = speed * speed * tail.section.top_width(depth) > G * area
        deeper = (gap < 0) | shooting
        low, high = np.where(deeper, depth, low), np.where(deeper, high, depth)
    h2 = depth - tail.sill_m
    ratio = np.clip((h2 + speed_head) / total_head_m, 0.0, 1.0)
    return ratio, np.maximum(h2, 0.0)


def iso_flags(
    head_m: Floats,
    L: float,
    width_m: float,
    area_ratio: Floats,
    froude: Floats,
    head_to_width: float | None,
) -> Flags:
    """Return flags for the limits of ISO 4359.

    Rectangular limits read in Morgenschweis 2010, except 0.05 L and the Froude number; others
    from memory. 0.05 m and 0.05 L <= h <= 2 m; width at least 0.10 m; h/L <= 0.50, to 0.67 with
    2 % added; h/b <= 3 (rectangle); throat area at most 0.7 of the approach; Fr1 <= 0.5.
    """
    fast = froude > MAX_FROUDE
    wide_open = area_ratio > MAX_AREA_RATIO
    outside = (head_m < max(0.05, 0.05 * L)) | (head_m > min(2.0, ISO_EXTENDED_H_L * L))
    outside |= fast | wide_open
    if head_to_width is not None:
        outside |= head_m > head_to_width
    extended = (head_m > ISO_FULL_H_L * L) & (head_m <= ISO_EXTENDED_H_L * L)
    flags = fast * np.int64(Flag.APPROACH_TOO_FAST)
    flags |= wide_open * np.int64(Flag.GEOMETRY_OUTSIDE_LIMITS)
    flags |= extended * np.int64(Flag.ISO_EXTENDED_RANGE)
    if width_m < 0.10:
        outside = np.ones_like(outside)
        flags |= np.int64(Flag.GEOMETRY_OUTSIDE_LIMITS)
    flags |= outside * np.int64(Flag.OUTSIDE_ISO_LIMITS)
    return flags


def head_slope(
    found: Controlled, approach_width: Floats, to_total: Floats, flowing: NDArray[np.bool_]
) -> Floats:
    """Return d ln Q / dh, 1/m, where H = h + Q^2 / (2 g A1^2).

    dH/dh = (1 - Q^2 T1 / g A1^3) / (1 - Q Q' / g A1^2), Q' = dQ/dH = `to_total` (derived). The
    second bracket nears 0 where control is about to be lost and is held at 0.001.
    """
    area = np.maximum(found.approach_area_m2, 1e-12)
    flow = np.where(flowing, found.discharge_m3s, 0.0)
    pull = flow / (G * area * area)
    rise = (1.0 - flow * pull * approach_width / area) / np.maximum(1.0 - pull * to_total, 1e-3)
    return np.divide(to_total * rise, flow, out=np.zeros_like(flow), where=flow > 0)
