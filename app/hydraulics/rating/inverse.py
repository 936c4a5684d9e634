"""From a discharge back to the head that passes it in free flow."""

import numpy as np
from numpy.typing import ArrayLike

from app.hydraulics.base.arrays import Floats
from app.hydraulics.structure.device import Device


def discharge_to_head(device: Device, discharge_m3s: ArrayLike) -> Floats:
    """Return the head that passes a discharge in free flow: the inverse of the rating.

    Parameters
    ----------
    discharge_m3s : array_like, m3/s, any shape

    Returns
    -------
    ndarray
        Head, m over the zero; the cease-to-flow head for no discharge; NaN for a missing or
        negative discharge and beyond what the equation gives at three times the largest head.
    """
    wanted = np.asarray(discharge_m3s, float)
    flat = wanted.reshape(-1)
    floor = max(device.cease_to_flow_m, device.head_floor_m)
    over = np.geomspace(1e-5, max(3.0 * device.head_max_m - floor, 0.1), 600)
    grid = device.free_flow(floor + over).discharge_m3s
    usable = np.isfinite(grid) & (grid > 0)
    usable &= np.concatenate(([True], np.diff(np.maximum.accumulate(np.nan_to_num(grid))) > 0))
    over, grid = over[usable], grid[usable]
    found = np.full(flat.shape, np.nan)
    found[flat == 0] = device.cease_to_flow_m
    if grid.size < 2:  # a throat that never controls
        return found.reshape(wanted.shape)
    rows = np.flatnonzero((flat >= grid[0]) & (flat <= grid[-1]))
    found[(flat > 0) & (flat < grid[0])] = floor  # less than the lowest head can tell
    target = np.log(flat[rows])
    cell = np.clip(np.searchsorted(grid, flat[rows], side="right") - 1, 0, len(grid) - 2)
    low, high = np.log(over[cell]), np.log(over[cell + 1])
    q_low, q_high = np.log(grid[cell]), np.log(grid[cell + 1])
    for _ in range(30):  # regula falsi with a bisection guard: ln Q is nearly straight in a cell
        share = np.clip((target - q_low) / np.where(q_high > q_low, q_high - q_low, 1.0), 0.0, 1.0)
        trial = low + share * (high - low)
        with np.errstate(divide="ignore"):
            q_trial = np.log(device.free_flow(floor + np.exp(trial)).discharge_m3s)
        above = q_trial > target
        off = np.abs(q_trial - target)
        if not off.size or off.max() < 1e-13:
            low = high = trial
            break
        high, q_high = np.where(above, trial, high), np.where(above, q_trial, q_high)
        low, q_low = np.where(above, low, trial), np.where(above, q_low, q_trial)
    found[rows] = floor + np.exp(
        np.where(np.abs(q_low - target) < np.abs(q_high - target), low, high)
    )
    return found.reshape(wanted.shape)
