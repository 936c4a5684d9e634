"""What all thin-plate weirs share, and the two rectangular ones.

Heads are over the crest or the notch's vertex, gauged 4 to 5 greatest heads upstream; the nappe is
aired and the tailwater stays 0.05 m or more below the crest. Drowned, the free discharge is
multiplied by [1 - S^n]^0.385 with n the exponent of free flow (Villemonte 1947).
"""

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.families.plate_outline import plate_outline, plate_parts
from app.hydraulics.structure.bounds import FROUDE_LIMIT
from app.hydraulics.structure.device import (
    Device,
    Dimension,
    Dims,
    Family,
    Flag,
    Provenance,
    Source,
    range_flags,
)
from app.hydraulics.structure.outline import Measure, Outline, Part
from app.hydraulics.structure.states import Flags, FreeFlow

VILLEMONTE_EXPONENT = 0.385  # Villemonte 1947; read again in a US EPA reference manual (2017)
MAX_SUBMERGENCE = 0.90  # above it the correction is not to be reported

VILLEMONTE = Source(
    "Villemonte 1947: drowned factor [1 - S^n]^0.385, exponents read again in a US EPA hydraulics "
    "reference manual, vol. II (2017); nothing reported above S 0.90",
    Provenance.READ,
)

# Kindsvater & Carter 1957: a and a' by b/B, read in Morgenschweis 2010, Hydrometrie (Springer),
# Table 5.3; kb (m) from memory of Bos 1989 / ISO 1438:2008. Between b/B 0.88 and 1 kb falls
# steeply and its interpolation is not to be trusted: flagged.
WIDTH_RATIO = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
A = np.array([0.587, 0.588, 0.589, 0.590, 0.591, 0.592, 0.593, 0.595, 0.597, 0.599, 0.602])
A_SLOPE = np.array(
    [-0.0023, -0.0021, -0.0018, 0.0020, 0.0058, 0.011, 0.018, 0.030, 0.045, 0.064, 0.075]
)
KB_RATIO = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 0.88, 1.0])
KB_M = np.array([0.0024, 0.0024, 0.0027, 0.0036, 0.0042, 0.0043, -0.0009])
KH_M = 0.001  # read in Morgenschweis 2010
REHBOCK_KH_M = 0.0012  # Rehbock 1929 as in ISO 1438:2008, from memory


def villemonte(submergence_ratio: Floats, exponent: float) -> Floats:
    """Return the drowned factor [1 - S^n]^0.385; 1 at S = 0, 0 at S = 1 (Villemonte 1947)."""
    S = np.clip(submergence_ratio, 0.0, 1.0)
    factor: Floats = (1.0 - S**exponent) ** VILLEMONTE_EXPONENT
    return factor


class ThinPlate(Device):
    """Base of the thin-plate weirs: drowning, approach and flags."""

    free_exponent: float = 1.5
    max_submergence: float = MAX_SUBMERGENCE
    geometry_flags: int = 0

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return 0: any tailwater above the crest drowns a thin plate."""
        return np.zeros(np.shape(head_m))

    def drowned_factor(self, head_m: Floats, submergence_ratio: Floats) -> Floats:
        """Return [1 - S^n]^0.385 with the free exponent n (Villemonte 1947)."""
        return villemonte(submergence_ratio, self.free_exponent)

    def submergence_uncertainty_pct(self, submergence_ratio: Floats) -> Floats:
        """Return 5 % (common practice)."""
        return np.full(np.shape(submergence_ratio), 5.0)

    def free_with_approach(
        self,
        head_m: Floats,
        discharge_m3s: Floats,
        coefficient: Floats,
        approach_width_m: float | None,
        plate_height_m: float | None,
        iso: Flags,
    ) -> FreeFlow:
        """Add range, ISO and approach flags and, where the approach is known, what it does."""
        flags: Flags = range_flags(self, head_m) | iso | self.geometry_flags
        detail = {"coefficient": coefficient}
        if approach_width_m is not None and plate_height_m is not None:
            depth = np.maximum(head_m, 0.0) + plate_height_m
            speed = discharge_m3s / (approach_width_m * depth)
            froude = speed / np.sqrt(G * depth)
            flags |= np.where(froude > FROUDE_LIMIT, int(Flag.APPROACH_TOO_FAST), 0)
            detail["froude"] = froude
            detail["total_head_m"] = head_m + speed * speed / (2.0 * G)
        return FreeFlow(discharge_m3s, flags, detail)


class ContractedWeir(ThinPlate):
    """Rectangular notch narrower than its channel (or as wide): Kindsvater & Carter 1957."""

    def __init__(self, family: Family, dims: Dims) -> None:
        self.b, self.B, self.p = float(dims["b"]), float(dims["B"]), float(dims["p"])
        if self.b > self.B:
            raise BadInput(
                "b",
                self.b,
                f"the notch cannot be wider than the channel, B {self.B:g} m",
                "Check b and B; for a plate across the whole channel they are equal.",
            )
        super().__init__(family, dims, 0.03, 2.5 * self.p)
        ratio = self.b / self.B
        self.a = float(np.interp(ratio, WIDTH_RATIO, A))
        self.a_slope = float(np.interp(ratio, WIDTH_RATIO, A_SLOPE))
        self.kb_m = float(np.interp(ratio, KB_RATIO, KB_M))
        outside = self.b < 0.15 or self.p < 0.10 or ratio < 0.1 or 0.88 < ratio < 1.0
        self.geometry_flags = int(Flag.GEOMETRY_OUTSIDE_LIMITS) if outside else 0

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = Ce (2/3) sqrt(2g) (b + kb)(h + 0.001)^1.5, Ce = a + a' h/p, m3/s."""
        head = np.maximum(head_m, 0.0)
        coefficient = self.a + self.a_slope * head / self.p
        shape = (2.0 / 3.0) * np.sqrt(2.0 * G) * (self.b + self.kb_m)
        flow = np.where(head > 0, coefficient * shape * (head + KH_M) ** 1.5, 0.0)
        low = (head < 0.03) | (head > 2.5 * self.p)
        iso = np.where(low, int(Flag.OUTSIDE_ISO_LIMITS), 0)
        return self.free_with_approach(head_m, flow, coefficient, self.B, self.p, iso)

    def coefficient_uncertainty_pct(self, head_m: Floats, free: FreeFlow) -> Floats:
        """Return 1.5 % below h/p 1, 3 % above (from memory of ISO 1438; the larger of two)."""
        return np.where(head_m < self.p, 1.5, 3.0)

    def outline(self) -> Outline:
        """Return the plate with its notch."""
        return rectangular_outline(self.b, self.head_max_m, self.p, self.B)


class FullWidthWeir(ThinPlate):
    """Plate across the whole channel: Rehbock 1929."""

    def __init__(self, family: Family, dims: Dims) -> None:
        self.b, self.p = float(dims["b"]), float(dims["p"])
        super().__init__(family, dims, 0.03, min(0.75, self.p))
        outside = self.b < 0.30 or self.p < 0.10
        self.geometry_flags = int(Flag.GEOMETRY_OUTSIDE_LIMITS) if outside else 0

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = Ce (2/3) sqrt(2g) b (h + 0.0012)^1.5, Ce = 0.602 + 0.083 h/p, m3/s."""
        head = np.maximum(head_m, 0.0)
        coefficient = 0.602 + 0.083 * head / self.p
        shape = (2.0 / 3.0) * np.sqrt(2.0 * G) * self.b
        flow = np.where(head > 0, coefficient * shape * (head + REHBOCK_KH_M) ** 1.5, 0.0)
        outside = (head < 0.03) | (head > 0.75) | (head > self.p)
        iso = np.where(outside, int(Flag.OUTSIDE_ISO_LIMITS), 0)
        return self.free_with_approach(head_m, flow, coefficient, self.b, self.p, iso)

    def coefficient_uncertainty_pct(self, head_m: Floats, free: FreeFlow) -> Floats:
        """Return 1.5 % to h/p 1, 3 % above (from memory of ISO 1438)."""
        return np.where(head_m <= self.p, 1.5, 3.0)

    def outline(self) -> Outline:
        """Return the plate across the channel."""
        return rectangular_outline(self.b, self.head_max_m, self.p, None)


def rectangular_outline(b: float, depth: float, p: float, B: float | None) -> Outline:
    """Return the picture of a level crest; a plate across the channel has B None."""
    half = b / 2.0
    parts = plate_parts(p, B, Part("b", "Crest width", b, "throat width, ISO", "b"))
    notch = ((-half, depth), (-half, 0.0), (half, 0.0), (half, depth))
    across = (Measure("b", (-half, 0.0), (half, 0.0)),)
    return plate_outline(parts, notch, b if B is None else B, p, across)


def width(help_text: str, *aliases: str) -> Dimension:
    """Return the dimension of a crest's width."""
    return Dimension(
        key="b",
        label="Crest width",
        low=0.02,
        high=20.0,
        tolerance=0.002,  # common practice
        help=help_text,
        aliases=aliases,
    )


PLATE_HEIGHT = Dimension(
    key="p",
    label="Crest height",
    low=0.02,
    high=10.0,
    help="Crest, or vertex of the notch, over the bed upstream.",
    aliases=("P", "height"),
    race="sill",
)
CHANNEL_WIDTH = Dimension(
    key="B",
    label="Channel width",
    low=0.05,
    high=50.0,
    help="Width of the channel at the head gauge.",
    race="width",
)

CONTRACTED = Family(
    key="rect_weir",
    name="rectangular thin-plate weir",
    summary="Sharp-edged rectangular notch with side contractions.",
    dimensions=(width("Width of the notch.", "L", "width"), CHANNEL_WIDTH, PLATE_HEIGHT),
    sources=(
        Source(
            "Kindsvater & Carter 1957: a and a' by b/B and kh = 0.001 m, read in Morgenschweis "
            "2010, Hydrometrie (Springer), Table 5.3",
            Provenance.READ,
        ),
        Source(
            "Bos 1989 / ISO 1438:2008: kb by b/B and coefficient uncertainty", Provenance.MEMORY
        ),
        VILLEMONTE,
    ),
    limits_text=(
        "Head at least 0.03 m and at most 2.5 p; b at least 0.15 m, p at least 0.10 m, b/B at "
        "least 0.1; between b/B 0.88 and 1 the width correction is not sure and flagged. "
        "Tailwater 0.05 m or more below the crest; drowned readings corrected to S 0.90."
    ),
    tested_tolerance_pct=1.0,
    tested_table=Provenance.READ,
    can_drown=True,
    correction=True,
    make=ContractedWeir,
    example={"b": 0.5, "B": 1.0, "p": 0.5},
)

FULL_WIDTH = Family(
    key="full_width_weir",
    name="full-width thin-plate weir",
    summary="Sharp-edged plate across the whole channel, nappe aired.",
    dimensions=(width("Width of the channel and crest.", "B", "L", "width"), PLATE_HEIGHT),
    sources=(
        Source(
            "Rehbock 1929 as in ISO 1438:2008: Ce = 0.602 + 0.083 h/p, kh = 0.0012 m",
            Provenance.MEMORY,
        ),
        VILLEMONTE,
    ),
    limits_text=(
        "Head 0.03 to 0.75 m and at most p; b at least 0.30 m, p at least 0.10 m. Nappe aired "
        "below. Tailwater 0.05 m or more below the crest; drowned readings corrected to S 0.90."
    ),
    tested_tolerance_pct=0.5,
    tested_table=Provenance.READ,
    can_drown=True,
    correction=True,
    make=FullWidthWeir,
    example={"b": 1.0, "p": 0.3},
)
