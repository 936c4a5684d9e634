"""The paper step, a device that nobody ever built: Q = 1.25 w h^1.5, free to a half.

Made up so that the recipe for a family can be followed; never a rating of anything.
"""

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.structure.device import (
    Device,
    Dims,
    Family,
    Provenance,
    Source,
    range_flags,
)
from app.hydraulics.structure.dimension import Dimension
from app.hydraulics.structure.outline import Line, Measure, Outline, Part, View
from app.hydraulics.structure.states import FreeFlow


class PaperStep(Device):
    """See the module."""

    device_pct = 7.0

    def __init__(self, family: Family, dims: Dims) -> None:
        super().__init__(family, dims, 0.04, 0.4)
        self.w = float(dims["w"])

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = 1.25 w h^1.5, m3/s."""
        discharge: Floats = 1.25 * self.w * np.maximum(head_m, 0.0) ** 1.5
        return FreeFlow(discharge, range_flags(self, head_m))

    def exponent(self, head_m: Floats) -> float:
        return 1.5

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return 0.5."""
        return np.full(np.shape(head_m), 0.5)

    def dimension_uncertainty_pct(self, head_m: Floats) -> float:
        """Return 1 %."""
        return 1.0

    def outline(self) -> Outline:
        """Return the step from upstream."""
        w = self.w
        line = Line(((0.0, 0.4), (0.0, 0.0), (w, 0.0), (w, 0.4)))
        view = View("Step", (line,), (Measure("w", (0.0, 0.0), (w, 0.0)),), along=False)
        return Outline((Part("w", "Width of the step", w, "site, 5 mm", "w"),), (view,), "Made up.")

    def describe(self) -> str:
        return f"paper step, {self.w:g} m wide"


FAMILY = Family(
    key="paper_step",
    name="paper step",
    summary="A step that exists on paper only.",
    dimensions=(Dimension(key="w", label="Width of the step", low=0.1, high=3.0),),
    sources=(Source("Made up to follow a recipe with: 1.25 w h^1.5", Provenance.PRACTICE),),
    limits_text="Head from 0.04 to 0.4 m, on paper.",
    tested_tolerance_pct=0.1,
    tested_table=Provenance.DERIVED,
    can_drown=True,
    correction=False,
    make=PaperStep,
    example={"w": 0.5},
)
