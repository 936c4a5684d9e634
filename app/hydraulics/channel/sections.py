"""Shapes of a flow section, and a factory by name.

Formulas are plane geometry; the letters are those of Chow 1959, *Open-Channel Hydraulics*, table
2-1 (from memory). Sides slope ``m`` horizontal to 1 vertical.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.channel.compound import Compound as Compound
from app.hydraulics.channel.shape import Section as Section
from app.hydraulics.channel.shape import above_zero, at_least_zero, left_over

SAME_PARABOLA = 0.01
"""A focal distance and a width at a height that agree within this share are the same."""


@dataclass(frozen=True)
class Trapezoid(Section):
    """Level bottom ``b`` m wide between sides sloping ``m`` to 1."""

    newton_steps = 1

    b: float
    m: float

    def __post_init__(self) -> None:
        at_least_zero("b", self.b)
        at_least_zero("m", self.m)
        if self.b == 0 and self.m == 0:
            raise BadInput("b", self.b, "a section needs a width", "Give b or m above 0")

    def area(self, y: Floats) -> Floats:
        d = np.maximum(y, 0.0)
        area: Floats = d * (self.b + self.m * d)
        return area

    def top_width(self, y: Floats) -> Floats:
        return self.b + 2.0 * self.m * np.maximum(y, 0.0)

    def wetted_perimeter(self, y: Floats) -> Floats:
        return self.b + 2.0 * math.sqrt(1.0 + self.m**2) * np.maximum(y, 0.0)

    def width_slope(self, y: Floats) -> Floats:
        return np.full_like(y, 2.0 * self.m)

    def perimeter_slope(self, y: Floats) -> Floats:
        return np.full_like(y, 2.0 * math.sqrt(1.0 + self.m**2))

    def critical_guess(self, energy_m: Floats) -> Floats:
        # y + A/2T = H is the quadratic 5 m y^2 + (3 b - 4 m H) y - 2 b H = 0
        if self.m == 0:
            return energy_m * (2.0 / 3.0)
        half = 4.0 * self.m * energy_m - 3.0 * self.b
        root = np.sqrt(half * half + 40.0 * self.m * self.b * energy_m)
        # the branch without cancellation on either side of half = 0
        return np.where(
            half > 0,
            (half + root) / (10.0 * self.m),
            4.0 * self.b * energy_m / np.where(half > 0, 1.0, root - half),
        )

    def narrowed(self, displacement_m: float) -> "Section":
        """Bottom less 2 d [sqrt(1 + m^2) - m] (ISO 4359, from memory)."""
        loss = 2.0 * displacement_m * (math.sqrt(1.0 + self.m**2) - self.m)
        return Trapezoid(left_over("b", self.b, loss), self.m)


class Rectangle(Trapezoid):
    """Vertical walls ``b`` m apart."""

    def __init__(self, b: float) -> None:
        above_zero("b", b)
        super().__init__(b, 0.0)


class Triangle(Trapezoid):
    """V with sides sloping ``m`` to 1."""

    def __init__(self, m: float) -> None:
        above_zero("m", m)
        super().__init__(0.0, m)


@dataclass(frozen=True)
class Parabola(Section):
    """Parabola x^2 = 4 f y with focal distance ``f`` m; the top width goes as sqrt(y)."""

    newton_steps = 1

    f: float

    def __post_init__(self) -> None:
        above_zero("f", self.f)

    def area(self, y: Floats) -> Floats:
        d = np.maximum(y, 0.0)
        return (8.0 / 3.0) * np.sqrt(self.f * d) * d

    def top_width(self, y: Floats) -> Floats:
        return 4.0 * np.sqrt(self.f * np.maximum(y, 0.0))

    def wetted_perimeter(self, y: Floats) -> Floats:
        x = 2.0 * np.sqrt(self.f * np.maximum(y, 0.0))
        r = x / (2.0 * self.f)
        return x * np.sqrt(1.0 + r * r) + 2.0 * self.f * np.arcsinh(r)

    def width_slope(self, y: Floats) -> Floats:
        return 2.0 * np.sqrt(self.f / np.maximum(y, 1e-12))

    def perimeter_slope(self, y: Floats) -> Floats:
        return 2.0 * np.sqrt(1.0 + self.f / np.maximum(y, 1e-12))

    def critical_guess(self, energy_m: Floats) -> Floats:
        return energy_m * 0.75


@dataclass(frozen=True)
class Circle(Section):
    """Round pipe of inside diameter ``D`` m. Above its soffit it stays full."""

    D: float

    def __post_init__(self) -> None:
        above_zero("D", self.D)

    @property
    def soffit_m(self) -> float:
        return self.D

    def terms(self, y: Floats) -> tuple[Floats, Floats, Floats]:
        # with r = y / D, sin and cos of the half angle are plain roots of r; the arcsine keeps
        # its digits in a shallow pipe, where arccos(1 - 2 r) loses them
        r = np.clip(y / self.D, 0.0, 1.0)
        root = np.sqrt(r)
        half_sine = root * np.sqrt(1.0 - r)
        cosine = 1.0 - 2.0 * r
        angle = 2.0 * np.arcsin(root)
        area = self.D**2 / 4.0 * (angle - 2.0 * half_sine * cosine)
        return area, 2.0 * self.D * half_sine, cosine / np.maximum(half_sine, 1e-12)

    def area(self, y: Floats) -> Floats:
        return self.terms(y)[0]

    def top_width(self, y: Floats) -> Floats:
        return self.terms(y)[1]

    def width_slope(self, y: Floats) -> Floats:
        return self.terms(y)[2]

    def wetted_perimeter(self, y: Floats) -> Floats:
        return 2.0 * self.D * np.arcsin(np.sqrt(np.clip(y / self.D, 0.0, 1.0)))

    def perimeter_slope(self, y: Floats) -> Floats:
        r = np.clip(y / self.D, 0.0, 1.0)
        return 1.0 / np.maximum(np.sqrt(r * (1.0 - r)), 1e-12)

    def critical_guess(self, energy_m: Floats) -> Floats:
        # fitted here to exact roots (0.05 %); near the soffit T = A / 2(H - y) leaves a thin gap
        r = energy_m / self.D
        s = r * r
        depth = r * (0.75036 - r * (0.0330 + s * (0.0261 + 0.00266 * s)))
        if np.any(r > 1.45):
            rough = 1.0 - (np.pi / 16.0 / np.maximum(r - 0.9, 0.5)) ** 2
            depth = np.where(r < 1.45, depth, 1.0 - (np.pi / 16.0 / (r - rough)) ** 2)
        guess: Floats = self.D * depth
        return guess


@dataclass(frozen=True)
class UShape(Section):
    """Half circle of diameter ``D`` m under vertical walls."""

    D: float

    def __post_init__(self) -> None:
        above_zero("D", self.D)

    @cached_property
    def _round(self) -> Circle:
        return Circle(self.D)

    def _split(self, y: Floats) -> tuple[Floats, Floats]:
        d = np.maximum(y, 0.0)
        bowl = np.minimum(d, self.D / 2.0)
        return bowl, d - bowl

    def terms(self, y: Floats) -> tuple[Floats, Floats, Floats]:
        bowl, above = self._split(y)
        area, width, slope = self._round.terms(bowl)
        return area + self.D * above, width, slope

    def area(self, y: Floats) -> Floats:
        return self.terms(y)[0]

    def top_width(self, y: Floats) -> Floats:
        return self.terms(y)[1]

    def width_slope(self, y: Floats) -> Floats:
        return self.terms(y)[2]

    def wetted_perimeter(self, y: Floats) -> Floats:
        bowl, above = self._split(y)
        return self._round.wetted_perimeter(bowl) + 2.0 * above

    def perimeter_slope(self, y: Floats) -> Floats:
        return self._round.perimeter_slope(self._split(y)[0])

    def critical_guess(self, energy_m: Floats) -> Floats:
        # above the bowl E = y + A/2T is linear: exact there
        walls = (2.0 * energy_m + self.D * (0.5 - np.pi / 8.0)) / 3.0
        return np.where(walls > self.D / 2.0, walls, self._round.critical_guess(energy_m))

    def narrowed(self, displacement_m: float) -> "Section":
        """Diameter less 2 d (ISO 4359, from memory)."""
        return UShape(left_over("D", self.D, 2.0 * displacement_m))
