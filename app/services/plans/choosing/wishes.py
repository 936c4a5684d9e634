"""What else is wished of a structure: fish, debris and silt, carrying by hand; with reasons.

Rules of thumb, all common practice or from memory: they bring a structure to be looked at again,
and never forbid it. Local rules on fish come first.
"""

import math
from dataclasses import dataclass

from app.hydraulics.install.sill import SillChoice
from app.hydraulics.structure.device import Device
from app.hydraulics.structure.outline import View

FISH_FALL_M = 0.10  # common practice: small fish pass little more; local rules come first
DEBRIS_WIDTH_M = 0.30  # common practice: what is narrower catches branches and leaves
SILT_CREST_M = 0.05  # common practice: a higher sill keeps back what rolls along the bed
SHELL_KG_M2 = 13.0  # 6 mm glass-reinforced plastic, 1600 kg/m3, a third for ribs (from memory)
PLATE_KG_M2 = 39.0  # 5 mm steel plate, 7850 kg/m3 (from memory)
LIFT_KG = 25.0  # of one person; common practice
CARRIED_BY = 4  # persons; more need a machine or parts


@dataclass(frozen=True)
class Wish:
    """A thing that may be wished: its key, and how it is asked."""

    key: str
    question: str
    hint: str


WISHES = (
    Wish("fish", "Fish must pass", f"A fall over {FISH_FALL_M * 1000:.0f} mm is told."),
    Wish("debris", "Debris or silt comes down",
         f"Openings under {DEBRIS_WIDTH_M * 1000:.0f} mm and crests over the bed are told."),
    Wish("carried", "It must be carried in by hand",
         f"More than {CARRIED_BY} persons at {LIFT_KG:.0f} kg each are told."),
)  # fmt: skip


@dataclass(frozen=True)
class Carried:
    """About how heavy it is, kg, and how many lift it; None where it is built on the spot."""

    weight_kg: float | None
    persons: int | None


def carried(device: Device) -> Carried:
    """Return the weight of a shell or a plate, good to a half (derived from the outline)."""
    outline = device.outline()
    views = {} if outline is None else {view.title.split(",")[0]: view for view in outline.views}
    if "Plate" in views:
        across, tall = _extent(views["Plate"])
        weight = PLATE_KG_M2 * across * tall
    elif device.family.sizes and {"Plan", "Long section"} <= set(views):
        along, across = _extent(views["Plan"])
        _, tall = _extent(views["Long section"])
        weight = SHELL_KG_M2 * along * (across + 2.0 * tall)
    else:
        return Carried(None, None)
    return Carried(weight, math.ceil(weight / LIFT_KG))


def _extent(view: View) -> tuple[float, float]:
    points = [p for line in view.lines for p in line.points]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return max(xs) - min(xs), max(ys) - min(ys)


def fall_m(choice: SillChoice) -> float:
    """Return the greatest fall of the water surface over the structure, m."""
    return float((choice.upstream_level_m - choice.tail_level_m).max())


def wished(
    wishes: frozenset[str], choice: SillChoice, narrowest_m: float | None, weight: Carried
) -> list[str]:
    """Return what speaks against a structure, by the wishes that are asked for."""
    found = []
    fall = fall_m(choice)
    if "fish" in wishes and fall > FISH_FALL_M:
        found.append(f"fish: the water falls {fall:.2f} m over it (common practice: at most "
                     f"{FISH_FALL_M:.2f} m; ask who must be asked)")  # fmt: skip
    if "debris" in wishes:
        if narrowest_m is not None and narrowest_m < DEBRIS_WIDTH_M:
            found.append(f"debris: the opening is {narrowest_m:.2f} m wide and catches it")
        if choice.crest_level_m > SILT_CREST_M:
            found.append(f"silt: a crest {choice.crest_level_m:.2f} m over the bed keeps it back")
    if "carried" in wishes:
        if weight.weight_kg is None or weight.persons is None:
            found.append("carrying: built on the spot, or its weight is not known")
        elif weight.persons > CARRIED_BY:
            found.append(f"carrying: about {weight.weight_kg:.0f} kg, {weight.persons} persons")
    return found
