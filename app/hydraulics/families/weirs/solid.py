"""What solid weirs across a channel share: discharge by total head, flags, picture.

All have the form Q = c (2/3)^1.5 g^0.5 b_e (H - d)^1.5 with H = h + v^2 / 2g of the approach, c a
constant of the profile, b_e and d the width and head that the boundary layer leaves.
"""

import numpy as np

from app.hydraulics.base.arrays import Bools, Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel import critical
from app.hydraulics.channel.sections import Rectangle
from app.hydraulics.families.long_throat.shared import head_slope
from app.hydraulics.structure.bounds import FROUDE_LIMIT
from app.hydraulics.structure.device import (
    Device,
    Dimension,
    Dims,
    Family,
    Flag,
    range_flags,
)
from app.hydraulics.structure.outline import Line, Measure, Outline, Part, View, walls
from app.hydraulics.structure.states import FreeFlow
from app.hydraulics.structure.total_head import ByTotalHead

IDEAL = (2.0 / 3.0) ** 1.5 * G**0.5
UPSTREAM_OF_CREST = 3.0
"""Greatest heads of race drawn up- and downstream; nothing is measured there."""


class SolidWeir(Device, ByTotalHead):
    """A weir from wall to wall; subclasses state the profile and its limits."""

    factor: float = 1.0
    rule_limit: float = 0.66
    least_width_m: float = 0.30
    least_height_m: float = 0.15
    head_to_height: float = 1.5

    def __init__(self, family: Family, dims: Dims, least_m: float, most_m: float) -> None:
        self.b, self.p = float(dims["b"]), float(dims["p"])
        self.loss_m = self.head_loss()
        self.width_m = self.b - self.width_loss()
        self.approach = Rectangle(self.b)
        super().__init__(family, dims, min(least_m, 0.5 * most_m), most_m)
        self.head_floor_m = self.loss_m
        outside = self.b < self.least_width_m or self.p < self.least_height_m
        self.geometry_flags = int(Flag.GEOMETRY_OUTSIDE_LIMITS) if outside else 0

    def head_loss(self) -> float:
        """Return what the boundary layer takes off the head, m."""
        return 0.0

    def width_loss(self) -> float:
        """Return what it takes off the width, m."""
        return 0.0

    def outside_iso(self, head_m: Floats) -> Bools:
        """Tell where a limit of the standard beside the range of heads is passed."""
        outside: Bools = head_m > self.head_to_height * self.p
        return outside

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return discharge, m3/s; NaN with NO_CONTROL where the approach is too fast to control.

        `detail` carries coefficient (of the ideal weir of the full width), velocity_coefficient,
        total_head_m and froude.
        """
        d = self.loss_m
        found = critical.with_approach(
            Rectangle(self.width_m), self.approach, head_m - d, self.p + d,
            lambda H: np.full(np.shape(H), self.factor),
        )  # fmt: skip
        flow = found.discharge_m3s
        flowing = flow > 0
        total = np.where(flowing, found.total_head_m + d, head_m)
        safe, wet = np.where(flowing, total, 1.0), np.where(flowing, head_m, 1.0)
        coefficient = np.where(flowing, flow / (IDEAL * self.b * safe**1.5), np.nan)
        froude = np.where(flowing, found.froude, 0.0)
        flags = range_flags(self, head_m) | self.geometry_flags
        fast = froude > FROUDE_LIMIT
        outside = (head_m < self.head_min_m) | (head_m > self.head_max_m) | fast
        outside |= self.outside_iso(head_m)
        flags |= fast * np.int64(Flag.APPROACH_TOO_FAST)
        flags |= outside * np.int64(Flag.OUTSIDE_ISO_LIMITS)
        flags |= ~found.control * np.int64(Flag.NO_CONTROL)
        detail = {
            "coefficient": coefficient,
            "velocity_coefficient": np.where(flowing, (safe / wet) ** 1.5, np.nan),
            "total_head_m": np.where(found.control, total, np.nan),
            "froude": np.where(found.control, froude, np.nan),
        }
        to_total = 1.5 * np.where(flowing, flow, 0.0) / np.where(flowing, safe - d, 1.0)
        surface = self.approach.top_width(head_m + self.p)
        return FreeFlow(flow, flags, detail, head_slope(found, surface, to_total, flowing))

    def total_head_m(self, discharge_m3s: Floats) -> Floats:
        """Return H from Q = c (2/3)^1.5 g^0.5 b_e (H - d)^1.5, m."""
        share = np.asarray(discharge_m3s, float) / (self.factor * IDEAL * self.width_m)
        total: Floats = share ** (2.0 / 3.0) + self.loss_m
        return total

    def limit_by_rule(self) -> float:
        """Return the modular limit stated for the profile."""
        return self.rule_limit

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return the limit of total heads, taken for heads: the lower of the two (derived)."""
        return np.full(np.shape(head_m), self.rule_limit)

    def profile(self) -> tuple[tuple[float, float], ...]:
        """Return the outline of the weir in long section, from the bed upstream to downstream."""
        raise NotImplementedError

    def own_parts(self) -> tuple[Part, ...]:
        """Return the parts beside width and height."""
        return ()

    def own_measures(self) -> tuple[Measure, ...]:
        """Return where those are measured in the long section."""
        return ()

    def outline(self) -> Outline:
        """Return plan and long section."""
        side = self.profile()
        crest = next(x for x, y in side if y == self.p)
        top = self.p + self.head_max_m
        far = UPSTREAM_OF_CREST * self.head_max_m
        begin, end = side[0][0] - far, side[-1][0] + far
        floor = ((begin, 0.0), *side, (end, 0.0))
        parts = (
            Part("b", "Crest width between the walls", self.b, "throat width, ISO", "b"),
            Part("p", "Crest height over the bed upstream", self.p, "site, 5 mm", "p"),
            *self.own_parts(),
        )
        plan = walls(((begin, self.b), (end, self.b)))
        height = Measure("p", (crest, 0.0), (crest, self.p))
        half = self.b / 2.0
        level = Line(((begin, top), (crest, top)), "level")
        return Outline(
            parts,
            (
                View("Plan", plan, (Measure("b", (crest, -half), (crest, half)),)),
                View("Long section", (Line(floor, "floor"), level), (height, *self.own_measures())),
            ),
            "The walls stand upright from the gauge to the weir, as far apart as the crest is "
            "wide. The gauge stands three to four greatest heads upstream of the crest.",
        )

    def describe(self) -> str:
        length = f", L {float(self.dims['L']):g} m" if "L" in self.dims else ""
        name = self.family.name[0].upper() + self.family.name[1:]
        return f"{name}, b {self.b:g} m{length}, p {self.p:g} m"


CREST_WIDTH = Dimension(
    key="b",
    label="Crest width",
    low=0.05,
    high=50.0,
    tolerance=0.002,  # common practice
    help="Between the upright walls; the channel at the gauge has the same width.",
    aliases=("B", "width"),
    race="width",
)
CREST_HEIGHT = Dimension(
    key="p",
    label="Crest height",
    low=0.03,
    high=10.0,
    tolerance=0.003,  # common practice
    help="Crest over the bed upstream.",
    aliases=("P", "height"),
    race="sill",
)
CREST_LENGTH = Dimension(
    key="L",
    label="Crest length along the flow",
    low=0.05,
    high=20.0,
    tolerance=0.005,  # common practice
    help="Of the level part, with the rounding of the nose.",
    aliases=("length",),
)
