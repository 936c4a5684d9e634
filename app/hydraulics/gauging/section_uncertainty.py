"""Uncertainty of a velocity-area gauging from editable tables of components, ISO 748 form.

Public functions and tables (percentages k = 1 unless named expanded):

    section_parts(weight, velocity, points, verticals, changes) -> {"systematic", "verticals",
        "panels"}; the panels by their own shares
    component_pct(table, value) -> % interpolated in a component table
    COMPONENTS
"""

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.gauging.current_meter import Table

COMPONENTS: dict[str, object] = {
    "systematic_pct": 1.0,
    "width_pct": 0.5,
    "depth_pct": 1.0,
    "verticals": [
        [5, 7.5], [10, 4.5], [15, 3.0], [20, 2.5], [25, 2.0], [30, 1.5], [35, 1.0], [45, 1.0],
    ],
    "points": [[1, 7.5], [2, 3.5], [3, 3.0], [5, 2.5]],
    "meter": [[0.03, 10.0], [0.1, 2.5], [0.15, 1.25], [0.25, 1.0], [0.5, 0.5]],
    "exposure": [[0.05, 20.0], [0.1, 11.0], [0.2, 4.0], [0.5, 3.0]],
}  # fmt: skip
"""Standard uncertainties in %, editable. Verticals and points 1, 2, 5: Morgenschweis 2010 after
ISO 748, read; three points, exposure, width, depth and systematic: from memory or common practice;
meter: individual rating, read at 0.5 m/s, from memory below."""


def component_pct(table: Table, value: float) -> float:
    """Return a component interpolated linearly in its table, held at the ends."""
    keys, values = zip(*table, strict=True)
    return float(np.interp(value, keys, values))


def section_parts(
    weight: Floats,
    v: Floats,
    points: NDArray[np.int64],
    wet: int,
    changes: Mapping[str, object],
) -> dict[str, float]:
    """Return standard uncertainties in %: systematic, number of verticals, and the panels."""
    unknown = set(changes) - set(COMPONENTS)
    if unknown:
        raise BadInput(
            "components", sorted(unknown)[0], "no such component", f"Use {', '.join(COMPONENTS)}."
        )
    table = {**COMPONENTS, **changes}
    single = float(table["width_pct"]) ** 2 + float(table["depth_pct"]) ** 2  # type: ignore[arg-type]
    panels = 0.0
    for share, speed, count in zip(weight, np.abs(v), points, strict=True):
        u_p, u_c, u_e = (
            component_pct(table[name], float(at))  # type: ignore[arg-type]
            for name, at in (("points", count), ("meter", speed), ("exposure", speed))
        )
        panels += share**2 * (single + u_p**2 + (u_c**2 + u_e**2) / count)
    u_m = component_pct(table["verticals"], wet)  # type: ignore[arg-type]
    return {
        "systematic": float(table["systematic_pct"]),  # type: ignore[arg-type]
        "verticals": u_m * 5.0 / wet if wet < 5 else u_m,  # below the table: grow with the spacing
        "panels": math.sqrt(panels),
    }
