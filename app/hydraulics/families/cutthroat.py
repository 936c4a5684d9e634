"""Cutthroat flumes: flat floor, no parallel throat, named by length L and neck width W.

Free flow: Q = C ha^n with C = K W^1.025; n and K belong to the length (Skogerboe, Bennett &
Walker 1972/73). ha is read 2L/9 upstream of the neck, hb 5L/9 downstream, both over the floor.

Drowned flow has the form (ha - hb)^n / (-log10 S)^n2; it is used scaled to the free discharge at
the onset St, Q = Qfree [(1 - S) / (1 - St)]^n [log10 St / log10 S]^n2, capped at free flow.
"""

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import FOOT, INCH, coefficient_si
from app.hydraulics.structure.bounds import S_CEILING
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
from app.hydraulics.structure.outline import Line, Measure, Outline, Part, View, walls
from app.hydraulics.structure.states import FreeFlow

WIDTH_EXPONENT = 1.025
ONSET_BAND = 0.05
"""The onset of drowning varies with the flow (Torres & Merkley 2007); width common practice."""


# Length ft: n and K (US), read in a published table; St and n2 from memory (Skogerboe 1973).
LENGTH_FT = np.array([1.5, 3.0, 4.5, 9.0])
N = np.array([2.150, 1.840, 1.720, 1.560])
K_US = np.array([6.10, 4.50, 3.98, 3.50])
LIMIT = np.array([0.60, 0.65, 0.70, 0.80])
N2 = np.array([1.675, 1.480, 1.410, 1.390])
K_SI = np.array([coefficient_si(k, n, WIDTH_EXPONENT) for k, n in zip(K_US, N, strict=True)])

# Neck widths, in, and C (US) of the published table, length by length.
TABLE_US: dict[float, dict[float, float]] = {
    1.5: {1: 0.494, 2: 0.974, 4: 1.975, 8: 4.030},
    3.0: {2: 0.719, 4: 1.459, 8: 2.970, 16: 6.040},
    4.5: {3: 0.960, 6: 1.960, 12: 3.980, 24: 8.010},
    9.0: {12: 3.50, 24: 7.11, 48: 14.49, 72: 22.0},
}
# The smallest flume alone departs from K W^1.025 (by 3.4 %): its own C is used, fading out to 2 in.
SMALLEST_RATIO = 0.494 / (6.10 * (1 / 12) ** WIDTH_EXPONENT)
AS_STANDARD = 0.005  # a length within 0.5 % of a tested one is that one, built to tolerance

SIZES = {
    f"{length:g}ftx{width:g}in": (length * FOOT, width * INCH)
    for length, widths in TABLE_US.items()
    for width in widths
}


class Cutthroat(Device):
    """A cutthroat flume; see the module for equations and sources."""

    modular_limit_uncertainty = ONSET_BAND

    def __init__(self, family: Family, dims: Dims) -> None:
        self.length_m, self.width_m = float(dims["L"]), float(dims["W"])
        head_min = max(0.03, 0.1 * self.length_m)
        super().__init__(family, dims, head_min, 0.4 * self.length_m)
        tested = LENGTH_FT * FOOT
        near = int(np.argmin(np.abs(np.log(self.length_m / tested))))
        self.standard = bool(abs(self.length_m / tested[near] - 1.0) <= AS_STANDARD)
        at = np.log(tested[near] if self.standard else self.length_m)
        self.n = float(np.interp(at, np.log(tested), N))
        self.n2 = float(np.interp(at, np.log(tested), N2))
        self.limit = float(np.interp(at, np.log(tested), LIMIT))
        self.K = float(np.exp(np.interp(at, np.log(tested), np.log(K_SI))))
        self.C = self.K * self.width_m**WIDTH_EXPONENT
        if self.standard and near == 0:
            self.C *= float(np.interp(self.width_m, [INCH, 2 * INCH], [SMALLEST_RATIO, 1.0]))
        # the 1 in neck lies outside the tested range though it is in the table
        widths = [width * INCH for width in TABLE_US[float(LENGTH_FT[near])] if width > 1]
        inside = min(widths) * 0.98 <= self.width_m <= max(widths) * 1.02
        self.geometry = 0 if self.standard and inside else int(Flag.GEOMETRY_OUTSIDE_LIMITS)
        self.device_pct = 5.0 if self.standard else 8.0

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = C ha^n, m3/s, at heads ha in m over the floor."""
        discharge: Floats = self.C * np.maximum(head_m, 0.0) ** self.n
        flags = range_flags(self, head_m) | self.geometry
        return FreeFlow(discharge, flags, {"coefficient": np.full(np.shape(head_m), self.C)})

    def exponent(self, head_m: Floats) -> float:
        return self.n

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return the onset of drowning St of the flume's length."""
        return np.full(np.shape(head_m), self.limit)

    def drowned_factor(self, head_m: Floats, submergence_ratio: Floats) -> Floats:
        """Return the scaled drowned shape, 1 up to the onset."""
        S = np.clip(submergence_ratio, self.limit, S_CEILING)
        shape = ((1.0 - S) / (1.0 - self.limit)) ** self.n
        factor: Floats = shape * (np.log10(self.limit) / np.log10(S)) ** self.n2
        return np.minimum(factor, 1.0)

    def submergence_uncertainty_pct(self, submergence_ratio: Floats) -> Floats:
        """Return 5 % up to S 0.80, 8 % at 0.90, 12 % at 0.95 (common practice)."""
        return np.interp(submergence_ratio, [0.80, 0.90, 0.95], [5.0, 8.0, 12.0])

    def outline(self) -> Outline:
        """Return the plan 3:1 in and 6:1 out, taps at 2L/9 and 5L/9 from the neck."""
        L, W = self.length_m, self.width_m
        neck, wide = L / 3.0, W + 2.0 * L / 9.0
        derived = Source("Walls 3:1 in and 6:1 out, taps of the module", Provenance.DERIVED)
        head = self.head_max_m
        parts = (
            Part("W", "Neck width", W, "throat width, ISO", "W"),
            Part("L", "Whole length along the floor", L, "throat length, ISO", "L"),
            Part("L1", "Converging part", neck, "other surface, ISO", None, derived),
            Part("B1", "Entrance width", wide, "other surface, ISO", None, derived),
            Part("B2", "Exit width", wide, "other surface, ISO", None, derived),
            Part("a", "Head tap, upstream of the neck", 2.0 * L / 9.0, "site, 5 mm", None, derived),
            Part("c", "Tail tap, below the neck", 5.0 * L / 9.0, "site, 5 mm", None, derived),
        )
        plan = View(
            "Plan",
            walls(((0.0, wide), (neck, W), (L, wide))),
            (
                Measure("W", (neck, -W / 2), (neck, W / 2)),
                Measure("B1", (0.0, -wide / 2), (0.0, wide / 2)),
                Measure("B2", (L, -wide / 2), (L, wide / 2)),
                Measure("a", (neck - 2 * L / 9, -W / 2 - L / 13.5), (neck, -W / 2 - L / 13.5)),
                Measure("c", (neck, W / 2 + L / 10.8), (neck + 5 * L / 9, W / 2 + L / 10.8)),
            ),
        )
        side = View(
            "Long section",
            (
                Line(((0.0, 0.0), (L, 0.0)), "floor"),
                Line(((0.0, head), (L, head)), "usual"),
                Line(((0.0, 0.0), (0.0, head)), "usual"),
                Line(((L, 0.0), (L, head)), "usual"),
            ),
            (Measure("L", (0.0, 0.0), (L, 0.0)), Measure("L1", (0.0, head), (neck, head))),
        )
        note = "The floor is level and flat throughout; both heads are over it. Walls are upright."
        return Outline(parts, (plan, side), note)

    def describe(self) -> str:
        size = f" {self.dims['size']}," if "size" in self.dims else ""
        return f"Cutthroat flume,{size} length {self.length_m:g} m, neck {self.width_m:g} m"


FAMILY = Family(
    key="cutthroat",
    name="cutthroat flume",
    summary="Flat floor, walls converging 3:1 to a neck and diverging 6:1 from it.",
    dimensions=(
        Dimension(
            key="size",
            label="Size",
            unit="",
            kind="choice",
            required=False,
            choices=tuple(SIZES),
            help="Length by neck width, such as 3ftx8in; gives L and W.",
        ),
        Dimension(
            key="L",
            label="Length",
            low=0.45,
            high=2.75,
            help="Whole length along the floor; tested at 0.457, 0.914, 1.372 and 2.743 m.",
            aliases=("length",),
        ),
        Dimension(
            key="W",
            label="Neck width",
            low=0.02,
            high=3.0,
            tolerance=0.002,
            help="Least width, between the walls at the neck.",
            aliases=("b", "width"),
        ),
    ),
    sources=(
        Source(
            "Cutthroat tables in an encyclopaedia article and on a flume maker's characteristics "
            "page: n, K and C of each size; K W^1.025 within 0.3 %, 4.5 ft x 24 in 1.1 %, "
            "1.5 ft x 1 in 3.4 % (its own C is used)",
            Provenance.READ,
        ),
        Source(
            "Skogerboe, Bennett & Walker 1973: form of the drowned equation, read in a "
            "water-management manual (vol. 13/16); it is used to a submergence of 0.95. The same "
            "manual spans n 1.54 to 2.00, so that 2.15 of the shortest flume is not agreed",
            Provenance.READ,
        ),
        Source("Skogerboe et al. 1973: onset St and n2 of each length", Provenance.MEMORY),
        Source(
            "Torres & Merkley 2007, abstract: the onset of drowning is no constant of the flume, "
            "it varies with the flow and the change is not sharp",
            Provenance.READ,
        ),
        Source(
            "Band of 0.05 below the onset, inside which a reading is assumed free and its "
            "uncertainty grows to that of a drowned one",
            Provenance.PRACTICE,
        ),
        Source("Drowned equation scaled to equal free flow at its onset", Provenance.DERIVED),
        Source(
            "Values between the tested lengths: n, St, n2 and ln K linear in ln L; flagged",
            Provenance.DERIVED,
        ),
    ),
    limits_text=(
        "Head over length 0.1 to 0.4 and at least 0.03 m; best below 0.33. Lengths between the "
        "tested four, and necks outside the tested widths, are computed and flagged. Drowned "
        "readings are corrected to a submergence of 0.95, with a warning above 0.90. From 0.05 "
        "below the onset of drowning a reading is assumed free, flagged and less certain, because "
        "the onset varies with the flow. Uncertainty "
        "below 5 % is not supported for built flumes."
    ),
    tested_tolerance_pct=1.2,
    tested_table=Provenance.READ,
    can_drown=True,
    correction=True,
    make=Cutthroat,
    sizes={key: key.replace("ftx", " ft x ").replace("in", " in") for key in SIZES},
    presets={key: {"L": length, "W": width} for key, (length, width) in SIZES.items()},
    example={"size": "3ftx8in"},
)
