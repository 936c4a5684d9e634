"""Parshall flumes: 22 sizes in feet and inches, and the metric sizes of ISO 9826:1992.

Free flow: Q = C ha^n, with ha in the converging section over its level floor and hb near the
end of the throat over the same floor. A size is a complete set of dimensions: nothing is scaled
or interpolated between sizes.

Drowned flow (Skogerboe, Hyatt, England & Johnson 1967):
Qs = C1 (ha - hb)^n1 / [-(log10 S + C2)]^n2 with C2 = 0.0044, in feet. That form jumps by up to
2.8 % at its own onset St, so the shape phi(S) = (1 - S)^n1 / [-(log10 S + C2)]^n2 is used scaled:
Q = Qfree phi(S) / phi(St), continuous, never above free flow, and held where phi(S) would rise
again (from S = 0.9435 at the widest sizes; it would be 0.2 % at S = 0.95). Parshall's loss term of
1936 (1 to 8 ft) and the unscaled form are returned for comparison.
"""

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import FOOT, coefficient_si
from app.hydraulics.families.parshall.outline import parshall_outline
from app.hydraulics.families.parshall.sizes import ISO_RANGE_READ, ISO_SIZES, SIZES, US_SIZES
from app.hydraulics.families.parshall.sources import (
    BOS,
    BUILT,
    ISO,
    ISO_BORROWED,
    ISO_RANGE,
    ISO_RANGE_BORROWED,
    LOSS,
    READ_2FT,
    SCALED_SHAPE,
    SKOGERBOE,
    SKOGERBOE_FORM,
)
from app.hydraulics.structure.bounds import S_CEILING
from app.hydraulics.structure.device import (
    Device,
    Dimension,
    Dims,
    Family,
    Provenance,
    Source,
    range_flags,
)
from app.hydraulics.structure.outline import Outline
from app.hydraulics.structure.states import FreeFlow

C2 = 0.0044
"""Skogerboe et al. 1967; read in a water-management manual (vol. 13/16, transcription)."""

BUILT_WITHIN = 0.02
"""A throat further from its named width than this share is another flume (common practice)."""


def turning_ratio(n1: float, n2: float) -> float:
    """Return the submergence at which phi(S) is least; beyond it the fitted form rises again.

    The root of d ln phi / dS = -n1 / (1 - S) + n2 / (S ln 10 [-(log10 S + C2)]), by bisection;
    0.9435 for the widest flumes, over 0.95 for the narrow ones.
    """
    low, high = 0.8, S_CEILING
    for _ in range(60):
        S = (low + high) / 2.0
        rises = n2 / (S * np.log(10.0) * -(np.log10(S) + C2)) > n1 / (1.0 - S)
        low, high = (low, S) if rises else (S, high)
    return float((low + high) / 2.0)


def drowned_shape(submergence_ratio: Floats, n1: float, n2: float) -> Floats:
    """Return phi(S) = (1 - S)^n1 / [-(log10 S + C2)]^n2 (Skogerboe et al. 1967).

    Parameters
    ----------
    submergence_ratio : array, dimensionless
        Clamped to 0.01..0.985, inside which the shape is defined.
    """
    S = np.clip(submergence_ratio, 0.01, S_CEILING)
    shape: Floats = (1.0 - S) ** n1 / (-(np.log10(S) + C2)) ** n2
    return shape


class Parshall(Device):
    """A Parshall flume of one size; see the module for equations and sources."""

    device_pct = 3.0  # well-built flume, free flow: ISO 9826:1992 about 3 %, from memory

    def __init__(self, family: Family, dims: Dims) -> None:
        self.size = SIZES[str(dims["size"])]
        super().__init__(family, dims, self.size.head_min_m, self.size.head_max_m)
        self.built = float(dims.get("W_built", self.size.width_m)) / self.size.width_m
        if abs(self.built - 1.0) > BUILT_WITHIN:
            raise BadInput(
                "W_built",
                dims["W_built"],
                f"is not within 2 % of the {self.size.width_m:g} m of this size",
                "Check size and figure; a flume of no named size needs a rating of its own.",
            )
        self.C = self.size.C * self.built
        # a drowned flow does not rise with its tailwater: the form is held where it turns
        self.held_at = turning_ratio(self.size.n1, self.size.n2)
        self.drowned_breaks = (self.size.limit_by_test, self.held_at)
        self._phi_at_onset = float(
            drowned_shape(np.asarray(self.size.limit_by_test), self.size.n1, self.size.n2)
        )

    @property
    def sources(self) -> tuple[Source, ...]:
        """Return the sources of this very size."""
        key = str(self.dims["size"])
        free: tuple[Source, ...] = (BOS,)
        if key in ISO_SIZES:
            ranged = ISO_RANGE if key in ISO_RANGE_READ else ISO_RANGE_BORROWED
            free = (ISO, ranged, ISO_BORROWED)
        elif key == "2ft":
            free = (READ_2FT, BOS)
        loss = (LOSS,) if self._has_loss_term else ()
        built = (BUILT,) if "W_built" in self.dims else ()
        return (*free, *built, SKOGERBOE_FORM, SKOGERBOE, SCALED_SHAPE, *loss)

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return Q = C ha^n, m3/s, at heads ha in m over the converging floor."""
        discharge: Floats = np.maximum(head_m, 0.0)
        discharge **= self.size.n
        discharge *= self.C
        return FreeFlow(discharge, range_flags(self, head_m), {"coefficient": np.asarray(self.C)})

    def exponent(self, head_m: Floats) -> float:
        """Return n."""
        return self.size.n

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return the lower of the two published onsets of drowning, hb / ha."""
        limit = min(self.size.limit_by_class, self.size.limit_by_test)
        return np.broadcast_to(np.float64(limit), np.shape(head_m))

    def compare_limits(self, head_m: Floats) -> dict[str, Floats]:
        """Return the onset by class (Bos, USBR) and by the tests of Skogerboe et al. 1967."""
        return {
            "modular_limit_by_class": np.asarray(self.size.limit_by_class),
            "modular_limit_by_test": np.asarray(self.size.limit_by_test),
        }

    def drowned_factor(self, head_m: Floats, submergence_ratio: Floats) -> Floats:
        """Return phi(S) / phi(St), 1 up to the onset St of Skogerboe et al. 1967.

        Held from `held_at` on. The head keeps its share of the uncertainty there, n U / ha.
        """
        S = np.minimum(submergence_ratio, self.held_at)
        phi = drowned_shape(S, self.size.n1, self.size.n2)
        factor: Floats = np.where(
            submergence_ratio > self.size.limit_by_test,
            np.minimum(phi / self._phi_at_onset, 1.0),
            1.0,
        )
        return factor

    def submergence_uncertainty_pct(self, submergence_ratio: Floats) -> Floats:
        """Return 5 % to S 0.80, rising to 10 % at 0.90 and 15 % at 0.95.

        The spread of the two published methods (derived); a common-practice figure.
        """
        return np.interp(submergence_ratio, [0.80, 0.90, 0.95], [5.0, 10.0, 15.0])

    def dimension_uncertainty_pct(self, head_m: Floats) -> float:
        """Return 0.5 %: throat width within its usual building tolerance (common practice)."""
        return 0.5

    @property
    def _has_loss_term(self) -> bool:
        return 0.3 <= self.size.width_m <= 2.44

    def compare_submerged(self, head_m: Floats, tailwater_m: Floats) -> dict[str, Floats]:
        """Return discharges by the unscaled equation and by Parshall's loss term of 1936.

        `submerged_raw_m3s`: Skogerboe et al. 1967 above its onset, capped at free flow.
        `submerged_1936_m3s` (1 to 8 ft): Qfree minus
        {[ha/((1.8/S)^1.8 - 2.45)]^(4.57 - 3.14 S) + 0.093 S} W^0.815, feet and ft3/s.
        """
        size = self.size
        head = np.maximum(head_m, 1e-9)
        S = np.clip(tailwater_m / head, 0.01, S_CEILING)
        free = self.free_flow(head).discharge_m3s
        C1 = self.built * coefficient_si(size.C1_us, size.n1)
        raw = C1 * head**size.n1 * drowned_shape(np.minimum(S, self.held_at), size.n1, size.n2)
        drowned = size.limit_by_test < S
        found = {"submerged_raw_m3s": np.where(drowned, np.minimum(free, raw), free)}
        if self._has_loss_term:
            base = (head / FOOT) / ((1.8 / S) ** 1.8 - 2.45)
            loss_us = (base ** (4.57 - 3.14 * S) + 0.093 * S) * (size.width_m / FOOT) ** 0.815
            found["submerged_1936_m3s"] = np.clip(free - loss_us * FOOT**3, 0.0, free)
        return found

    def outline(self) -> Outline:
        """Return plan and long section of the size."""
        return parshall_outline(str(self.dims["size"]), self.size.width_m)

    def describe(self) -> str:
        text = f"Parshall flume, {FAMILY.sizes[str(self.dims['size'])]}"
        built = self.dims.get("W_built")
        return text if built is None else f"{text}, throat {built:g} m as built"


def _make(family: Family, dims: Dims) -> Parshall:
    if dims.get("tail_tap") == "exit":
        raise BadInput(
            "tail_tap",
            "exit",
            "a tailwater read at the exit of the flume is not hb",
            "Read hb near the end of the throat, or convert the exit reading first.",
        )
    return Parshall(family, dims)


_FEET_WORDS = {"1.5ft": "1 ft 6 in"}

FAMILY = Family(
    key="parshall",
    name="Parshall flume",
    summary="Converging level floor, parallel throat falling, diverging section rising.",
    dimensions=(
        Dimension(
            key="size",
            label="Size",
            unit="",
            kind="choice",
            choices=tuple(SIZES),
            help="Size key: 1in to 50ft, or an ISO 9826 metric size such as 0.60m.",
            aliases=("W", "b", "width"),
            choice_aliases={"12in": "1ft", "18in": "1.5ft", "24in": "2ft", "36in": "3ft"}
            # a bare fraction can only be metres; a bare 1 or 1.5 could be feet and is refused
            | {f"{size.width_m:g}": key for key, size in ISO_SIZES.items() if size.width_m < 1},
        ),
        Dimension(
            key="tail_tap",
            label="Tailwater tap",
            unit="",
            kind="choice",
            required=False,
            default="throat",
            choices=("throat", "exit"),
            help="Where the tailwater is read: throat (hb) is the tap the ratings are for.",
        ),
        Dimension(
            key="W_built",
            label="Throat width as measured",
            required=False,
            low=0.02,
            high=16.0,
            help="Mean of top, middle and bottom; within 2 % of the size. As named if left empty.",
        ),
    ),
    sources=(
        BOS,
        READ_2FT,
        ISO,
        ISO_RANGE,
        ISO_RANGE_BORROWED,
        ISO_BORROWED,
        SKOGERBOE_FORM,
        SKOGERBOE,
        SCALED_SHAPE,
        LOSS,
    ),
    limits_text=(
        "Head range of each size; level floor; approach straight for about ten throat widths; "
        "approach Froude number at most 0.5. Drowned readings are corrected to a submergence of "
        "0.95, with a warning above 0.90."
    ),
    tested_tolerance_pct=0.4,
    tested_table=Provenance.MEMORY,
    can_drown=True,
    correction=True,
    make=_make,
    sizes={
        key: _FEET_WORDS.get(key, key.replace("ft", " ft").replace("in", " in")) for key in US_SIZES
    }
    | {key: f"ISO 9826 {key[:-1]} m" for key in ISO_SIZES},
    example={"size": "1ft"},
)
