"""Thin-plate notches that are not rectangular: the V-notch and the Cipolletti weir."""

from dataclasses import replace

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import FOOT, G, coefficient_si
from app.hydraulics.families.plate_outline import plate_outline, plate_parts
from app.hydraulics.families.thin_plate import (
    CHANNEL_WIDTH,
    PLATE_HEIGHT,
    VILLEMONTE,
    ThinPlate,
    villemonte,
)
from app.hydraulics.structure.device import Dimension, Dims, Family, Flag, Provenance, Source
from app.hydraulics.structure.outline import Measure, Outline, Part
from app.hydraulics.structure.states import FreeFlow

# Kindsvater-Shen: fits of Ce and kh (ft) by the angle in degrees, as quoted from Chin 2006,
# Water-Resources Engineering, in a published analysis (second-hand).
CE_FIT = (0.607165, -8.74467e-4, 6.10393e-6)
KH_FT_FIT = (0.0144903, -3.39555e-4, 3.29819e-6, -1.06215e-8)

# USBR Water Measurement Manual 3rd ed. eq. 7-7 (read): Q = 3.367 L h^1.5, ft and ft3/s.
CIPOLLETTI_C = coefficient_si(3.367, 1.5, 1.0)
SIDE_SLOPE = 0.25  # horizontal to 1 vertical, each side


class VNotch(ThinPlate):
    """Triangular notch of any angle: Kindsvater-Shen, fully contracted."""

    free_exponent = 2.5

    def __init__(self, family: Family, dims: Dims) -> None:
        super().__init__(family, dims, 0.06, 0.38)
        self.theta = theta = float(dims["theta"])
        self.p = float(dims["p"]) if "p" in dims else None
        self.B = float(dims["B"]) if "B" in dims else None
        self.Ce = sum(c * theta**k for k, c in enumerate(CE_FIT))
        self.kh_m = FOOT * sum(c * theta**k for k, c in enumerate(KH_FT_FIT))
        outside = not 25.0 <= theta <= 100.0
        outside |= self.p is not None and self.p < 0.45
        outside |= self.B is not None and self.B < 0.9
        self.geometry_flags = int(Flag.GEOMETRY_OUTSIDE_LIMITS) if outside else 0
        # full contraction not checked: twice the figure (common practice)
        self.device_pct = 2.0 if self.p is None or self.B is None or outside else 1.0

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = Ce (8/15) sqrt(2g) tan(theta/2) (h + kh)^2.5, m3/s."""
        head = np.maximum(head_m, 0.0)
        shape = self.Ce * (8.0 / 15.0) * np.sqrt(2.0 * G) * np.tan(np.radians(self.theta / 2.0))
        flow = np.where(head > 0, shape * (head + self.kh_m) ** 2.5, 0.0)
        outside = (head < 0.05) | (head > 0.38)
        if self.p is not None:
            outside |= head > 0.4 * self.p
        if self.B is not None:
            outside |= head > 0.2 * self.B
        iso = np.where(outside, int(Flag.OUTSIDE_ISO_LIMITS), 0)
        coefficient = np.full(np.shape(head), self.Ce)
        return self.free_with_approach(head_m, flow, coefficient, self.B, self.p, iso)

    def outline(self) -> Outline:
        """Return the plate with its notch; the angle is measured as the width at a height."""
        depth = self.head_max_m
        half = depth * float(np.tan(np.radians(self.theta / 2.0)))
        wide = Part("w", f"Notch width {depth:g} m over the vertex", 2.0 * half, "site, 5 mm")
        across = (Measure("w", (-half, depth), (half, depth)),)
        notch = ((-half, depth), (0.0, 0.0), (half, depth))
        return plate_outline(plate_parts(self.p, self.B, wide), notch, self.B, self.p, across)

    def describe(self) -> str:
        text = f"V-notch thin-plate weir, {self.theta:g} degrees"
        if self.p is not None:
            text += f", vertex {self.p:g} m over the bed"
        if self.B is not None:
            text += f", channel {self.B:g} m wide"
        missing = self.p is None or self.B is None
        return text + (", contraction not checked" if missing else "")


class Cipolletti(ThinPlate):
    """Trapezoidal notch with sides 1 to 4, whose widening makes up for the contraction."""

    device_pct = 5.0  # USBR Water Measurement Manual sec. 7-12, read

    def __init__(self, family: Family, dims: Dims) -> None:
        self.L = float(dims["L"])
        super().__init__(family, dims, 0.06, min(self.L / 3.0, 0.6))

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = 1.8589 L h^1.5, m3/s."""
        head = np.maximum(head_m, 0.0)
        flow = CIPOLLETTI_C * self.L * head**1.5
        coefficient = np.full(np.shape(head), CIPOLLETTI_C)
        iso = np.zeros(np.shape(head), np.int64)
        return self.free_with_approach(head_m, flow, coefficient, None, None, iso)

    def exponent(self, head_m: Floats) -> float:
        return 1.5

    def drowned_factor(self, head_m: Floats, submergence_ratio: Floats) -> Floats:
        """Return Villemonte's factor on the rectangular and the triangular part.

        The parts share the free discharge as their ideal discharges do: (2/3) L h^1.5 to
        (8/15) h^2.5 / 4, so that the triangle has 0.2 h / L of the rectangle.
        """
        triangle = (8.0 / 15.0) * SIDE_SLOPE / (2.0 / 3.0) * np.maximum(head_m, 0.0) / self.L
        rectangle = villemonte(submergence_ratio, 1.5)
        factor: Floats = (rectangle + triangle * villemonte(submergence_ratio, 2.5)) / (
            1.0 + triangle
        )
        return factor

    def outline(self) -> Outline:
        """Return the plate with its notch."""
        depth, half = self.head_max_m, self.L / 2.0
        rim = half + SIDE_SLOPE * depth
        crest = Part("L", "Crest length", self.L, "throat width, ISO", "L")
        wide = Part("w", f"Notch width {depth:g} m over the crest", 2.0 * rim, "site, 5 mm")
        notch = ((-rim, depth), (-half, 0.0), (half, 0.0), (rim, depth))
        across = (
            Measure("L", (-half, 0.0), (half, 0.0)),
            Measure("w", (-rim, depth), (rim, depth)),
        )
        return plate_outline(plate_parts(None, None, crest, wide), notch, None, None, across)


V_NOTCH = Family(
    key="v_notch",
    name="V-notch thin-plate weir",
    summary="Sharp-edged triangular notch in a thin plate.",
    dimensions=(
        Dimension(
            key="theta",
            label="Notch angle",
            unit="degrees",
            kind="angle",
            low=10.0,
            high=120.0,
            tolerance=0.2,  # common practice
            help="Full angle between the edges; tested from 25 to 100 degrees.",
            aliases=("angle",),
        ),
        replace(PLATE_HEIGHT, required=False),
        replace(CHANNEL_WIDTH, required=False),
    ),
    sources=(
        Source(
            "Kindsvater-Shen: fits of Ce and kh by the angle as quoted from Chin 2006, "
            "Water-Resources Engineering (second-hand); 90 degrees Ce 0.578, kh 0.0029 ft in San "
            "Diego State Univ. hydraulics lab 5; 25 to 100 degrees in the USBR Water Measurement "
            "Manual, sec. 7-7",
            Provenance.READ,
        ),
        Source(
            "ISO 1438:2008 limits of full contraction: h/p to 0.4, h/B to 0.2, head 0.05 to "
            "0.38 m, p from 0.45 m, B from 0.9 m",
            Provenance.MEMORY,
        ),
        VILLEMONTE,
    ),
    limits_text=(
        "25 to 100 degrees; head 0.06 to 0.38 m; full contraction: h/p at most 0.4, h/B at most "
        "0.2, p at least 0.45 m, B at least 0.9 m (not checked when p or B is not given). "
        "Tailwater 0.05 m or more below the vertex; drowned readings corrected to S 0.90."
    ),
    tested_tolerance_pct=3.6,  # a 60-degree table that claims 2 to 5 %; other rows 1.2 %
    tested_table=Provenance.READ,
    can_drown=True,
    correction=True,
    make=VNotch,
    example={"theta": 90.0, "p": 0.5, "B": 1.5},
)

CIPOLLETTI = Family(
    key="cipolletti",
    name="Cipolletti thin-plate weir",
    summary="Sharp-edged trapezoidal notch, sides leaning out 1 horizontal to 4 vertical.",
    dimensions=(
        Dimension(
            key="L",
            label="Crest length",
            low=0.05,
            high=20.0,
            tolerance=0.002,  # common practice
            help="Length of the level crest between the sides.",
            aliases=("b", "length", "width"),
        ),
    ),
    sources=(
        Source(
            "USBR Water Measurement Manual, 3rd ed., eq. 7-7 and sec. 7-12: Q = 3.367 L h^1.5 "
            "(ft, ft3/s), 5 %",
            Provenance.READ,
        ),
        VILLEMONTE,
        Source(
            "Shares of the rectangular and triangular part by their ideal discharges",
            Provenance.DERIVED,
        ),
    ),
    limits_text=(
        "Head 0.06 m to L/3 and at most 0.6 m; approach deep and wide enough for full "
        "contraction. Tailwater 0.05 m or more below the crest; drowned readings corrected to "
        "S 0.90."
    ),
    tested_tolerance_pct=0.5,
    tested_table=Provenance.READ,
    can_drown=True,
    correction=True,
    make=Cipolletti,
    example={"L": 1.0},
)
