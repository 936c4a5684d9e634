"""Critical depth at a discharge, friction slope, and the name of the curve of a water surface.

Critical: ``Q^2 T = g A^3``; friction by Manning, ``Sf = (n Q)^2 P^(4/3) / A^(10/3)``; the curves by
slope and zone (Chow 1959, *Open-Channel Hydraulics*, ch. 4, 5 and 9, from memory).
"""

import numpy as np
from numpy.typing import ArrayLike

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.sections import Section
from app.hydraulics.channel.uniform import DEEPEST_M, SCAN

HALVINGS = 42  # a cell of the scan is 4 % wide: down to rounding
SAME_DEPTH = 0.005
"""Depths that differ by less than this share are taken as one in naming a curve (derived)."""


def critical_at(section: Section, discharge_m3s: ArrayLike, alpha: float = 1.0) -> Floats:
    """Return the critical depth of a discharge, m: the least depth with ``alpha Q^2 T <= g A^3``.

    Parameters
    ----------
    section : Section
    discharge_m3s : array_like
        Any shape. 0 or less gives 0, NaN gives NaN.
    alpha : float
        Velocity distribution coefficient.

    Returns
    -------
    ndarray
        NaN where a closed section is full before the flow is critical.
    """
    wanted = np.asarray(discharge_m3s, float)
    target = wanted.ravel()
    wet = (target > 0) & np.isfinite(target)
    depth = np.where(target < np.inf, 0.0, np.nan)
    if not wet.any():
        return depth.reshape(wanted.shape)

    def carried(y: Floats) -> Floats:
        area, width = section.area(y), section.top_width(y)
        safe = np.where(width > 0, width, 1.0)
        return np.where(width > 0, area * np.sqrt(G * area / (alpha * safe)), 0.0)

    most = float(target[wet].max())
    closed = section.soffit_m < np.inf
    top = section.soffit_m * (1.0 - 1e-9) if closed else 1.0
    while not closed and top < DEEPEST_M and float(carried(np.asarray(top))) < most:
        top *= 2.0
    grid = np.geomspace(top * 1e-7, top, SCAN)
    cell = np.searchsorted(np.maximum.accumulate(carried(grid)), target, side="left")
    held = wet & (cell < SCAN)
    cell = np.clip(cell, 1, SCAN - 1)
    low, high = grid[cell - 1], grid[cell]
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        over = carried(middle) >= target
        high, low = np.where(over, middle, high), np.where(over, low, middle)
    depth = np.where(held, high, np.where(wet, np.nan, depth))
    return depth.reshape(wanted.shape)


def friction_slope(
    section: Section, depth_m: ArrayLike, discharge_m3s: ArrayLike, roughness: float
) -> Floats:
    """Return the slope of the energy line at a depth by Manning's equation; NaN when dry."""
    depth, flow = np.asarray(depth_m, float), np.asarray(discharge_m3s, float)
    area = section.area(depth)
    safe = np.where(area > 0, area, np.nan)
    slope: Floats = (
        (roughness * flow) ** 2
        * section.wetted_perimeter(depth) ** (4.0 / 3.0)
        / safe ** (10.0 / 3.0)
    )
    return slope


def curve_kind(bed_slope: float, depth_m: float, normal_m: float, critical_m: float) -> str:
    """Name a water surface: M1, M2, M3, S1 .. S3, C1, C3, H2, H3, A2, A3, or uniform.

    Parameters
    ----------
    bed_slope : float
        Fall over length in the direction of flow; 0 or less has no uniform depth.
    depth_m, normal_m, critical_m : float, m
        `normal_m` is not used on a level or rising bed.
    """
    if bed_slope <= 0:
        zone = 2 if depth_m > critical_m else 3
        return f"{'H' if bed_slope == 0 else 'A'}{zone}"
    if abs(depth_m - normal_m) <= SAME_DEPTH * normal_m:
        return "uniform"
    if abs(normal_m - critical_m) <= SAME_DEPTH * critical_m:
        return "C1" if depth_m > critical_m else "C3"
    letter = "M" if normal_m > critical_m else "S"
    upper, lower = max(normal_m, critical_m), min(normal_m, critical_m)
    return f"{letter}{1 if depth_m > upper else 2 if depth_m > lower else 3}"
