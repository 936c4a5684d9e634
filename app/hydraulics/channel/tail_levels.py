"""Tail levels at flows in between and beyond those that were surveyed.

Uniform flow in a channel makes depth a power of discharge (Manning's equation for a wide channel
has the exponent 3/5), so depth over the tail bed is read on straight lines in ln Q and ln depth.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats

WIDE_CHANNEL = 0.6


def tail_levels(
    known_m3s: ArrayLike, known_levels_m: ArrayLike, bed_level_m: float, discharge_m3s: ArrayLike
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the tail level at each discharge, m, and whether it lies beyond the known flows.

    Parameters
    ----------
    known_m3s, known_levels_m : array_like, shape (k,)
        Flows above 0 and the levels surveyed at them; one pair is carried on with the exponent
        3/5 of a wide channel, more with the slope of the pair at that end.
    bed_level_m : float
        Bed of the tail.
    discharge_m3s : array_like

    Raises
    ------
    BadInput
        When a flow or depth is not above 0, or a level does not rise with the flow.
    """
    flows, levels = np.asarray(known_m3s, float), np.asarray(known_levels_m, float)
    if flows.shape != levels.shape or flows.size == 0 or not np.all(flows > 0):
        raise BadInput(
            "tail_levels", len(flows), "each level needs a flow above 0", "Give pairs of both."
        )
    order = np.argsort(flows)
    flows, depths = flows[order], levels[order] - bed_level_m
    if not np.all(depths > 0):
        raise BadInput(
            "tail_levels",
            float(levels.min()),
            f"lies at or below the tail bed {bed_level_m:g} m",
            "Check the level and the bed: both over the same datum.",
        )
    if np.any(np.diff(flows) <= 0) or np.any(np.diff(depths) <= 0):
        raise BadInput(
            "tail_levels",
            "falling or repeated",
            "the level rises with the flow",
            "Leave out the reading that a gate or weed held up, and add a weed margin instead.",
        )
    wanted = np.atleast_1d(np.asarray(discharge_m3s, float))
    x, y = np.log(flows), np.log(depths)
    slopes = np.diff(y) / np.diff(x) if x.size > 1 else np.array([WIDE_CHANNEL])
    at = np.log(wanted)
    found = np.interp(at, x, y)
    found = np.where(at < x[0], y[0] + slopes[0] * (at - x[0]), found)
    found = np.where(at > x[-1], y[-1] + slopes[-1] * (at - x[-1]), found)
    beyond = (wanted < flows[0] * (1 - 1e-9)) | (wanted > flows[-1] * (1 + 1e-9))
    return bed_level_m + np.exp(found), beyond
