"""The large 60-degree V-throated trapezoidal flume (Robinson & Chamberlain 1960).

Q = 1.55 h^2.58 in feet and ft3/s, head over the throat's invert in the approach section. Other
trapezoidal flumes have constants of their own: state those as a rating of one's own.
"""

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import coefficient_si
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

N = 2.58
C = coefficient_si(1.55, N)  # Robinson & Chamberlain 1960, from memory
LIMIT = 0.80  # Robinson 1968, ARS 41-140, in general terms
HEAD_MIN_M = 0.05  # common practice


class VTrapezoid(Device):
    """The 60-degree V flume; see the module for equation and sources."""

    device_pct = 5.0  # common practice

    def __init__(self, family: Family, dims: Dims) -> None:
        super().__init__(family, dims, HEAD_MIN_M, float(dims["depth"]))

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = C h^2.58, m3/s, at heads h in m over the throat's invert."""
        discharge: Floats = C * np.maximum(head_m, 0.0) ** N
        return FreeFlow(
            discharge, range_flags(self, head_m), {"coefficient": np.full(np.shape(head_m), C)}
        )

    def exponent(self, head_m: Floats) -> float:
        return N

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return 0.80."""
        return np.full(np.shape(head_m), LIMIT)

    def dimension_uncertainty_pct(self, head_m: Floats) -> float:
        """Return 0.5 %: throat angle within the usual building tolerance (common practice)."""
        return 0.5

    def outline(self) -> Outline:
        """Return the throat; its walls stand at 60 degrees to the horizontal."""
        depth = self.head_max_m
        half = depth / float(np.tan(np.radians(60.0)))
        wide = Part("w", f"Throat width {depth:g} m over the invert", 2.0 * half, "site, 5 mm")
        high = Part("d", "Usable depth", depth, "site, 5 mm", "depth")
        lines = (Line(((-half, depth), (0.0, 0.0), (half, depth))),)
        across = (
            Measure("w", (-half, depth), (half, depth)),
            Measure("d", (0.0, 0.0), (0.0, depth)),
        )
        note = "Only the throat is drawn: its walls decide the rating. Check the angle of both."
        return Outline(
            (wide, high), (View("Throat, looking downstream", lines, across, along=False),), note
        )

    def describe(self) -> str:
        return f"60-degree V flume, usable to {self.head_max_m:g} m"


FAMILY = Family(
    key="v60",
    name="60-degree V flume",
    summary="Trapezoidal flume whose throat is a V with walls at 60 degrees to the horizontal.",
    dimensions=(
        Dimension(
            key="depth",
            label="Usable depth",
            low=0.1,
            high=1.0,
            required=False,
            default=0.45,
            help="Greatest head the walls hold; only the range flag depends on it.",
        ),
    ),
    sources=(
        Source(
            "Robinson & Chamberlain 1960: Q = 1.55 h^2.58 (ft, ft3/s), large 60-degree V flume",
            Provenance.MEMORY,
        ),
        Source(
            "Robinson 1968, ARS 41-140: trapezoidal flumes stay free to a submergence of about "
            "0.80 (in general terms)",
            Provenance.READ,
        ),
        Source("Head range and 5 % uncertainty", Provenance.PRACTICE),
    ),
    limits_text=(
        "Head from 0.05 m to the usable depth. Free to a submergence of 0.80; a drowned "
        "discharge is not determined."
    ),
    tested_tolerance_pct=0.3,
    tested_table=Provenance.DERIVED,
    can_drown=True,
    correction=False,
    make=VTrapezoid,
    example={},
)
