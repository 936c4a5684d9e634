"""Three solid weirs: broad with a sharp upstream edge, broad with a round nose, triangular.

Values from memory of the standards and of Bos 1989, *Discharge Measurement Structures*; none was
read in the text, except the closed form of the round nose, which is that of the rectangular throat
(Morgenschweis 2010, eq. 5.19, read).
"""

import numpy as np

from app.hydraulics.base.arrays import Bools, Floats
from app.hydraulics.families.weirs.solid import CREST_HEIGHT, CREST_LENGTH, CREST_WIDTH, SolidWeir
from app.hydraulics.structure.device import (
    Dims,
    Family,
    Provenance,
    Source,
)
from app.hydraulics.structure.outline import Measure, Part
from app.hydraulics.structure.states import FreeFlow

BROAD_COEFFICIENT = 0.848
BROAD_LONGEST = 0.33  # H1/L up to which the coefficient is constant
BROAD_DEEPEST = 0.35  # h / (h + p)
ROUND_DISPLACEMENT = 0.003
TRIANGULAR_COEFFICIENT = 1.163
TRIANGULAR_HEAD_LOSS_M = 0.0003
UP_SLOPE, DOWN_SLOPE = 2.0, 5.0


class BroadCrested(SolidWeir):
    """Block with vertical faces and square edges: constant coefficient 0.848 (Bos 1989)."""

    factor = BROAD_COEFFICIENT
    rule_limit = 0.66
    device_pct = 5.0  # common practice; the standard's own figure was not read
    head_to_height = BROAD_DEEPEST / (1.0 - BROAD_DEEPEST)

    def __init__(self, family: Family, dims: Dims) -> None:
        self.L = float(dims["L"])
        super().__init__(family, dims, max(0.06, 0.08 * self.L), BROAD_LONGEST * self.L)

    def profile(self) -> tuple[tuple[float, float], ...]:
        return ((0.0, 0.0), (0.0, self.p), (self.L, self.p), (self.L, 0.0))

    def own_parts(self) -> tuple[Part, ...]:
        return (Part("L", "Crest length", self.L, "throat length, ISO", "L"),)

    def own_measures(self) -> tuple[Measure, ...]:
        return (Measure("L", (0.0, self.p), (self.L, self.p)),)


class RoundNose(BroadCrested):
    """Broad crest behind a rounded nose: the boundary-layer form of ISO 4374.

    Q = (2/3)^1.5 g^0.5 (b - 0.006 L) (H - 0.003 L)^1.5, H for the printed h with Cv.
    """

    factor = 1.0
    rule_limit = 0.63
    head_to_height = 1.5

    def __init__(self, family: Family, dims: Dims) -> None:
        self.L = float(dims["L"])
        SolidWeir.__init__(self, family, dims, max(0.06, 0.05 * self.L), 0.57 * self.L)

    def head_loss(self) -> float:
        return ROUND_DISPLACEMENT * self.L

    def width_loss(self) -> float:
        return min(2.0 * ROUND_DISPLACEMENT * self.L, 0.9 * self.b)  # never all of it

    def outside_iso(self, head_m: Floats) -> Bools:
        narrow = (head_m > self.b) | (self.b < self.L / 5.0)
        outside: Bools = super().outside_iso(head_m) | narrow
        return outside

    def coefficient_uncertainty_pct(self, head_m: Floats, free: FreeFlow) -> Floats:
        """Return 2 (21 - 20 CD) %, at least 2 (ISO 4374, from memory)."""
        cd = np.nan_to_num(free.detail["coefficient"], nan=0.9)
        pct: Floats = 2.0 * np.maximum(21.0 - 20.0 * cd, 1.0)
        return pct


class Triangular(SolidWeir):
    """Profile 1 in 2 up and 1 in 5 down, sharp crest: Q = 0.633 g^0.5 b (H - 0.0003)^1.5."""

    factor = TRIANGULAR_COEFFICIENT
    rule_limit = 0.75
    least_height_m = 0.06
    head_to_height = 3.5

    def __init__(self, family: Family, dims: Dims) -> None:
        super().__init__(family, dims, 0.06, min(0.5 * float(dims["b"]), 3.0))

    def head_loss(self) -> float:
        return TRIANGULAR_HEAD_LOSS_M

    def coefficient_uncertainty_pct(self, head_m: Floats, free: FreeFlow) -> Floats:
        """Return 10 Cv - 9 %, at least 1 and with 1 % for the crest (ISO 4360, from memory)."""
        cv = np.nan_to_num(free.detail["velocity_coefficient"], nan=1.1)
        pct: Floats = np.hypot(np.maximum(10.0 * cv - 9.0, 1.0), 1.0)
        return pct

    def profile(self) -> tuple[tuple[float, float], ...]:
        return ((-UP_SLOPE * self.p, 0.0), (0.0, self.p), (DOWN_SLOPE * self.p, 0.0))


_FREE_ONLY = "Above the modular limit the discharge is not determined."

BROAD = Family(
    key="broad_crested",
    name="broad-crested rectangular weir",
    summary="Level block from wall to wall with a square upstream edge.",
    dimensions=(CREST_WIDTH, CREST_LENGTH, CREST_HEIGHT),
    sources=(
        Source(
            "Bos 1989, rectangular broad-crested weir (ISO 3846): coefficient 0.848 for H1/L 0.08 "
            "to 0.33 and h/(h+p) to 0.35; modular limit 0.66",
            Provenance.MEMORY,
        ),
        Source("5 % for the coefficient", Provenance.PRACTICE),
    ),
    limits_text=(
        "Head from 0.06 m and 0.08 L to 0.33 L; h/(h+p) to 0.35; b from 0.30 m, p from 0.15 m. "
        + _FREE_ONLY
    ),
    tested_tolerance_pct=4.0,
    tested_table=Provenance.MEMORY,
    can_drown=True,
    correction=False,
    make=BroadCrested,
    example={"b": 1.0, "L": 1.2, "p": 0.6},
)
ROUND = Family(
    key="round_nose",
    name="round-nosed broad-crested weir",
    summary="Level crest from wall to wall behind a rounded upstream corner.",
    dimensions=(CREST_WIDTH, CREST_LENGTH, CREST_HEIGHT),
    sources=(
        Source(
            "Morgenschweis 2010, Hydrometrie (Springer), eq. 5.19: the closed form of CD, there "
            "for the rectangular throat",
            Provenance.READ,
        ),
        Source(
            "ISO 4374: the same form for this weir, its limits, 2 (21 - 20 CD) %, modular limit "
            "0.63 of a vertical back (0.80 with one of 1 in 5)",
            Provenance.MEMORY,
        ),
    ),
    limits_text=(
        "Head from 0.06 m and 0.05 L to 0.57 L; h/p to 1.5; b from 0.30 m, from the head and from "
        "L/5; p from 0.15 m; the nose rounded by at least 0.2 of the greatest head. " + _FREE_ONLY
    ),
    tested_tolerance_pct=0.3,
    tested_table=Provenance.MEMORY,
    can_drown=True,
    correction=False,
    make=RoundNose,
    example={"b": 1.0, "L": 0.8, "p": 0.3},
)
TRIANGULAR = Family(
    key="triangular_profile",
    name="triangular-profile weir",
    summary="From wall to wall, rising 1 in 2 to a sharp crest and falling 1 in 5.",
    dimensions=(CREST_WIDTH, CREST_HEIGHT),
    sources=(
        Source(
            "ISO 4360 (Crump 1952, White 1971): 1.163 (1 - 0.0003/h)^1.5, that is 0.633 g^0.5 b "
            "H^1.5; limits, 10 Cv - 9 %, modular limit 0.75",
            Provenance.MEMORY,
        ),
    ),
    limits_text=(
        "Head from 0.06 m (0.03 m on smooth metal, not used) to b/2; h/p to 3.5; b from 0.30 m, "
        "p from 0.06 m. Only the head upstream is used, no tapping in the crest. " + _FREE_ONLY
    ),
    tested_tolerance_pct=0.5,
    tested_table=Provenance.MEMORY,
    can_drown=True,
    correction=False,
    make=Triangular,
    example={"b": 1.0, "p": 0.3},
)
