"""Long-throated flumes and sills of any section, by critical flow with the Bos coefficient.

Q = Cd Q_ideal(H1), Cd = (H1/L - 0.07)^0.018 for 0.1 <= H1/L <= 1.0, uncertainty
3 |H1/L - 0.55|^1.5 + 4 % (Clemmens, Wahl, Bos & Replogle 2001, ILRI Publ. 58; Bos 1989; from
memory). H1 = h + v1^2 / 2g is solved with the approach section. At H1/L = 0.07 and below Cd has no
value. Sizes are fixed proportions of portable sills and of inserts for round pipes.
"""

from functools import cached_property
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.channel import critical
from app.hydraulics.channel.compound import Compound
from app.hydraulics.channel.described import section
from app.hydraulics.channel.sections import Circle, Section
from app.hydraulics.families.long_throat.outline import throat_outline
from app.hydraulics.families.long_throat.shared import (
    MAX_FROUDE,
    Tail,
    energy_limit,
    head_slope,
    iso_flags,
    refuse_wide_throat,
    rule_of_thumb,
)
from app.hydraulics.structure.device import Device, Dims, Family, Flag, range_flags
from app.hydraulics.structure.outline import Outline
from app.hydraulics.structure.states import FreeFlow

LOWEST_H1_L = 0.07
PIPE_LIMIT = 0.9
"""Critical depth over diameter above which a round throat is no control to trust."""


def bos_coefficient(ratio: Floats) -> Floats:
    """Return Cd = (H1/L - 0.07)^0.018; NaN at H1/L of 0.07 and below."""
    above = np.asarray(ratio, float) - LOWEST_H1_L
    value = np.where(above > 0, above, 1.0) ** 0.018
    return np.where(above > 0, value, np.nan)


class LongThroat(Device):
    """A throat and an approach of any section."""

    def __init__(self, family: Family, dims: Dims) -> None:
        self.L, self.p = float(dims["L"]), float(dims["p"])
        self.throat = _section("throat", str(dims["throat"]), dims, _THROAT_KEYS)
        self.approach = _section("approach", str(dims["approach"]), dims, _APPROACH_KEYS)
        self.tail = Tail.of(dims, self.approach)
        if "b" in dims and dims["throat"] in ("rect", "trap"):
            refuse_wide_throat("b", float(dims["b"]), self.approach, self.p)
        highest = min(self.L, float(dims.get("h_max", np.inf)), self.throat.soffit_m)
        super().__init__(family, dims, 0.1 * self.L, highest)
        if self.head_max_m <= self.head_min_m:
            raise BadInput(
                "h_max",
                f"{highest:g}",
                f"must exceed a tenth of the throat length, {self.head_min_m:g} m",
                "Shorten L or check the height of the throat.",
            )
        self.head_floor_m = LOWEST_H1_L * self.L
        if isinstance(self.throat, Compound):
            self.breaks_m = self._ledge_heads()

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return discharge, m3/s, with Cd, Cv, total head and approach Froude number.

        NaN with OUTSIDE_BOS_LIMITS where H1/L is 0.07 or less, and with NO_CONTROL where the
        throat is not narrow enough to force critical flow.
        """
        found = critical.with_approach(
            self.throat, self.approach, head_m, self.p, lambda H: bos_coefficient(H / self.L)
        )
        total = found.total_head_m
        flowing = found.discharge_m3s > 0
        safe_total, depth = np.where(flowing, total, 1.0), np.where(flowing, found.depth_m, 0.5)
        area, width = self.throat.area(depth), self.throat.top_width(depth)
        u = safe_total * width / area
        cv = np.where(flowing, (safe_total / np.where(flowing, head_m, 1.0)) ** u, np.nan)
        froude = np.where(flowing, found.froude, 0.0)
        detail = {
            "coefficient": np.where(flowing, found.coefficient, np.nan),
            "velocity_coefficient": cv,
            "total_head_m": total,
            "froude": np.where(found.control, froude, np.nan),
            "critical_depth_m": found.depth_m,
        }
        flags = self._flags(head_m, found, safe_total, froude)
        # dQ/dH = Q (u + d ln Cd / d ln H) / H
        excess = np.maximum(safe_total / self.L - LOWEST_H1_L, 1e-9)
        to_total = found.discharge_m3s / safe_total * (u + 0.018 * safe_total / self.L / excess)
        surface = self.approach.top_width(head_m + self.p)
        slope = head_slope(found, surface, np.where(flowing, to_total, 0.0), flowing)
        dry = np.asarray(head_m) <= 0
        return FreeFlow(np.where(dry, 0.0, found.discharge_m3s), flags, detail, slope)

    def _flags(
        self, head_m: Floats, found: critical.Controlled, total: Floats, froude: Floats
    ) -> Any:
        flags = range_flags(self, head_m)
        ratio = total / self.L
        outside = (ratio < 0.1) | (ratio > 1.0) | (froude > MAX_FROUDE) | (head_m > self.head_max_m)
        outside |= ~(found.discharge_m3s > 0)
        flags |= outside * np.int64(Flag.OUTSIDE_BOS_LIMITS)
        share = self.throat.area(head_m) / np.maximum(found.approach_area_m2, 1e-12)
        mid = np.asarray(0.5 * self.head_max_m)
        width = float(self.throat.area(mid) / mid)
        to_width = 3.0 * float(self.dims["b"]) if self.dims["throat"] == "rect" else None
        flags |= iso_flags(head_m, self.L, width, share, froude, to_width)
        if self.dims["throat"] not in ("rect", "trap", "u"):
            flags |= np.int64(Flag.OUTSIDE_ISO_LIMITS)  # shapes the standard does not cover
        flags |= ~found.control * np.int64(Flag.NO_CONTROL)
        undefined = critical.ledge_band(self.throat, total)
        if isinstance(self.throat, Circle):
            undefined = found.depth_m > PIPE_LIMIT * self.throat.D
        return flags | undefined * np.int64(Flag.CONTROL_UNDEFINED)

    def coefficient_uncertainty_pct(self, head_m: Floats, free: FreeFlow) -> Floats:
        """Return 3 |H1/L - 0.55|^1.5 + 4, %, not less than the figure stated for the make."""
        ratio = np.nan_to_num(free.detail["total_head_m"] / self.L)
        pct: Floats = 3.0 * np.abs(ratio - 0.55) ** 1.5 + 4.0
        return np.maximum(pct, float(self.dims.get("coefficient_pct", 0.0)))

    def _ledge_heads(self) -> tuple[float, ...]:
        """Return the heads at which the control jumps from below a ledge to above it."""

        def depth_at(heads: Floats) -> Floats:
            return np.nan_to_num(self.free_flow(heads).detail["critical_depth_m"])

        heads = np.linspace(1.02 * self.head_floor_m, 1.3 * self.head_max_m, 801)
        depth = depth_at(heads)
        step = heads[1] - heads[0]
        jumps = np.flatnonzero(np.diff(depth) > 3.0 * step)  # critical depth grows slower than h
        low, high = heads[jumps], heads[jumps + 1]
        below = depth[jumps]
        for _ in range(36):
            mid = 0.5 * (low + high)
            stays = depth_at(mid) - below < 3.0 * step
            low, high = np.where(stays, mid, low), np.where(stays, high, mid)
        return tuple(float(h) for h in high)

    @cached_property
    def _limits(self) -> tuple[Floats, Floats, Floats]:
        heads = np.geomspace(1.02 * self.head_floor_m, 1.3 * self.head_max_m, 96)
        free = self.free_flow(heads)
        usable = free.discharge_m3s > 0
        heads, flow = heads[usable], free.discharge_m3s[usable]
        total, cd = free.detail["total_head_m"][usable], free.detail["coefficient"][usable]
        depth = free.detail["critical_depth_m"][usable]
        area, width = self.throat.area(depth), self.throat.top_width(depth)
        kept = cd ** (area / (total * width))
        ratio, h2 = energy_limit(self.tail, flow, total, kept, flow / area)
        return heads, ratio, np.minimum(ratio, h2 / heads)

    def limit_by_rule(self) -> float:
        """Return the limit stated for the make, else the rule of thumb for the exit (Bos 1989)."""
        if "modular_limit" in self.dims:
            return float(self.dims["modular_limit"])
        return rule_of_thumb(float(self.dims["exit_slope"]), abrupt=0.70)

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
        """Return the size, or the shape and length of the throat."""
        if "size" in self.dims:
            return self.family.sizes[str(self.dims["size"])]
        return f"{self.family.name}, {self.dims['throat']} throat, L {self.L:g} m, p {self.p:g} m"


# names of a section's dimensions (left) among the family's dimensions (right)
_THROAT_KEYS = {
    "b": "b",
    "m": "m",
    "D": "D",
    "f": "f",
    "f_T": "f_T",
    "f_y": "f_y",
    "points": "points",
}
_APPROACH_KEYS = {
    "b": "B",
    "m": "B_m",
    "D": "B_D",
    "f": "B_f",
    "f_T": "B_f_T",
    "f_y": "B_f_y",
    "points": "B_points",
}


def _section(role: str, kind: str, dims: Dims, keys: dict[str, str]) -> Section:
    given = {own: dims[key] for own, key in keys.items() if key in dims}
    try:
        return section(kind, given)
    except BadInput as error:
        key = keys.get(error.field, error.field)
        raise BadInput(
            key,
            "not given" if error.value is None else error.value,
            f"{error.rule} (the {role} is {kind})",
            f"Give {key}.",
        ) from error
