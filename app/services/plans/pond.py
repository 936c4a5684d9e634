"""The head pond of a candidate: how large it is, and how long it takes to fill."""

import math

import numpy as np

from app.hydraulics.gauging.steadiness import fill_time
from app.hydraulics.install.sill import SillChoice
from app.hydraulics.structure.device import Device
from app.services.plans.inputs import PlanInputs


def pond(asked: PlanInputs, choice: SillChoice) -> tuple[float | None, str]:
    """Return the area of the head pond, m2, and where it came from."""
    if asked.pond_area_m2 is not None:
        return asked.pond_area_m2, "as given"
    if choice.backwater_m is None or asked.section is None:
        return None, "not known: give the area, or the race's width and slope"
    length = float(choice.backwater_m[0].max())
    depth = float(choice.upstream_level_m.max()) - asked.floor_rl_m
    width = float(asked.section.top_width(np.asarray(depth)))
    if length <= 0:
        return None, "nothing is ponded"
    return length * width, "estimate: backwater length times width, good to a third at best"


def fill_min(
    asked: PlanInputs, device: Device, choice: SillChoice, i: int, area: float | None
) -> float | None:
    """Return the minutes from an empty race to 99 % of the flow over the crest."""
    if area is None:
        return None
    passes = float(device.free_flow(choice.head_m[i : i + 1]).discharge_m3s[0])
    if not math.isclose(passes, choice.discharge_m3s[i], rel_tol=1e-3):
        return None  # less than the lowest head that the equation can tell
    below = choice.crest_level_m - asked.floor_rl_m
    seconds = fill_time(
        float(choice.discharge_m3s[i]), float(choice.head_m[i]), area,
        lambda head: np.nan_to_num(device.free_flow(head).discharge_m3s),
        start_head_m=-max(below, 0.0),
    )  # fmt: skip
    return seconds / 60.0 if math.isfinite(seconds) else None
