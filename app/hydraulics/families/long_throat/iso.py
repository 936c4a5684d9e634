"""Rectangular, trapezoidal and U-throated flumes by the boundary-layer method of ISO 4359.

The throat is narrowed by the displacement thickness d = 0.003 L (well finished; 0.004 to 0.006
rough or small): b_e = b - 2 d (rectangle and U), b_e = b - 2 d [sqrt(1 + m^2) - m] (trapezoid),
H_e = H - d, and Q is the ideal critical flow of the narrowed section. CD = Q / Q_ideal(section, H),
Cv = (H / h)^u, H = h + v^2 / 2g. For a rectangle this is the closed form
CD = (1 - 0.006 L/b)(1 - 0.003 L/H)^1.5, printed with h for H (Morgenschweis 2010, eq. 5.19, read).
"""

from functools import cached_property

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel import critical
from app.hydraulics.channel.at_flow import critical_at
from app.hydraulics.channel.sections import Rectangle, Section, Trapezoid, UShape
from app.hydraulics.families.long_throat.outline import throat_outline
from app.hydraulics.families.long_throat.shared import (
    APPROACH_SLOPE,
    ISO_EXTENDED_H_L,
    ISO_FULL_H_L,
    SILL,
    TAIL,
    THROAT_LENGTH,
    Tail,
    energy_limit,
    head_slope,
    iso_flags,
    length,
    refuse_wide_throat,
    rule_of_thumb,
)
from app.hydraulics.families.long_throat.sources import (
    ISO_LIMITS_TEXT,
    METHOD,
    MODULAR_LIMIT,
    READ,
    SHRUNK,
)
from app.hydraulics.structure.device import (
    Device,
    Dimension,
    Dims,
    Family,
    Flag,
    Provenance,
    range_flags,
)
from app.hydraulics.structure.outline import Outline
from app.hydraulics.structure.states import FreeFlow
from app.hydraulics.structure.total_head import ByTotalHead


class IsoThroat(Device, ByTotalHead):
    """A throat of any of the three shapes; subclasses state the shape and its constants."""

    base_pct = 1.5
    head_to_width: float | None = None

    def __init__(self, family: Family, dims: Dims, throat: Section, width_m: float) -> None:
        self.L, self.p = float(dims["L"]), float(dims["p"])
        self.throat, self.width_m = throat, width_m
        self.approach = Trapezoid(float(dims["B"]), float(dims["B_m"]))
        self.displacement_m = float(dims["delta_ratio"]) * self.L
        self.narrowed = throat.narrowed(self.displacement_m)
        self.tail = Tail.of(dims, self.approach)
        refuse_wide_throat("D" if "D" in dims else "b", width_m, self.approach, self.p)
        highest = min(2.0, ISO_EXTENDED_H_L * self.L)
        if self.head_to_width is not None:
            highest = min(highest, self.head_to_width)
        if 2.0 * self.displacement_m >= highest:
            raise BadInput(
                "L",
                f"{self.L:g} m",
                f"leaves no head: the boundary layer would fill half of {highest:g} m",
                "Shorten the throat, or check L and delta_ratio.",
            )
        super().__init__(family, dims, min(max(0.05, 0.05 * self.L), 0.5 * highest), highest)
        self.head_floor_m = self.displacement_m

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return discharge, m3/s, with CD, Cv, total head and approach Froude number.

        NaN with NO_CONTROL where the throat is not narrow enough to force critical flow.
        """
        d = self.displacement_m
        # energy over the bed of the boundary layer: head and sill both shift by d
        found = critical.with_approach(
            self.narrowed, self.approach, head_m - d, self.p + d, np.ones_like
        )
        total = found.total_head_m + d
        flowing = found.discharge_m3s > 0
        safe_total = np.where(flowing, total, 1.0)
        ideal, depth = critical.critical_discharge(self.throat, safe_total)
        cd = np.where(flowing, found.discharge_m3s / ideal, np.nan)
        u = safe_total * self.throat.top_width(depth) / self.throat.area(depth)
        cv = np.where(flowing, (safe_total / np.where(flowing, head_m, 1.0)) ** u, np.nan)
        area_ratio = np.where(
            flowing, self.throat.area(head_m) / np.maximum(found.approach_area_m2, 1e-12), 0.0
        )
        froude = np.where(flowing, found.froude, 0.0)
        flags = range_flags(self, head_m)
        flags |= iso_flags(head_m, self.L, self.width_m, area_ratio, froude, self.head_to_width)
        flags |= ~found.control * np.int64(Flag.NO_CONTROL)
        detail = {
            "coefficient": cd,
            "velocity_coefficient": cv,
            "total_head_m": np.where(flowing, total, np.where(found.control, head_m, np.nan)),
            "froude": np.where(found.control, froude, np.nan),
            "critical_depth_m": found.depth_m,
        }
        depth = np.where(flowing, found.depth_m, 1.0)
        to_total = np.sqrt(G * self.narrowed.area(depth) * self.narrowed.top_width(depth))
        width = self.approach.top_width(head_m + self.p)
        return FreeFlow(
            found.discharge_m3s, flags, detail, head_slope(found, width, to_total, flowing)
        )

    def total_head_m(self, discharge_m3s: Floats) -> Floats:
        """Return the critical energy of the narrowed section plus the boundary layer, m."""
        depth = critical_at(self.narrowed, discharge_m3s)
        area, width = self.narrowed.area(depth), self.narrowed.top_width(depth)
        total: Floats = depth + 0.5 * area / width + self.displacement_m
        return total

    def coefficient_uncertainty_pct(self, head_m: Floats, free: FreeFlow) -> Floats:
        """Return X_c = base + 20 (Cv - CD), and 2 more above h/L 0.50 (ISO 4359, from memory)."""
        gap = np.maximum(free.detail["velocity_coefficient"] - free.detail["coefficient"], 0.0)
        pct: Floats = self.base_pct + 20.0 * np.nan_to_num(gap, nan=1.0)
        return pct + 2.0 * (head_m > ISO_FULL_H_L * self.L)

    @cached_property
    def _limits(self) -> tuple[Floats, Floats, Floats]:
        low = max(0.3 * self.head_min_m, 2.0 * self.displacement_m)
        heads = np.geomspace(low, 1.3 * self.head_max_m, 96)
        free = self.free_flow(heads)
        usable = free.discharge_m3s > 0
        heads, flow = heads[usable], free.discharge_m3s[usable]
        total, cd = free.detail["total_head_m"][usable], free.detail["coefficient"][usable]
        depth = critical.critical_depth(self.throat, total)
        area, width = self.throat.area(depth), self.throat.top_width(depth)
        kept = cd ** (area / (total * width))
        ratio, h2 = energy_limit(self.tail, flow, total, kept, flow / area)
        return heads, ratio, np.minimum(ratio, h2 / heads)

    def limit_by_rule(self) -> float:
        """Return 0.80 H1, 0.74 with an abrupt end (ISO 4359, from memory), less by ramp."""
        return rule_of_thumb(float(self.dims["exit_slope"]), abrupt=0.74, ceiling=0.80)

    def limit_by_energy(self, head_m: Floats) -> Floats:
        """Return the energy method's H2/H1."""
        heads, ratio, _ = self._limits
        return np.interp(head_m, heads, ratio) if heads.size else np.zeros(np.shape(head_m))

    def compare_limits(self, head_m: Floats) -> dict[str, Floats]:
        """Return the rule of thumb and the energy method's H2/H1."""
        return {
            "modular_limit_by_rule": np.asarray(self.limit_by_rule()),
            "modular_limit_by_energy": self.limit_by_energy(head_m),
        }

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return the lower of the rule of thumb and the energy method, as a ratio of heads."""
        heads, _, by_energy = self._limits
        if not heads.size:
            return np.full(np.shape(head_m), self.limit_by_rule())
        return np.minimum(np.interp(head_m, heads, by_energy), self.limit_by_rule())

    def outline(self) -> Outline:
        """Return plan, long section and throat section."""
        return throat_outline(self, self.throat, self.approach)

    def describe(self) -> str:
        """Return the name with the figures that set the rating apart."""
        key = "D" if "D" in self.dims else "b"
        slope = f", m {self.dims['m']:g}" if "m" in self.dims else ""
        name = self.family.name[0].upper() + self.family.name[1:]
        return f"{name}, {key} {self.width_m:g} m{slope}, L {self.L:g} m, p {self.p:g} m"


class RectThroat(IsoThroat):
    """Rectangular throat: X_c = 1 + 20 (Cv - CD), and h at most 3 b."""

    base_pct = 1.0

    def __init__(self, family: Family, dims: Dims) -> None:
        b = float(dims["b"])
        self.head_to_width = 3.0 * b
        super().__init__(family, dims, Rectangle(b), b)


class TrapThroat(IsoThroat):
    """Trapezoidal throat: X_c = 1.5 + 20 (Cv - CD)."""

    def __init__(self, family: Family, dims: Dims) -> None:
        b, m = float(dims["b"]), float(dims["m"])
        super().__init__(family, dims, Trapezoid(b, m), b)


class UThroat(IsoThroat):
    """U throat: half circle under vertical walls; X_c = 1.5 + 20 (Cv - CD)."""

    def __init__(self, family: Family, dims: Dims) -> None:
        D = float(dims["D"])
        super().__init__(family, dims, UShape(D), D)


_APPROACH = (
    length("B", "Approach bottom width", 0.01, aliases=("approach_B", "approach_b"), race="width"),
    APPROACH_SLOPE,
)
_DELTA = Dimension(
    key="delta_ratio",
    label="Displacement thickness over throat length",
    unit="",
    kind="count",
    required=False,
    default=0.003,
    low=0.0,
    high=0.02,
    help="0.003 well finished; 0.004 to 0.006 rough or small.",
)
_THROAT_WIDTH = length("b", "Throat bottom width", 0.002, aliases=("W", "width"))


def _family(
    key: str,
    name: str,
    summary: str,
    *,
    own: tuple[Dimension, ...],
    width: str,
    make: type[RectThroat] | type[TrapThroat] | type[UThroat],
    example: Dims,
    kinds: tuple[str, ...],
) -> Family:
    return Family(
        key=key,
        name=name,
        summary=summary,
        dimensions=(*own, THROAT_LENGTH, SILL, *_APPROACH, _DELTA, *TAIL),
        sources=(READ, METHOD, SHRUNK, MODULAR_LIMIT),
        limits_text=ISO_LIMITS_TEXT.format(width=width),
        tested_tolerance_pct=0.3,
        tested_table=Provenance.DERIVED,
        can_drown=True,
        correction=False,
        make=make,
        example=example,
        implied={"throat": kinds, "kind": kinds, "approach": ("rect", "trap")},
    )


RECT = _family(
    "long_throat_rect",
    "rectangular long-throated flume",
    "Level rectangular throat, ISO 4359.",
    own=(_THROAT_WIDTH,),
    width="h/b at most 3; b at least 0.10 m; ",
    make=RectThroat,
    example={"b": 0.5, "L": 1.0, "p": 0.1, "B": 1.0},
    kinds=("rect", "rectangular"),
)
TRAP = _family(
    "long_throat_trap",
    "trapezoidal long-throated flume",
    "Level trapezoidal throat, ISO 4359.",
    own=(
        _THROAT_WIDTH,
        Dimension(
            key="m",
            label="Throat side slope, horizontal to 1 vertical",
            unit="",
            kind="slope",
            low=0.0,
            high=10.0,
            tolerance=0.01,
            aliases=("z",),
        ),
    ),
    width="b at least 0.10 m; ",
    make=TrapThroat,
    example={"b": 0.3, "m": 0.5, "L": 1.0, "p": 0.15, "B": 1.0, "B_m": 0.5},
    kinds=("trap", "trapezoidal"),
)
U = _family(
    "long_throat_u",
    "U-throated flume",
    "Half-round throat under vertical walls, ISO 4359.",
    own=(length("D", "Throat diameter", 0.002, aliases=("d", "b", "W")),),
    width="D at least 0.10 m; ",
    make=UThroat,
    example={"D": 0.3, "L": 0.6, "p": 0.05, "B": 0.6},
    kinds=("u",),
)
