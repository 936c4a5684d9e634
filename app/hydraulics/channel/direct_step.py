"""Distances between given depths in a channel of one section: the direct step method.

``dx = (E2 - E1) / (S0 - Sf)`` with the mean of the friction slopes at both ends (Chow 1959,
*Open-Channel Hydraulics*, sec. 10-3, from memory). It checks the standard step in `backwater`.
"""

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.at_flow import friction_slope
from app.hydraulics.channel.sections import Section


def direct_step(
    section: Section,
    discharge_m3s: float,
    roughness: float,
    bed_slope: float,
    depths_m: ArrayLike,
    alpha: float = 1.0,
) -> Floats:
    """Return how far upstream of the first depth each depth stands, m.

    Parameters
    ----------
    section : Section
        The same all along.
    discharge_m3s, roughness, bed_slope : float
        m3/s, Manning's n, fall over length.
    depths_m : array_like, shape (k,)
        Depths of one curve in order, from the structure upstream.
    alpha : float
        Velocity distribution coefficient.

    Returns
    -------
    ndarray, shape (k,)
        0 at the first; negative distances lie downstream.

    Raises
    ------
    BadInput
        When depths are not above 0, or the curve passes through uniform depth between two of them,
        which it never reaches.
    """
    depths = np.atleast_1d(np.asarray(depths_m, float))
    if depths.ndim != 1 or not np.all(np.isfinite(depths) & (depths > 0)):
        raise BadInput("depths_m", depths_m, "depths are above 0", "Leave out the others.")
    speed = discharge_m3s / section.area(depths)
    energy = depths + alpha * speed * speed / (2.0 * G)
    slope = friction_slope(section, depths, discharge_m3s, roughness)
    if np.any((slope < bed_slope) != (slope[0] < bed_slope)):
        raise BadInput(
            "depths_m",
            depths_m,
            "pass through the depth of uniform flow, which a curve nears and never reaches",
            "Keep all depths on one side of it.",
        )
    steps = np.diff(energy) / (bed_slope - 0.5 * (slope[1:] + slope[:-1]))
    return np.concatenate(([0.0], -np.cumsum(steps)))
