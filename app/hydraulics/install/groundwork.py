"""Concrete, uplift, wall pressure and seepage of a small structure: totals and checks.

They do not design or certify. Structural, flotation and seepage questions of any weight belong to
a licensed person, and local codes go before every figure here. Public functions (SI):

    concrete_volume_m3(parts_m3, *, void_m3=0, allowance=0.10) -> Concrete; parts {name: m3}
    uplift(*, length_m, width_m, depth_m, mass_kg, density_kg_m3=1000, hold_down_kn=0,
           target=1.25) -> Uplift; density 2400 for wet concrete
    concrete_to_hold_m3(*, length_m, width_m, depth_m, mass_kg, target=1.25) -> float
    ballast_to_hold_kg(*, length_m, width_m, depth_m, mass_kg, target=1.25) -> float
    lift_pressure(lift_m, *, density_kg_m3=2400) -> LiftPressure
    weighted_creep(*, verticals_m, horizontals_m, head_m, soil=None) -> Creep; soils CREEP_RATIOS
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.errors import BadInput
from app.hydraulics.base.result import Result
from app.hydraulics.base.units import DUST, WATER_KG_M3, G

CONCRETE_KG_M3 = 2400.0
TARGET = 1.25  # weight over uplift; common practice
BAG_M3 = 0.0115
"""Concrete from one 25 kg bag of dry mix; common practice, 0.011 to 0.012 m3."""

CREEP_RATIOS: dict[str, float] = {
    "very fine sand or silt": 8.5,
    "fine sand": 7.0,
    "medium sand": 6.0,
    "coarse sand": 5.0,
    "fine gravel": 4.0,
    "soft clay": 3.0,
    "medium clay": 2.0,
    "hard clay": 1.8,
}
"""Least weighted creep ratio by soil; Lane 1935, Trans. ASCE 100, from memory."""


@dataclass(frozen=True)
class Concrete(Result):
    """Concrete in place, to order, and in 25 kg bags."""

    volume_m3: float
    order_m3: float
    bags: int


@dataclass(frozen=True, kw_only=True)
class Uplift(Result):
    """Uplift of a box in water or wet concrete; net is what must still be held down."""

    uplift_kn: float
    weight_kn: float
    net_kn: float
    factor: float
    target: float
    holds: bool
    word: str


@dataclass(frozen=True)
class LiftPressure(Result):
    """Side pressure of a lift of wet concrete taken as a fluid."""

    pressure_kpa: float
    force_kn_per_m: float


@dataclass(frozen=True)
class Creep(Result):
    """Weighted creep ratio and the soils it satisfies."""

    ratio: float
    needed: float
    holds: bool | None
    enough_for: tuple[str, ...]
    word: str


def concrete_volume_m3(
    parts_m3: Mapping[str, float], *, void_m3: float = 0.0, allowance: float = 0.10
) -> Concrete:
    """Total slab, walls, wings and cut-offs less the void, and what to order.

    Ordering 10 % more is common practice.
    """
    volume = sum(parts_m3.values()) - void_m3
    if volume <= 0.0 or min(parts_m3.values(), default=0.0) < 0.0:
        raise BadInput("volume", volume, "concrete has a volume", "Check the parts and the void.")
    order = volume * (1.0 + allowance)
    return Concrete(volume, order, math.ceil(order / BAG_M3 - DUST))


def uplift(
    *,
    length_m: float,
    width_m: float,
    depth_m: float,
    mass_kg: float,
    density_kg_m3: float = WATER_KG_M3,
    hold_down_kn: float = 0.0,
    target: float = TARGET,
) -> Uplift:
    """Weigh a box against the water, or the wet concrete, that it displaces (Archimedes).

    Parameters
    ----------
    length_m, width_m, depth_m : outside plan of the box and depth of fluid on its sides
    mass_kg, hold_down_kn : what resists: the box, and straps, pins or ballast
    density_kg_m3 : of the fluid; 2400 for wet concrete
    target : factor of safety wanted; 1.2 to 1.3 is common practice
    """
    force = (
        _positive("density_kg_m3", density_kg_m3)
        * G
        * _positive("length_m", length_m)
        * _positive("width_m", width_m)
        * _positive("depth_m", depth_m)
        / 1000.0
    )
    weight = _not_negative("mass_kg", mass_kg) * G / 1000.0
    resisting = weight + _not_negative("hold_down_kn", hold_down_kn)
    factor = resisting / force
    holds = factor >= target - DUST
    word = "holds" if holds else "floats" if factor < 1.0 else "too little in hand"
    return Uplift(
        uplift_kn=force,
        weight_kn=weight,
        net_kn=force - resisting,
        factor=factor,
        target=target,
        holds=holds,
        word=word,
    )


def concrete_to_hold_m3(
    *, length_m: float, width_m: float, depth_m: float, mass_kg: float, target: float = TARGET
) -> float:
    """Return the concrete, fixed beneath and under water, that holds the empty box; m3."""
    lack = target * WATER_KG_M3 * length_m * width_m * depth_m - mass_kg
    return max(lack, 0.0) / (CONCRETE_KG_M3 - target * WATER_KG_M3)


def ballast_to_hold_kg(
    *, length_m: float, width_m: float, depth_m: float, mass_kg: float, target: float = TARGET
) -> float:
    """Return the dry ballast inside the box that holds it in water; kg."""
    return max(target * WATER_KG_M3 * length_m * width_m * depth_m - mass_kg, 0.0)


def lift_pressure(lift_m: float, *, density_kg_m3: float = CONCRETE_KG_M3) -> LiftPressure:
    """Return the pressure at the foot of a wet lift and the force on each metre of wall."""
    pressure = density_kg_m3 * G * _positive("lift_m", lift_m) / 1000.0
    return LiftPressure(pressure, pressure * lift_m / 2.0)


def weighted_creep(
    *,
    verticals_m: Sequence[float],
    horizontals_m: Sequence[float],
    head_m: float,
    soil: str | None = None,
) -> Creep:
    """Return the weighted creep ratio: verticals plus a third of horizontals, over the head.

    References
    ----------
    Lane 1935, Security from under-seepage, Trans. ASCE 100 (from memory).
    """
    if soil is not None and soil not in CREEP_RATIOS:
        raise BadInput("soil", soil, "no such soil", f"Choose one of {', '.join(CREEP_RATIOS)}.")
    ratio = (sum(verticals_m) + sum(horizontals_m) / 3.0) / _positive("head_m", head_m)
    enough = tuple(name for name, least in CREEP_RATIOS.items() if ratio >= least)
    needed = math.nan if soil is None else CREEP_RATIOS[soil]
    holds = None if soil is None else ratio >= needed
    word = "soil not given" if holds is None else "enough" if holds else "too short a path"
    return Creep(ratio, needed, holds, enough, word)


def _positive(field: str, value: float) -> float:
    if not value > 0.0:
        raise BadInput(field, value, "must be more than zero", "Measure it and give metres.")
    return value


def _not_negative(field: str, value: float) -> float:
    if not value >= 0.0:
        raise BadInput(field, value, "must not be below zero", "Give 0 when there is none.")
    return value
