"""Power segments that a person brings along: Q = C (h - e)^n for h above e, else nothing.

Where segments meet their discharges must agree within 1 %, and the flow never falls back.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.families.user_rating import LIMITS_TEXT, OWN, SHARED, UserRating, numbers
from app.hydraulics.structure.device import Dimension, Dims, Family, Provenance, Source, range_flags
from app.hydraulics.structure.states import FreeFlow

BREAK_TOLERANCE = 0.01
"""Largest relative step between segments at a break (common practice)."""


@dataclass(frozen=True)
class Segment:
    """Q = C (h - e)^n between two heads, m and m3/s."""

    C: float
    n: float
    e: float
    low_m: float
    high_m: float

    def discharge(self, head_m: Floats) -> Floats:
        """Return C (h - e)^n, m3/s; 0 at and below e."""
        flow: Floats = self.C * np.maximum(head_m - self.e, 0.0) ** self.n
        return flow


class UserPower(UserRating):
    """Power segments; below the first and above the last the nearest one goes on, flagged."""

    def __init__(self, family: Family, dims: Dims) -> None:
        self.segments = _segments(str(dims["segments"]))
        super().__init__(family, dims, self.segments[0].low_m, self.segments[-1].high_m)
        self.cease_to_flow_m = self.segments[0].e
        self.breaks_m = tuple(segment.low_m for segment in self.segments[1:])

    def _at(self, head_m: Floats) -> NDArray[np.intp]:
        return np.searchsorted(np.asarray(self.breaks_m), head_m, side="right")

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return C (h - e)^n of the segment at each head; never less than at the break below."""
        head = np.asarray(head_m, float)
        which = self._at(head)
        C, n, e, least = self._columns
        flow = C[which] * np.maximum(head - e[which], 0.0) ** n[which]
        flow = np.maximum(flow, least[which])
        return FreeFlow(np.where(head > self.cease_to_flow_m, flow, 0.0), range_flags(self, head))

    @property
    def _columns(self) -> tuple[Floats, Floats, Floats, Floats]:
        least = [0.0]
        for segment in self.segments[:-1]:
            least.append(float(segment.discharge(np.asarray(segment.high_m))))
        C, n, e = (np.array([getattr(s, k) for s in self.segments]) for k in ("C", "n", "e"))
        return C, n, e, np.array(least)

    def log_slope(self, head_m: Floats) -> Floats:
        """Return n / (h - e), 1/m."""
        which = self._at(head_m)
        _, n, e, _ = self._columns
        slope: Floats = n[which] / np.maximum(head_m - e[which], 1e-6)
        return slope

    def exponent(self, head_m: Floats) -> Floats:
        """Return n h / (h - e)."""
        slope: Floats = self.log_slope(head_m) * head_m
        return slope

    def describe(self) -> str:
        """Return the kind of rating and how far it goes."""
        return f"Own rating, {len(self.segments)} power segment(s), to {self.head_max_m:g} m"


def _segments(text: str) -> tuple[Segment, ...]:
    pieces = [piece for piece in re.split(r"[;\n]", text) if piece.strip()]
    found = [Segment(*numbers("segments", piece, 5, "C,n,e,h_lo,h_hi")) for piece in pieces]
    if not found:
        raise BadInput("segments", text, "needs a segment", "Give C,n,e,h_lo,h_hi.")
    found.sort(key=lambda segment: segment.low_m)
    for s in found:
        if not (s.C > 0 and 0 < s.n <= 6):
            raise BadInput(
                "segments", f"C {s.C:g}, n {s.n:g}", "C must be above 0 and n in 0 to 6", "Check."
            )
        if not s.e <= s.low_m < s.high_m:
            raise BadInput(
                "segments",
                f"e {s.e:g}, {s.low_m:g} to {s.high_m:g} m",
                "needs e at most h_lo, and h_lo below h_hi",
                "The cease-to-flow head e lies below every head of its segment.",
            )
    for left, right in pairwise(found):
        if abs(left.high_m - right.low_m) > 1e-6:
            raise BadInput(
                "segments",
                f"{left.high_m:g} and {right.low_m:g} m",
                "a segment must begin where the one before ends",
                "Make h_hi and the next h_lo equal.",
            )
        at = np.asarray(right.low_m)
        step = float(left.discharge(at)) / max(float(right.discharge(at)), 1e-12) - 1.0
        if abs(step) > BREAK_TOLERANCE:
            raise BadInput(
                "segments",
                f"{100 * step:+.1f} % at {right.low_m:g} m",
                "segments must agree within 1 % where they meet",
                "Move the break to the head where both give the same discharge.",
            )
    return tuple(found)


def _make(family: Family, dims: Dims) -> UserPower:
    """Build from segments, or from the figures of a single one."""
    single = {key: dims[key] for key in ("C", "n", "e", "h_lo", "h_hi") if key in dims}
    rest = {key: value for key, value in dims.items() if key not in single}
    if "segments" in dims:
        if single:
            raise BadInput(
                next(iter(single)), "given", "stands beside segments", "Give one or the other."
            )
        return UserPower(family, dims)
    if not {"C", "n"} <= single.keys():
        raise BadInput(
            "segments", "not given", "a rating needs a segment", "Add segments, or C, n."
        )
    e = float(single.get("e", 0.0))
    low = float(single.get("h_lo", max(e, 0.0)))
    ends = (e, low, float(single.get("h_hi", low + 3.0)))
    figures = (float(single["C"]), float(single["n"]), *ends)
    return UserPower(family, {"segments": ",".join(f"{figure:.12g}" for figure in figures), **rest})


def fitted_dims(
    segments: Sequence[Mapping[str, float]], rating_pct: float, modular_limit: float | None
) -> Dims:
    """Return the dimensions that hold a fit, its segments as `RatingFit.segments` gives them."""
    keys = ("coefficient", "exponent", "cease_to_flow_m", "h_lo_m", "h_hi_m")
    dims: Dims = {
        "segments": "; ".join(",".join(f"{each[key]:.12g}" for key in keys) for each in segments),
        "rating_pct": rating_pct,
    }
    if modular_limit is not None:
        dims["modular_limit"] = modular_limit
    return dims


FAMILY = Family(
    key="user_power",
    name="own power rating",
    summary="One or more segments Q = C (h - e)^n.",
    dimensions=(
        Dimension(
            key="segments",
            label="Segments",
            unit="",
            kind="text",
            required=False,
            help='C,n,e,h_lo,h_hi; next segment. Metres and m3/s: "1.2,1.62,0.035,0.05,0.6".',
        ),
        Dimension(
            key="C",
            label="Coefficient of a single segment",
            unit="",
            kind="count",
            required=False,
            low=0,
            high=1e4,
        ),
        Dimension(
            key="n",
            label="Exponent of a single segment",
            unit="",
            kind="count",
            required=False,
            low=0,
            high=6,
        ),
        Dimension(
            key="e", label="Cease-to-flow head of a single segment", required=False, low=-5, high=20
        ),
        Dimension(
            key="h_lo", label="Least head of a single segment", required=False, low=0, high=50
        ),
        Dimension(
            key="h_hi", label="Highest head of a single segment", required=False, low=0, high=50
        ),
        *SHARED,
    ),
    sources=(
        OWN,
        Source("Power law with offset; breaks within 1 %", Provenance.PRACTICE),
        Source(
            "Morgenschweis 2010, Hydrometrie (after Maniak 1997): a power law read, evaluated",
            Provenance.DERIVED,
        ),
    ),
    limits_text=LIMITS_TEXT,
    tested_tolerance_pct=0.1,
    tested_table=Provenance.DERIVED,
    can_drown=True,
    correction=False,
    make=_make,
    fitted_dims=fitted_dims,
    example={"segments": "1.2,1.62,0.035,0.06,0.6", "modular_limit": 0.7},
)
