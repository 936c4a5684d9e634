"""Sizes to try where a family has no list of its own: what a workshop builds, fitted to a race.

Widths, lengths and angles are steps a joiner or welder would choose (common practice); heights of
crest and widths of approach are left to the race. A family with fixed sizes tries every one.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np

from app.hydraulics.channel.at_flow import critical_at
from app.hydraulics.channel.sections import Section, Trapezoid, UShape
from app.hydraulics.families.registry import DEVICES
from app.hydraulics.structure.device import Dims, Family

WIDTHS_M = (
    0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0,
    6.0, 8.0, 10.0,
)  # fmt: skip
ANGLES_DEG = (28.07, 45.0, 53.13, 60.0, 90.0, 100.0)
SIDE_SLOPES = (0.5, 1.0)
LENGTH_STEP_M = 0.05
NARROWEST_SHARE = 0.05  # of the race: narrower ones are not worth a row


@dataclass(frozen=True)
class Trial:
    """A structure to try: family, dimensions but those the race fills in, and how it is called.

    `unsuited` tells why it cannot stand in an open race at all; empty where it can.
    """

    family: Family
    dims: Dims
    label: str
    unsuited: str = ""


def trials(race: Trapezoid, most_m3s: float) -> list[Trial]:
    """Return every family and size to try in a race whose greatest flow is `most_m3s`, m3/s."""
    found: list[Trial] = []
    for family in DEVICES.values():
        for size, label in family.sizes.items():
            preset = family.presets.get(size, {})
            pipe = preset.get("approach") == "circle"
            why = "is made for a round pipe; this race is open" if pipe else ""
            found.append(Trial(family, {"size": size}, label, why))
        own = _OWN.get(family.key)
        if own is not None:
            found += [Trial(family, dims, label, why) for dims, label, why in own(race, most_m3s)]
    return found


Rows = Iterator[tuple[Dims, str, str]]


def _widths(race: Trapezoid, most: float = 1.0) -> list[float]:
    """Return widths up to a share of the race's bottom; the race's own where it is the whole."""
    top = most * race.b
    least = NARROWEST_SHARE * top
    return [w for w in WIDTHS_M if least <= w <= top + 1e-9]


def _throat_length(throat: Section, most_m3s: float) -> float:
    """Return a length of twice the head at the greatest flow, to 50 mm.

    ISO 4359: h/L at most 0.5 (read in Morgenschweis 2010); a twentieth more for the coefficient.
    """
    depth = critical_at(throat, most_m3s)
    head = 1.05 * float(depth + 0.5 * throat.area(depth) / throat.top_width(depth))
    return max(round(ceil(2.0 * head / LENGTH_STEP_M) * LENGTH_STEP_M, 3), 2 * LENGTH_STEP_M)


def _rect(race: Trapezoid, most: float) -> Rows:
    for b in _widths(race, 0.9):
        length = _throat_length(Trapezoid(b, 0.0), most)
        yield {"b": b, "L": length}, f"throat {b:g} m wide, {length:g} m long", ""


def _trap(race: Trapezoid, most: float) -> Rows:
    for m in SIDE_SLOPES:
        for b in _widths(race, 0.9):
            length = _throat_length(Trapezoid(b, m), most)
            label = f"throat {b:g} m wide, sides {m:g} to 1, {length:g} m long"
            yield {"b": b, "m": m, "L": length}, label, ""


def _u(race: Trapezoid, most: float) -> Rows:
    for round_m in _widths(race, 0.9):
        length = _throat_length(UShape(round_m), most)
        yield {"D": round_m, "L": length}, f"throat {round_m:g} m round, {length:g} m long", ""


def _v_notch(race: Trapezoid, most: float) -> Rows:
    for angle in ANGLES_DEG:
        yield {"theta": angle}, f"{angle:g} degrees", ""


def _notch(race: Trapezoid, most: float) -> Rows:
    for b in _widths(race, 0.8):
        yield {"b": b}, f"notch {b:g} m wide", ""


def _leans(race: Trapezoid) -> str:
    return "" if race.m == 0 else "needs upright walls from the crest to the gauge; the race leans"


def _full_width(race: Trapezoid, most: float) -> Rows:
    yield {"b": float(np.round(race.b, 3)) or 0.02}, "plate across the race", _leans(race)


def _block(race: Trapezoid, most: float) -> Rows:
    for share in (2.0, 3.0, 4.0):  # of the greatest head
        length = _throat_length(Trapezoid(max(race.b, 0.05), 0.0), 0.5**1.5 * share**1.5 * most)
        yield {"L": length}, f"across the race, {length:g} m long", _leans(race)


def _ridge(race: Trapezoid, most: float) -> Rows:
    yield {}, "across the race", _leans(race)


def _orifice(race: Trapezoid, most: float) -> Rows:
    why = "works drowned, by the difference of two heads: its size follows from the fall allowed"
    yield {}, "opening under water", why


def _cipolletti(race: Trapezoid, most: float) -> Rows:
    for b in _widths(race, 0.8):
        yield {"L": b}, f"crest {b:g} m long", ""


def _once(race: Trapezoid, most: float) -> Rows:
    yield {}, "as tested", ""


_OWN: dict[str, Callable[[Trapezoid, float], Rows]] = {
    "long_throat_rect": _rect,
    "long_throat_trap": _trap,
    "long_throat_u": _u,
    "v60": _once,
    "v_notch": _v_notch,
    "rect_weir": _notch,
    "full_width_weir": _full_width,
    "cipolletti": _cipolletti,
    "broad_crested": _block,
    "round_nose": _block,
    "triangular_profile": _ridge,
    "orifice": _orifice,
}
