"""A section of straight pieces between surveyed points, such as a throat with ledges."""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.channel.shape import Section


class Strips(NamedTuple):
    """A compound section cut at every level where its outline turns: one row a strip."""

    level: Floats  # level of the strip's foot, m
    top: Floats  # level of its head, m; infinite for the last
    area: Floats  # area below the foot, m2
    width: Floats  # width just above the foot, m
    slope: Floats  # widening by depth inside the strip
    perimeter: Floats  # wetted perimeter just above the foot, m
    perimeter_slope: Floats


@dataclass(frozen=True)
class Compound(Section):
    """Straight pieces between surveyed points, vertical walls above the two ends.

    ``points`` are (offset, level) pairs in metres from one bank to the other. Hollows are taken
    to fill at the common water level. Depth counts from the lowest point.
    """

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if len(self.points) < 3:
            raise BadInput("points", len(self.points), "a section needs 3 points", "Add points")
        outline = np.asarray(self.points, float)
        if not np.all(np.isfinite(outline)):
            raise BadInput("points", self.points, "offsets and levels are numbers", "Correct them")
        if np.any(np.diff(outline[:, 0]) < 0):
            raise BadInput(
                "points", self.points, "offsets run from one bank to the other", "Sort the points"
            )
        if outline[-1, 0] <= outline[0, 0]:
            raise BadInput("points", self.points, "a section needs a width", "Correct the offsets")

    @cached_property
    def strips(self) -> Strips:
        outline = np.asarray(self.points, float)
        x, z = outline[:, 0], outline[:, 1] - outline[:, 1].min()
        level = np.unique(z)
        low, high = np.minimum(z[:-1], z[1:]), np.maximum(z[:-1], z[1:])
        run, rise = np.diff(x), high - low
        length = np.hypot(run, rise)
        flat = rise == 0
        per_rise = np.where(flat, 0.0, 1.0 / np.where(flat, 1.0, rise))
        # one row a strip, one column a piece of the outline
        foot = level[:, None]
        share = np.where(flat, foot >= low, np.clip((foot - low) * per_rise, 0.0, 1.0))
        growing = (foot >= low) & (foot < high)
        width = share @ run
        slope = growing @ (run * per_rise)
        # beyond a bank's end point the wall goes on upwards
        walls = (level >= z[0]).astype(float) + (level >= z[-1])
        wall_height = np.maximum(level - z[0], 0.0) + np.maximum(level - z[-1], 0.0)
        height = np.diff(level)
        slabs = height * (width[:-1] + 0.5 * slope[:-1] * height)
        return Strips(
            level=level,
            top=np.append(level[1:], np.inf),
            area=np.concatenate(([0.0], np.cumsum(slabs))),
            width=width,
            slope=slope,
            perimeter=share @ length + wall_height,
            perimeter_slope=growing @ (length * per_rise) + walls,
        )

    def _strip(self, y: Floats) -> tuple[NDArray[np.intp], Floats]:
        d = np.maximum(y, 0.0)
        k = np.searchsorted(self.strips.level, d, side="right") - 1
        k = np.clip(k, 0, len(self.strips.level) - 1)
        return k, d - self.strips.level[k]

    def area(self, y: Floats) -> Floats:
        k, t = self._strip(y)
        s = self.strips
        return s.area[k] + t * (s.width[k] + 0.5 * s.slope[k] * t)

    def top_width(self, y: Floats) -> Floats:
        k, t = self._strip(y)
        return self.strips.width[k] + self.strips.slope[k] * t

    def wetted_perimeter(self, y: Floats) -> Floats:
        k, t = self._strip(y)
        return self.strips.perimeter[k] + self.strips.perimeter_slope[k] * t

    def width_slope(self, y: Floats) -> Floats:
        return self.strips.slope[self._strip(y)[0]]

    def perimeter_slope(self, y: Floats) -> Floats:
        return self.strips.perimeter_slope[self._strip(y)[0]]

    def critical_guess(self, energy_m: Floats) -> Floats:
        return energy_m * 0.7
