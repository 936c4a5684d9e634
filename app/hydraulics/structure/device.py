"""What a family of measuring structures says of itself, and what a built device can answer.

A new family is one file that fills in `Family` and subclasses `Device`, and one line in
`app.hydraulics.families.registry`. Forms, tables, sources and exports read nothing else.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.structure import bounds
from app.hydraulics.structure.dimension import TESTED_AGAINST
from app.hydraulics.structure.dimension import Dimension as Dimension
from app.hydraulics.structure.dimension import Dims as Dims
from app.hydraulics.structure.dimension import Provenance as Provenance
from app.hydraulics.structure.dimension import Source as Source
from app.hydraulics.structure.dimension import canonical as canonical
from app.hydraulics.structure.outline import Outline
from app.hydraulics.structure.states import Flag as Flag
from app.hydraulics.structure.states import Flags, FreeFlow
from app.hydraulics.structure.states import Flow as Flow
from app.hydraulics.structure.states import flag_words as flag_words

FittedDims = Callable[[Sequence[Mapping[str, float]], float, float | None], Dims]


@dataclass(frozen=True, kw_only=True)
class Family:
    """A family of structures: its dimensions, sizes, sources and limits.

    `make(family, dims)` receives checked dimensions with defaults filled in. `presets` maps a size
    key to dimensions; dimensions given beside it replace the preset's. `implied` names
    things a person may state although the family leaves no choice: key to the values that hold.
    `fitted_dims` is set by the family that can hold a fit: from its power segments, uncertainty
    in % and modular limit (None when unknown) to dimensions. `tested_table` is how the figures
    behind `tested_tolerance_pct` were come by.
    """

    key: str
    name: str
    summary: str
    dimensions: tuple[Dimension, ...]
    sources: tuple[Source, ...]
    limits_text: str
    tested_tolerance_pct: float
    tested_table: Provenance
    can_drown: bool
    correction: bool
    make: Callable[["Family", Dims], "Device"]
    sizes: Mapping[str, str] = field(default_factory=dict)
    presets: Mapping[str, Mapping[str, str | float]] = field(default_factory=dict)
    example: Mapping[str, str | float] = field(default_factory=dict)
    implied: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    fitted_dims: "FittedDims | None" = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "dimensions", (*self.dimensions, *bounds.BOUNDS))

    @property
    def tested_words(self) -> str:
        """Say within how much of what the family is tested: a table read, remembered, or none."""
        return f"{self.tested_tolerance_pct:g} % {TESTED_AGAINST[self.tested_table]}"

    def build(self, dims: Mapping[str, str | float]) -> "Device":
        """Check the dimensions and build the device.

        Raises
        ------
        BadInput
            Naming the dimension, the value, the rule and the remedy.
        """
        given, stated = bounds.parted(self.normalise(dims))
        device = self.make(self, given)
        device.dims = {**device.dims, **stated}
        return device

    def normalise(self, dims: Mapping[str, str | float]) -> Dims:
        """Return the dimensions in SI under their own keys, defaults filled in.

        Raises
        ------
        BadInput
            For an unknown, missing or impossible dimension.
        """
        given: Dims = {}
        for key, value in dims.items():
            if value is None or (isinstance(value, str) and not value.strip()):
                continue  # an empty form field is a dimension not given
            if key in self.implied:
                self._check_implied(key, str(value))
                continue
            dimension = self._dimension(key)
            if dimension.key in given:
                raise BadInput(dimension.key, value, "is given twice", "Give each dimension once.")
            given[dimension.key] = dimension.parse(value)
        preset = self.presets.get(str(given.get("size", "")), {})
        given = {**preset, **given}
        for dimension in self.dimensions:
            if dimension.key in given:
                continue
            if dimension.default is not None:
                given[dimension.key] = dimension.default
            elif dimension.required:
                raise BadInput(
                    dimension.key,
                    "not given",
                    f"{dimension.label} is needed for the {self.name}",
                    f"Add {dimension.key}. {dimension.help}".strip(),
                )
        order = [d.key for d in self.dimensions]
        return dict(sorted(given.items(), key=lambda item: order.index(item[0])))

    def _check_implied(self, key: str, value: str) -> None:
        held = self.implied[key]
        if canonical(value) not in {canonical(text) for text in held}:
            raise BadInput(
                key,
                value,
                f"is {' or '.join(held)} for the {self.name}",
                "Leave it out, or choose another family.",
            )

    def _dimension(self, key: str) -> Dimension:
        for dimension in self.dimensions:
            if key == dimension.key:
                return dimension
        for dimension in self.dimensions:
            if key in dimension.aliases or key.lower() == dimension.key.lower():
                return dimension
        raise BadInput(
            key,
            "given",
            f"is no dimension of the {self.name}",
            "Use one of: " + ", ".join(d.key for d in self.dimensions) + ".",
        )


class Device(ABC):
    """A built structure that answers for its discharge.

    Subclasses set `family`, `dims`, `head_min_m`, `head_max_m` and implement `free_flow`; the
    rest has defaults. All methods take and return arrays, never raise numpy warnings, and accept
    any finite head (nothing flows at or below `cease_to_flow_m`).
    """

    cease_to_flow_m: float = 0.0
    head_floor_m: float = 0.0
    """Lowest head at which the equation has a value; 0 for most devices."""
    breaks_m: tuple[float, ...] = ()
    """Heads where the equation changes."""
    modular_limit_uncertainty: float = 0.0
    """How far below its modular limit the structure may begin to drown, as a ratio (k = 2)."""
    drowned_breaks: tuple[float, ...] = ()
    """Ratios where the drowned factor has a corner."""
    max_submergence: float = bounds.CORRECTED_TO
    """Ratio above which a drowned discharge is not determined even where a correction exists."""
    device_pct: float = 5.0
    """Uncertainty of the coefficient where a family states a single figure."""

    def __init__(self, family: Family, dims: Dims, head_min_m: float, head_max_m: float) -> None:
        self.family = family
        self.dims = dims
        self.head_min_m = float(head_min_m)
        self.head_max_m = float(head_max_m)

    @property
    def sources(self) -> tuple[Source, ...]:
        """Sources of this very device; a family's unless a size has its own."""
        return self.family.sources

    @property
    def can_drown(self) -> bool:
        """True when a high tailwater can change the discharge."""
        return self.family.can_drown and "cannot_drown" not in self.dims

    @property
    def limit_known(self) -> bool:
        """True when somebody stated from which submergence on it drowns."""
        return True

    @property
    def head_limit_m(self) -> float:
        """Head above which no discharge is given: so many times the top head, m."""
        return bounds.head_limit_m(self.dims, self.head_max_m, self.cease_to_flow_m)

    @property
    def correction(self) -> bool:
        """True when a drowned reading can be corrected."""
        return self.family.correction

    @abstractmethod
    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return free discharge, range flags and detail at the heads (m over the zero)."""

    def exponent(self, head_m: Floats) -> Floats | float:
        """Return d ln Q / d ln h at the heads; finite differences unless a family knows it."""
        known = self.free_flow(head_m).log_slope_per_m
        if known is not None:
            return known * head_m
        step = 1e-5
        low = self.free_flow(head_m * (1.0 - step)).discharge_m3s
        high = self.free_flow(head_m * (1.0 + step)).discharge_m3s
        ratio = np.divide(high, low, out=np.ones_like(high), where=low > 0)
        result: Floats = np.log(ratio) / (2.0 * step)
        return result

    def log_slope(self, head_m: Floats) -> Floats:
        """Return d ln Q / dh, 1/m: what an error of the head does to the discharge."""
        slope: Floats = np.divide(self.exponent(head_m), np.maximum(head_m, 1e-6))
        return slope

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return the submergence up to which the flow is free; the lowest published."""
        return np.full(np.shape(head_m), np.nan)

    def drowned_factor(self, head_m: Floats, submergence_ratio: Floats) -> Floats | None:
        """Return Q / Q_free, 1 up to the modular limit; None where no correction is trusted."""
        return None

    def submergence_uncertainty_pct(self, submergence_ratio: Floats) -> Floats:
        """Return the uncertainty of the correction itself, %, for drowned ratios."""
        return np.zeros(np.shape(submergence_ratio))

    def coefficient_uncertainty_pct(self, head_m: Floats, free: FreeFlow) -> Floats | float:
        """Return the uncertainty of the device's coefficient, %, k = 2."""
        return self.device_pct

    def dimension_uncertainty_pct(self, head_m: Floats) -> Floats | float:
        """Return the share of the as-built tolerances, %, k = 2.

        Every numeric dimension with a tolerance is moved by it, the device rebuilt, and the
        relative changes added in quadrature on a grid of heads.
        """
        grid, share = self._dimension_grid
        if grid.size == 0:
            return 0.0
        return np.interp(np.log(np.maximum(head_m, 1e-9)), grid, share)

    @cached_property
    def _dimension_grid(self) -> tuple[Floats, Floats]:
        moved = [d for d in self.family.dimensions if d.tolerance > 0 and d.key in self.dims]
        moved = [d for d in moved if isinstance(self.dims[d.key], float)]
        if not moved:
            return np.empty(0), np.empty(0)
        low = max(self.head_min_m * 0.2, self.head_floor_m * 1.02, self.cease_to_flow_m + 1e-3)
        heads = np.geomspace(max(low, 1e-3), self.head_max_m * 1.3, 64)
        base = self.free_flow(heads).discharge_m3s
        total = np.zeros_like(heads)
        for dimension in moved:
            value = float(self.dims[dimension.key])
            runs = []
            tolerance = dimension.tolerance
            if dimension.kind == "length":  # small things are built more closely
                tolerance = min(tolerance, 0.01 * value)
            for trial in (value + tolerance, value - tolerance):
                try:
                    built = self.family.build({**self.dims, dimension.key: trial})
                    runs.append(built.free_flow(heads).discharge_m3s)
                except BadInput:  # at the edge of what can be built: one-sided
                    runs.append(base)
            sides = 2.0 if runs[0] is not base and runs[1] is not base else 1.0
            usable = (base > 0) & np.isfinite(runs[0]) & np.isfinite(runs[1])
            change = np.zeros_like(heads)
            np.divide(runs[0] - runs[1], sides * base, out=change, where=usable)
            total += change**2
        share: Floats = 100.0 * np.sqrt(total)
        defined = np.isfinite(base) & (base > 0)
        return np.log(heads[defined]), share[defined]

    def compare_submerged(self, head_m: Floats, tailwater_m: Floats) -> dict[str, Floats]:
        """Return discharges by other published methods, for comparison only."""
        return {}

    def outline(self) -> Outline | None:
        """Return the picture and the parts to measure; None where a rating has no dimensions."""
        return None

    def compare_limits(self, head_m: Floats) -> dict[str, Floats]:
        """Return every published modular limit that was weighed, by name."""
        return {}

    def describe(self) -> str:
        """Return one line a person recognises the structure by."""
        own, _ = bounds.parted(self.dims)
        parts = [f"{key} {v:g}" if isinstance(v, float) else f"{v}" for key, v in own.items()]
        return f"{self.family.name}, " + ", ".join(parts)


def range_flags(device: Device, head_m: Floats) -> Flags:
    """Return BELOW_RANGE and ABOVE_RANGE bits for the heads."""
    flags: Flags = (head_m < device.head_min_m).astype(np.int64)  # BELOW_RANGE is bit 0
    above = head_m > device.head_max_m
    if above.any():
        flags |= above.astype(np.int64) << 1
    return flags
