"""The channel around a structure: depth of uniform flow, Froude number, raised level.

Uniform flow by Manning's equation, ``Q = A R^(2/3) S^(1/2) / n`` (Chow 1959, *Open-Channel
Hydraulics*, ch. 5, from memory). Roughness n, from memory of Chow 1959 and consistent with the
table in Morgenschweis 2010 (read): concrete 0.013-0.017, clean earth 0.018-0.025, weedy
0.030-0.050. Plan with the weedy figure.
"""

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.sections import Section

SCAN = 400  # depths tried to bracket a root
NEWTON_STEPS = 5
DEEPEST_M = 1e4


def uniform_discharge(
    section: Section, depth_m: ArrayLike, roughness: float, slope: float
) -> Floats:
    """Discharge of uniform flow at a depth, m3/s (Manning).

    Parameters
    ----------
    section : Section
    depth_m : array_like
        Depth, m; dry at and below 0.
    roughness : float
        Manning's n, s/m^(1/3).
    slope : float
        Bed slope, fall over length, above 0.

    Raises
    ------
    BadInput
        When roughness or slope is not above 0.
    """
    _positive("roughness", roughness, "Use 0.013 for concrete to 0.05 for weedy earth")
    _positive("slope", slope, "Give the fall over the length, such as 0.001")
    depth = np.asarray(depth_m, float)
    area, perimeter = section.area(depth), section.wetted_perimeter(depth)
    radius = area / np.where(perimeter > 0, perimeter, 1.0)
    return np.where(depth > 0, area * radius ** (2.0 / 3.0) * np.sqrt(slope) / roughness, 0.0)


def normal_depth(
    section: Section, discharge_m3s: ArrayLike, roughness: float, slope: float
) -> Floats:
    """Depth of uniform flow, m: the least depth that carries the discharge.

    A running maximum over a scan of depths finds the first crossing, also where the discharge
    does not rise all the way (a pipe above 0.938 of its diameter, a ledge); bracketed Newton
    steps on ``ln Q`` against ``ln y`` finish it.

    Parameters
    ----------
    section : Section
    discharge_m3s : array_like
        Any shape. 0 or less gives depth 0, NaN gives NaN.
    roughness, slope : float
        As `uniform_discharge`.

    Returns
    -------
    ndarray
        NaN above what a closed section carries.
    """
    wanted = np.asarray(discharge_m3s, float)
    target = wanted.ravel()
    wet = (target > 0) & np.isfinite(target)
    depth = np.where(target < np.inf, 0.0, np.nan)  # NaN compares false too
    if not wet.any():
        return depth.reshape(wanted.shape)
    most = float(target[wet].max())
    top = section.soffit_m if section.soffit_m < np.inf else 1.0
    while top < min(DEEPEST_M, section.soffit_m) and (
        uniform_discharge(section, top, roughness, slope) < most
    ):
        top *= 2.0
    grid = np.geomspace(top * 1e-6, top, SCAN)
    carried = np.maximum.accumulate(uniform_discharge(section, grid, roughness, slope))
    cell = np.searchsorted(carried, target, side="left")
    held = wet & (cell < SCAN)
    cell = np.clip(cell, 1, SCAN - 1)
    low, high = grid[cell - 1], grid[cell]
    root = np.sqrt(low * high)
    for _ in range(NEWTON_STEPS):
        area, perimeter = section.area(root), section.wetted_perimeter(root)
        flow = uniform_discharge(section, root, roughness, slope)
        excess = np.log(flow / np.where(held, target, flow))
        over = excess >= 0
        high, low = np.where(over, root, high), np.where(over, low, root)
        # d ln Q / d ln y = y (5 T / 3 A - 2 P' / 3 P)
        rate = (
            root
            / 3.0
            * (
                5.0 * section.top_width(root) / area
                - 2.0 * section.perimeter_slope(root) / perimeter
            )
        )
        usable = rate > 0.05
        step = root * np.exp(np.clip(-excess / np.where(usable, rate, 1.0), -1.0, 1.0))
        root = np.where(usable, np.clip(step, low, high), 0.5 * (low + high))
    depth = np.where(held, root, np.where(wet, np.nan, depth))
    return depth.reshape(wanted.shape)


def froude(section: Section, depth_m: ArrayLike, discharge_m3s: ArrayLike) -> Floats:
    """Froude number ``v / sqrt(g A / T)``; NaN for a dry or a full closed section."""
    depth, flow = np.asarray(depth_m, float), np.asarray(discharge_m3s, float)
    area, width = section.area(depth), section.top_width(depth)
    usable = (area > 0) & (width > 0)
    a, t = np.where(usable, area, 1.0), np.where(usable, width, 1.0)
    return np.where(usable, flow / (a * np.sqrt(G * a / t)), np.nan)


def afflux(raised_level_m: ArrayLike, former_level_m: ArrayLike) -> Floats:
    """Rise of the water level made by a structure, m; 0 where it does not rise."""
    rise: Floats = np.asarray(raised_level_m, float) - np.asarray(former_level_m, float)
    return np.where(rise < 0, 0.0, rise)


def backwater_reach(afflux_m: ArrayLike, slope: float) -> tuple[Floats, Floats]:
    """How far upstream a raised level is felt, m: 1 to 2 times afflux over slope.

    Common practice for planning; look at the lowest point of the bank inside the longer reach.

    Raises
    ------
    BadInput
        When the slope is not above 0.
    """
    _positive("slope", slope, "Give the fall over the length, such as 0.001")
    reach = np.asarray(afflux_m, float) / slope
    return reach, 2.0 * reach


def _positive(field: str, value: float, remedy: str) -> None:
    if not (np.isfinite(value) and value > 0):
        raise BadInput(field, value, "must be above 0", remedy)
