"""H, HS and HL flumes: walls converging to a sloping exit edge, named by their depth in feet.

log10 Q = A + B log10 h + C (log10 h)^2, with Q in m3/s and h in m at the side wall. Level floor
only: a sloping false floor has another rating. Free outfall is intended; no correction is known
for a drowned one.
"""

from dataclasses import dataclass

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import FOOT
from app.hydraulics.structure.device import (
    Device,
    Dimension,
    Dims,
    Family,
    Provenance,
    Source,
    range_flags,
)
from app.hydraulics.structure.outline import Line, Measure, Outline, Part, View, walls
from app.hydraulics.structure.states import FreeFlow

LIMIT = 0.25  # from memory of USDA Agric. Handbook 224: effect of drowning at most 1 %
HEAD_MIN_M = 0.03  # common practice: 0.02 to 0.03 m, where the flow clings to the floor
TANGENT_M = 1e-3  # below it the fit is continued as a power law, far under any reading


@dataclass(frozen=True)
class Size:
    """Constants of one size and the largest discharge printed with them."""

    depth_ft: float
    A: float
    B: float
    C: float
    largest_l_s: float


# Proportions to the depth D: entrance width, opening at the floor of the exit, length along the
# floor (USDA Agric. Handbook 224, from memory; the length of the widest kind is not remembered).
PROPORTIONS: dict[str, tuple[float, float, float | None]] = {
    "H": (1.90, 0.10, 1.35),
    "HS": (1.05, 0.05, 1.50),
    "HL": (3.20, 0.20, None),
}

# Morgenschweis 2010, Hydrometrie (Springer), Table 5.5 (read; after Bos 1989).
SIZES: dict[str, Size] = {
    "H0.5": Size(0.5, 0.0372, 2.6629, 0.1954, 9.17),
    "H0.75": Size(0.75, 0.0351, 2.6434, 0.2243, 26.9),
    "H1.0": Size(1.0, 0.0206, 2.5902, 0.2281, 53.5),
    "H1.5": Size(1.5, 0.0238, 2.5473, 0.2540, 150.0),
    "H2.0": Size(2.0, 0.0237, 2.4918, 0.2605, 309.0),
    "H2.5": Size(2.5, 0.0268, 2.4402, 0.2600, 542.0),
    "H3.0": Size(3.0, 0.0329, 2.3977, 0.2588, 857.0),
    "H4.5": Size(4.5, 0.0588, 2.3032, 0.2547, 2366.0),
    "HS0.4": Size(0.4, -0.4361, 2.5151, 0.1379, 2.27),
    "HS0.6": Size(0.6, -0.4430, 2.4908, 0.1657, 6.14),
    "HS0.8": Size(0.8, -0.4410, 2.4571, 0.1762, 12.7),
    "HS1.0": Size(1.0, -0.4382, 2.4193, 0.1790, 22.3),
    "HL3.5": Size(3.5, 0.3081, 2.3935, 0.2911, 2370.0),
    "HL4.0": Size(4.0, 0.3160, 2.3466, 0.2794, 3298.0),
}


class HFlume(Device):
    """A flume of the H family; see the module for equation and sources."""

    device_pct = 3.0  # field figure, from memory of USDA Agric. Handbook 224

    def __init__(self, family: Family, dims: Dims) -> None:
        self.size = size = SIZES[str(dims["size"])]
        # the head at which the equation gives the largest discharge printed, at most the depth
        ask = np.log10(size.largest_l_s / 1000.0)
        root = np.sqrt(size.B**2 - 4.0 * size.C * (size.A - ask))
        top = 10.0 ** ((root - size.B) / (2.0 * size.C))
        super().__init__(family, dims, HEAD_MIN_M, min(float(top), size.depth_ft * FOOT))

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q, m3/s, at heads h in m over the floor."""
        size = self.size
        head = np.maximum(head_m, 0.0)
        log_head = np.log10(np.maximum(head, TANGENT_M))
        discharge: Floats = 10.0 ** (size.A + log_head * (size.B + size.C * log_head))
        low = head < TANGENT_M
        if np.any(low):
            slope = size.B + 2.0 * size.C * np.log10(TANGENT_M)
            discharge = np.where(low, discharge * (head / TANGENT_M) ** slope, discharge)
        return FreeFlow(discharge, range_flags(self, head_m))

    def exponent(self, head_m: Floats) -> Floats:
        """Return B + 2 C log10 h."""
        head = np.maximum(head_m, TANGENT_M)
        result: Floats = self.size.B + 2.0 * self.size.C * np.log10(head)
        return result

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return 0.25, the lower of the figures remembered (0.25 to 0.30)."""
        return np.full(np.shape(head_m), LIMIT)

    def dimension_uncertainty_pct(self, head_m: Floats) -> float:
        """Return 0.5 %: exit edges within the usual building tolerance (common practice)."""
        return 0.5

    def outline(self) -> Outline:
        """Return plan and side in the kind's proportions to its depth."""
        D = self.size.depth_ft * FOOT
        wide, opening, length = PROPORTIONS[str(self.dims["size"]).rstrip("0123456789.")]
        long = (length or 2.0) * D
        kind = "edge" if length else "usual"
        source = Source(
            "USDA Agric. Handbook 224: proportions to the depth of the flume", Provenance.MEMORY
        )
        parts = [
            Part("D", "Depth of the flume", D, "site, 5 mm", None, source),
            Part("B", "Entrance width", wide * D, "site, 5 mm", None, source),
            Part("o", "Opening at the floor of the exit", opening * D, "site, 5 mm", None, source),
        ]
        plan = [
            Measure("B", (0.0, -wide * D / 2), (0.0, wide * D / 2)),
            Measure("o", (long, -opening * D / 2), (long, opening * D / 2)),
        ]
        side = [Measure("D", (0.0, 0.0), (0.0, D))]
        if length:
            parts.append(Part("L", "Length along the floor", long, "site, 5 mm", None, source))
            side.append(Measure("L", (0.0, 0.0), (long, 0.0)))
        lines = (
            Line(((0.0, 0.0), (long, 0.0)), "floor"),
            Line(((0.0, 0.0), (0.0, D), (0.4 * long, D)), kind),
            Line(((0.4 * long, D), (long, 0.0)), "usual"),
        )
        note = "Level floor, free outfall. The slope of the exit edge is drawn, not measured here."
        if not length:
            note += " The length of this kind is drawn in usual proportion."
        return Outline(
            tuple(parts),
            (
                View("Plan", walls(((0.0, wide * D), (long, opening * D)), kind), tuple(plan)),
                View("Long section", lines, tuple(side)),
            ),
            note,
        )

    def describe(self) -> str:
        return f"{FAMILY.sizes[str(self.dims['size'])]}"


FAMILY = Family(
    key="h_flume",
    name="H flume",
    summary="Flat floor, walls converging to a sloping exit edge with a free outfall.",
    dimensions=(
        Dimension(
            key="size",
            label="Size",
            unit="",
            kind="choice",
            choices=tuple(SIZES),
            help="Letters and depth in feet: H0.5 to H4.5, HS0.4 to HS1.0, HL3.5, HL4.0.",
        ),
    ),
    sources=(
        Source(
            "Morgenschweis 2010, Hydrometrie (Springer), Table 5.5: A, B, C and largest "
            "discharge of all 14 sizes (after Bos 1989)",
            Provenance.READ,
        ),
        Source(
            "USDA Agric. Handbook 224 (Brakensiek, Osborn & Rawls 1979): free to a submergence "
            "of 0.25; uncertainty 3 %; full-depth capacities 0.5 to 6.7 % above the largest "
            "discharges of Table 5.5, which are used as the top of the range",
            Provenance.MEMORY,
        ),
    ),
    limits_text=(
        "Level floor. Head from 0.03 m to the head of the largest discharge printed. Free to a "
        "submergence of 0.25; a drowned discharge is not determined."
    ),
    tested_tolerance_pct=1.5,
    tested_table=Provenance.MEMORY,
    can_drown=True,
    correction=False,
    make=HFlume,
    sizes={
        key: f"{key.rstrip('0123456789.')} flume, {size.depth_ft:g} ft deep"
        for key, size in SIZES.items()
    },
    example={"size": "H1.0"},
)
