"""A sharp-edged rectangular opening in a wall, meant to be drowned: both heads make the discharge.

Heads are over the middle of the opening, on either side. Free, Q = Cd A (2 g h)^0.5; drowned,
Q = Cd A [2 g (h1 - h2)]^0.5, which is the free discharge times (1 - S)^0.5 with S = h2 / h1. Cd is
0.61 for full contraction (USBR Water Measurement Manual ch. 9, from memory). The opening must be
covered: with a head of less than its own height it draws air and is no orifice.
"""

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.structure.device import (
    Device,
    Dimension,
    Dims,
    Family,
    Provenance,
    Source,
    range_flags,
)
from app.hydraulics.structure.outline import Line, Measure, Outline, Part, View
from app.hydraulics.structure.states import FreeFlow

COEFFICIENT = 0.61
LEAST_COVER = 1.5  # opening heights over its middle: the top edge lies one height under water
MOST_HEIGHTS = 15.0


class Orifice(Device):
    """A drowned opening; see the module for the equation."""

    device_pct = 3.0  # common practice: 2 % in print with full contraction
    max_submergence = 0.98  # nearer than that the difference is lost in the readings
    drowned_breaks = (0.97, 0.974, 0.9765, 0.978, 0.979)  # closer nodes where the root bends most

    def __init__(self, family: Family, dims: Dims) -> None:
        self.w, self.d = float(dims["w"]), float(dims["d"])
        super().__init__(family, dims, LEAST_COVER * self.d, MOST_HEIGHTS * self.d)

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = Cd w d (2 g h)^0.5, m3/s."""
        speed = np.sqrt(2.0 * G * np.maximum(head_m, 0.0))
        discharge: Floats = COEFFICIENT * self.w * self.d * speed
        coefficient = np.full(np.shape(head_m), COEFFICIENT)
        return FreeFlow(discharge, range_flags(self, head_m), {"coefficient": coefficient})

    def exponent(self, head_m: Floats) -> float:
        return 0.5

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return 0: a tailwater over the middle of the opening counts at once."""
        return np.zeros(np.shape(head_m))

    def drowned_factor(self, head_m: Floats, submergence_ratio: Floats) -> Floats:
        """Return (1 - S)^0.5."""
        factor: Floats = np.sqrt(1.0 - np.clip(submergence_ratio, 0.0, 1.0))
        return factor

    def submergence_uncertainty_pct(self, submergence_ratio: Floats) -> Floats:
        """Return 2 %: the coefficient is that of the drowned opening (common practice)."""
        return np.full(np.shape(submergence_ratio), 2.0)

    def outline(self) -> Outline:
        """Return the wall with its opening."""
        half, low = self.w / 2.0, -self.d / 2.0
        top = self.head_min_m
        opening = ((-half, low), (half, low), (half, -low), (-half, -low), (-half, low))
        parts = (
            Part("w", "Width of the opening", self.w, "throat width, ISO", "w"),
            Part("d", "Height of the opening", self.d, "throat width, ISO", "d"),
        )
        lines = (
            Line(opening),
            Line(((-2.0 * half, top), (2.0 * half, top)), "level"),
        )
        marks = (
            Measure("w", (-half, low), (half, low)),
            Measure("d", (0.0, low), (0.0, -low)),
        )
        note = (
            "Heads are over the middle of the opening, on both sides. Its edges are sharp and lie "
            "two opening heights from bed and walls. The line is the least head."
        )
        view = View("Wall, looking downstream", lines, marks, along=False)
        return Outline(parts, (view,), note)

    def describe(self) -> str:
        return f"Drowned rectangular orifice, {self.w:g} m wide, {self.d:g} m high"


FAMILY = Family(
    key="orifice",
    name="drowned rectangular orifice",
    summary="Sharp-edged opening in a wall under water; the difference of two heads is measured.",
    dimensions=(
        Dimension(key="w", label="Width of the opening", low=0.02, high=10.0, tolerance=0.002,
                  help="Between its sharp edges.", aliases=("b", "width")),
        Dimension(key="d", label="Height of the opening", low=0.02, high=5.0, tolerance=0.002,
                  help="From its lower to its upper edge.", aliases=("height",)),
    ),
    sources=(
        Source(
            "USBR Water Measurement Manual ch. 9: Q = 0.61 A (2 g dh)^0.5 of a fully contracted "
            "drowned rectangular orifice",
            Provenance.MEMORY,
        ),
        Source("3 % for the coefficient, cover of one opening height", Provenance.PRACTICE),
    ),
    limits_text=(
        "Heads over the middle of the opening: from 1.5 to 15 opening heights. Full contraction: "
        "edges two opening heights from bed and walls, slow approach (not checked). Without a "
        "tailwater reading the discharge is that of a free jet, an upper bound; drowned readings "
        "to S 0.98."
    ),
    tested_tolerance_pct=0.5,
    tested_table=Provenance.MEMORY,
    can_drown=True,
    correction=True,
    make=Orifice,
    example={"w": 0.6, "d": 0.2},
)  # fmt: skip
