"""What every flow section can say of itself at a depth.

Depth ``y`` is measured from the lowest point of the section, in metres. Every method takes and
returns arrays of float64; a depth below zero is a dry section.
"""

from abc import ABC, abstractmethod
from typing import ClassVar

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats


class Section(ABC):
    """A prismatic section."""

    newton_steps: ClassVar[int] = 3
    """Steps that take `critical_guess` to rounding level; 1 polishes an exact one."""

    @property
    def soffit_m(self) -> float:
        """Depth at which a closed section is full, m; infinite for an open one."""
        return float("inf")

    @abstractmethod
    def area(self, y: Floats) -> Floats:
        """Flow area, m2."""

    @abstractmethod
    def top_width(self, y: Floats) -> Floats:
        """Width of the water surface, m."""

    @abstractmethod
    def wetted_perimeter(self, y: Floats) -> Floats:
        """Length of wetted bed and walls, m."""

    @abstractmethod
    def width_slope(self, y: Floats) -> Floats:
        """Return the derivative of the top width by depth, dimensionless."""

    @abstractmethod
    def perimeter_slope(self, y: Floats) -> Floats:
        """Return the derivative of the wetted perimeter by depth, dimensionless."""

    def terms(self, y: Floats) -> tuple[Floats, Floats, Floats]:
        """Return area, top width and width slope together; a shape may share the work."""
        return self.area(y), self.top_width(y), self.width_slope(y)

    @abstractmethod
    def critical_guess(self, energy_m: Floats) -> Floats:
        """Return a first depth for critical flow at an energy, m; exact for straight sides."""

    def narrowed(self, displacement_m: float) -> "Section":
        """Section left to the flow inside a displacement thickness on its walls.

        Raises
        ------
        BadInput
            When the shape has no published rule for it.
        """
        raise BadInput(
            "section",
            type(self).__name__,
            "no rule for a displacement thickness in this shape",
            "Use a rectangle, a trapezoid or a U",
        )


def above_zero(key: str, value: float) -> None:
    """Raise BadInput unless the dimension is above 0."""
    if not (np.isfinite(value) and value > 0):
        raise BadInput(key, value, "must be above 0", f"Give {key} in metres")


def at_least_zero(key: str, value: float) -> None:
    """Raise BadInput when the dimension is below 0."""
    if not (np.isfinite(value) and value >= 0):
        raise BadInput(key, value, "must not be below 0", f"Give {key}")


def left_over(key: str, value: float, loss: float) -> float:
    """Return a width less the boundary layers on its walls; BadInput when nothing is left."""
    if value <= loss:
        raise BadInput(
            key,
            value,
            f"the boundary layers on the walls take {loss:.4f} m",
            f"Use a larger {key} or a shorter throat",
        )
    return value - loss
