"""The picture of a prismatic throat between an approach and a tail, for all long-throated kinds."""

import numpy as np

from app.hydraulics.channel.sections import Section
from app.hydraulics.structure.device import Device
from app.hydraulics.structure.outline import Line, Measure, Outline, Part, View, section_line, walls

SIDE_RAMP = 3.0
"""Usual converging transition, 3 along to 1 across or up (common practice); drawn, not measured."""

NOTE = (
    "The converging transition is drawn 3 to 1, as is usual; measure it as built. The gauge stands "
    "one to four greatest heads upstream. Heads are over the throat's invert at its downstream end."
)


def throat_outline(device: Device, throat: Section, approach: Section) -> Outline:
    """Return plan, long section and throat section of a device with dims L, p and a throat."""
    dims = device.dims
    L, p = float(dims["L"]), float(dims["p"])
    top = min(device.head_max_m, throat.soffit_m)
    throat_width = _width(throat, top)
    lead = max(device.head_max_m, 0.5 * L)
    wide = max(_width(approach, p + top), throat_width)
    ramp_in = max(SIDE_RAMP * p, SIDE_RAMP * (wide - throat_width) / 2.0, 0.1 * L)
    slope = float(dims.get("exit_slope", 0.0))
    fall = float(dims.get("p2", p))
    ramp_out = slope * fall
    x = [-ramp_in - lead, -ramp_in, 0.0, L, L + ramp_out, L + ramp_out + lead]
    plan = (
        *walls(((x[0], wide), (x[1], wide))),
        *walls(((x[1], wide), (0.0, throat_width)), "usual"),
        *walls(((0.0, throat_width), (L, throat_width))),
        *walls(((L, throat_width), (x[4], wide if ramp_out else throat_width)), "usual"),
    )
    floor = ((x[0], 0.0), (x[1], 0.0), (0.0, p), (L, p), (x[4], p - fall), (x[5], p - fall))
    side_lines = (Line(floor, "floor"), Line(((x[0], p + top), (x[5], p + top)), "level"))
    side = [Measure("L", (0.0, p), (L, p))]
    if p > 0:
        side.append(Measure("p", (0.0, 0.0), (0.0, p)))
    if "p2" in dims:
        side.append(Measure("p2", (x[5], p - fall), (x[5], p)))
    parts = [Part("L", "Throat length", L, "throat length, ISO", "L")]
    across: list[Measure] = []
    front = [Line(section_line(throat, top, p), "edge")]
    if approach.soffit_m > p + top:
        front.append(Line(section_line(approach, p + top), "usual"))
    for key, label in (("b", "Throat bottom width"), ("D", "Throat diameter")):
        if key in dims and (key == "D" or float(dims[key]) > 0):
            size = float(dims[key])
            parts.insert(0, Part(key, label, size, "throat width, ISO", key))
            level = p if key == "b" else p + min(size / 2.0, top)
            across.append(Measure(key, (-size / 2.0, level), (size / 2.0, level)))
    if p > 0:
        parts.append(Part("p", "Sill height over the approach bed", p, "site, 5 mm", "p"))
    for key, label in (("B", "Approach bottom width"), ("B_D", "Approach pipe diameter")):
        if key in dims:
            size = float(dims[key])
            parts.append(Part(key, label, size, "other surface, ISO", key))
            level = 0.0 if key == "B" else size / 2.0
            across.append(Measure(key, (-size / 2.0, level), (size / 2.0, level)))
    if "p2" in dims:
        parts.append(Part("p2", "Sill height over the tail bed", fall, "site, 5 mm", "p2"))
    plan_measures = [
        Measure(m.key, (0.5 * L if m.key in ("b", "D") else x[0] + 0.2 * lead, m.start[0]),
                (0.5 * L if m.key in ("b", "D") else x[0] + 0.2 * lead, m.end[0]))
        for m in across
        if isinstance(dims.get("m", 0.0), float) and float(dims.get("m", 0.0)) == 0.0
    ]  # fmt: skip
    return Outline(
        tuple(parts),
        (
            View("Plan", plan, tuple(plan_measures)),
            View("Long section", side_lines, tuple(side)),
            View("Throat, looking downstream", tuple(front), tuple(across), along=False),
        ),
        NOTE,
    )


def _width(section: Section, depth_m: float) -> float:
    return float(section.top_width(np.asarray(depth_m)))
