"""Velocity-area gauging: verticals across a section, mid-section or mean-section.

Public functions (SI; percentages k = 1 unless named expanded):

    velocity_area(verticals, *, method="mid", edges="bank", components=None) -> VelocityArea
        verticals: rows {distance_m, depth_m, v | v06 | v02 v08 | v02 v06 v08, points?};
        edges: "bank", "wall", or a pair [first, last]; components: changes to COMPONENTS
    the velocity of one vertical is in `current_meter`, the components in `section_uncertainty`

References
----------
ISO 748:2007 as told in Morgenschweis 2010, Hydrometrie (mid-section and mean-section rules, tables
of the number of verticals and points); other components from memory, all editable.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.rounding import fixed, general
from app.hydraulics.base.units import BELOW_THOUSAND, number
from app.hydraulics.gauging.current_meter import mean_velocity
from app.hydraulics.gauging.section_uncertainty import section_parts
from app.hydraulics.gauging.verdict import Gauging

PANEL_LIMIT_PCT = 10.0
"""Largest share of one panel; common to US practice, 5 % preferred (from memory)."""

ONE_POINT_DEPTH_M = 0.76
"""Above this depth two points are asked; Buchanan and Somers 1969, from memory."""

WIDTH_VERTICALS = ((0.5, 5), (1.0, 6), (3.0, 7), (5.0, 13), (math.inf, 22))
"""Least verticals by width of water in m; ISO 748, from memory."""


@dataclass(frozen=True, kw_only=True)
class VelocityArea(Gauging):
    """A velocity-area gauging; arrays run along the tape, panels as the method makes them."""

    edges: tuple[str, str]
    distance_m: Floats
    depth_m: Floats
    velocity_ms: Floats
    panel_m3s: Floats
    share_pct: Floats
    area_m2: float
    width_m: float
    mean_velocity_ms: float
    verticals: int
    largest_share_pct: float
    next_vertical_m: float


def velocity_area(
    verticals: Sequence[Mapping[str, object]],
    *,
    method: str = "mid",
    edges: str | Sequence[str] = "bank",
    components: Mapping[str, object] | None = None,
) -> VelocityArea:
    """Sum a section from its verticals.

    Parameters
    ----------
    verticals : rows in order along the tape (either way), both water's edges included
    method : "mid" (each vertical carries half the way to its neighbours) or "mean" (each gap
        carries the mean of its two verticals)
    edges : "bank" (the edge carries nothing, mid-section) or "wall" (a vertical wall carries its
        half width with its own depth and velocity)
    components : changes to COMPONENTS

    Raises
    ------
    BadInput
        Naming the vertical: out of order, negative depth, missing velocity; or no flow at all.
    """
    if method not in ("mid", "mean"):
        raise BadInput("method", method, "is mid or mean", "Choose mid-section or mean-section.")
    pair = [edges] if isinstance(edges, str) or not edges else edges
    ends = (str(pair[0]), str(pair[-1]))
    if any(end not in ("bank", "wall") for end in ends):
        raise BadInput("edges", edges, "is bank or wall", "Choose one for each edge.")
    b, d, v, points = _columns(verticals, ends)
    gap = np.abs(np.diff(b))
    half = np.zeros(len(b))
    half[:-1] += gap / 2.0
    half[1:] += gap / 2.0
    half[0] *= ends[0] == "wall"
    half[-1] *= ends[1] == "wall"
    carried = half * d * v
    if method == "mid":
        panel, area = carried, float(half @ d)
    else:
        mean_depth = (d[:-1] + d[1:]) / 2.0
        panel = (v[:-1] + v[1:]) / 2.0 * mean_depth * gap
        area = float(mean_depth @ gap)
    discharge = float(panel.sum())
    if not discharge > 0.0 or not carried.sum() > 0.0:
        raise BadInput(
            "verticals", f"{general(discharge)} m3/s", "no flow down the race",
            "Check the velocities and their signs.",
        )  # fmt: skip
    share = 100.0 * panel / discharge
    largest = int(np.argmax(share))
    wet = int(np.count_nonzero((half > 0.0) & (d > 0.0)))
    parts = section_parts(carried / carried.sum(), v, points, wet, components or {})
    over = float(share[largest]) > PANEL_LIMIT_PCT + 1e-9
    return VelocityArea(
        method=f"velocity-area {method}-section",
        discharge_m3s=discharge,
        uncertainty_pct=2.0 * math.hypot(*parts.values()),
        parts={name: 2.0 * value for name, value in parts.items()},
        flags=_flags(
            b, d, v, points, wet=wet, ends=ends, method=method, largest_pct=float(share[largest])
        ),
        edges=ends,
        distance_m=b,
        depth_m=d,
        velocity_ms=v,
        panel_m3s=panel,
        share_pct=share,
        area_m2=area,
        width_m=float(abs(b[-1] - b[0])),
        mean_velocity_ms=discharge / area,
        verticals=wet,
        largest_share_pct=float(share[largest]),
        next_vertical_m=_next_vertical(b, share, largest, method) if over else math.nan,
    )


def _columns(
    rows: Sequence[Mapping[str, object]], ends: tuple[str, str]
) -> tuple[Floats, Floats, Floats, NDArray[np.int64]]:
    if len(rows) < 3:
        raise BadInput(
            "verticals", len(rows), "a section needs three verticals or more",
            "Add both water's edges and at least one between.",
        )  # fmt: skip
    b, d, v = (np.zeros(len(rows)) for _ in range(3))
    points = np.ones(len(rows), dtype=np.int64)
    for i, row in enumerate(rows):
        name = f"vertical {i + 1}"
        for key, into in (("distance_m", b), ("depth_m", d)):
            if row.get(key) is None or row.get(key) == "":
                raise BadInput(f"{name} {key}", "none", "is needed", "Measure it.")
            into[i] = number(f"{name} {key}", row[key], high=BELOW_THOUSAND)  # type: ignore[arg-type]
        if d[i] < 0.0:
            raise BadInput(f"{name} depth_m", d[i], "must not be below zero", "Write it positive.")
        still = all(row.get(key) in (None, "") for key in ("v", "v02", "v06", "v08"))
        edge = ends[0] if i == 0 else ends[1] if i == len(rows) - 1 else ""
        if not still or (d[i] > 0.0 and edge != "bank"):
            v[i], points[i] = mean_velocity(row, name)
    way = math.copysign(1.0, b[-1] - b[0])
    for i in range(1, len(rows)):
        if way * (b[i] - b[i - 1]) <= 0.0:
            raise BadInput(
                f"vertical {i + 1} distance_m", b[i], "verticals go one way along the tape",
                f"Put it in its place, or correct it: the one before is at {general(b[i - 1])} m.",
            )  # fmt: skip
    return b, d, v, points


def _flags(
    b: Floats,
    d: Floats,
    v: Floats,
    points: NDArray[np.int64],
    *,
    wet: int,
    ends: tuple[str, str],
    method: str,
    largest_pct: float,
) -> tuple[str, ...]:
    flags = []
    if largest_pct > PANEL_LIMIT_PCT + 1e-9:
        flags.append(f"largest panel carries {fixed(largest_pct, 1)} %: over {PANEL_LIMIT_PCT:g} %")
    width = abs(b[-1] - b[0])
    least = next(count for limit, count in WIDTH_VERTICALS if width < limit)
    if wet < least:
        flags.append(
            f"{wet} vertical{'' if wet == 1 else 's'} in the water: {least} are asked at this width"
        )
    for end, place, name in zip(ends, (0, -1), ("first", "last"), strict=True):
        if method == "mid" and end == "bank" and d[place] > 0.0:
            flags.append(
                f"{name} edge is {general(d[place])} m deep and carries nothing: is it a wall?"
            )
    if np.any(v < 0.0):
        flags.append("water runs back at a vertical")
    if np.any((points == 1) & (d > ONE_POINT_DEPTH_M)):
        flags.append(f"one point in water deeper than {ONE_POINT_DEPTH_M:g} m")
    return tuple(flags)


def _next_vertical(b: Floats, share: Floats, largest: int, method: str) -> float:
    """Return where one more vertical helps most: in the wider gap beside the largest panel."""
    if method == "mean":
        return float(b[largest] + b[largest + 1]) / 2.0
    left = abs(b[largest] - b[largest - 1]) if largest > 0 else -1.0
    right = abs(b[largest + 1] - b[largest]) if largest < len(b) - 1 else -1.0
    rightwards = right > left + 1e-9
    if abs(right - left) <= 1e-9:
        rightwards = share[largest + 1] > share[largest - 1] + 1e-9
    other = largest + 1 if rightwards else largest - 1
    return float(b[largest] + b[other]) / 2.0
