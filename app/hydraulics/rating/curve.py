"""A rating as a dense table for the phone, and the phone's own way of reading it.

The phone never evaluates an equation: it reads straight lines in ln h and ln Q between nodes, and
in S (and ln h) for the drowned factor. Over the range the table departs from `rate` by less than
0.05 %.
"""

import hashlib
import json
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from app.hydraulics.base.arrays import Floats
from app.hydraulics.rating.submergence import UNKNOWN_LIMIT_SUBMERGENCE, WARN_SUBMERGENCE
from app.hydraulics.rating.uncertainty import RANGE_EXPONENT, combine
from app.hydraulics.structure.device import Device

NODES = 256
LOWEST_HEAD_M = 0.008
DROWNED_NODES = 64
DROWNED_HEADS = 24
STEP_SHARE = 1e-3  # of the uncertainty: a jump this large between two heads is no curve


def phone_table(device: Device) -> dict[str, Any]:
    """Return the rating as a table that JSON can hold.

    Keys: `heads_m`, `discharge_m3s`, `device_pct` (coefficient and dimensions together, k = 2, %),
    `exponent` (d ln Q / d ln h) and `modular_limit` (null where none is known), one each a node;
    `drowned` (null without a trusted correction) with `submergence`, `heads_m`, `factor` (a row a
    head) and `uncertainty_pct` (of the correction itself); `head_min_m`, `head_max_m` (published
    range), `head_limit_m` (no discharge above; the nodes go on to there), `cease_to_flow_m`,
    `can_drown`, `warn_submergence`, `max_submergence`, `unknown_limit_submergence`,
    `range_exponent` (what is added outside the range), `hash` (sha256 of all the rest).
    `modular_limit_band` only where the onset of drowning is uncertain by it.
    """
    heads = _node_heads(device)
    free = device.free_flow(heads)
    usable = free.discharge_m3s > 0
    if not usable.all():  # below a floor, or above where the control is lost
        first = int(np.argmax(usable))
        lost = np.flatnonzero(~usable[first:])
        last = first + int(lost[0]) if lost.size else heads.size
        heads = heads[first:last]
        free = device.free_flow(heads)
    stepped = _with_steps(device, heads)
    if stepped.size > heads.size:
        heads, free = stepped, device.free_flow(stepped)
    pct = _device_pct(device, heads)
    limit = device.modular_limit(heads)
    table: dict[str, Any] = {
        "heads_m": _rounded(heads, 12),
        "discharge_m3s": _rounded(free.discharge_m3s),
        "device_pct": _rounded(np.broadcast_to(pct, heads.shape), 5),
        "exponent": _rounded(np.broadcast_to(device.exponent(heads), heads.shape), 6),
        "modular_limit": [None if np.isnan(x) else float(f"{x:.6g}") for x in limit],
        "drowned": _drowned(device, heads),
        "head_min_m": device.head_min_m,
        "head_max_m": min(device.head_max_m, float(heads[-1])) if heads.size else 0.0,
        "head_limit_m": device.head_limit_m,
        "cease_to_flow_m": device.cease_to_flow_m,
        "can_drown": device.can_drown,
        "warn_submergence": WARN_SUBMERGENCE,
        "max_submergence": device.max_submergence,
        "unknown_limit_submergence": UNKNOWN_LIMIT_SUBMERGENCE,
        "range_exponent": RANGE_EXPONENT,
    }
    if device.modular_limit_uncertainty > 0.0:
        table["modular_limit_band"] = device.modular_limit_uncertainty
    text = json.dumps(table, sort_keys=True, separators=(",", ":"))
    return table | {"hash": hashlib.sha256(text.encode()).hexdigest()}


def interpolate(
    table: dict[str, Any], heads_m: ArrayLike, tailwater_m: ArrayLike | None = None
) -> Floats:
    """Read a table as the phone does.

    Parameters
    ----------
    table : dict
        From `phone_table`.
    heads_m : array_like, m
    tailwater_m : array_like, m, optional
        Applies the drowned factor where the table has one.

    Returns
    -------
    ndarray
        Discharge, m3/s; NaN outside the nodes and where the drowned flow is not determined.
    """
    heads = np.asarray(heads_m, float)
    nodes, flows = np.asarray(table["heads_m"]), np.asarray(table["discharge_m3s"])
    if not nodes.size:  # a throat that never controls
        return np.full(heads.shape, np.nan)
    inside = (heads >= nodes[0]) & (heads <= nodes[-1])
    x = np.log(np.where(inside, heads, nodes[0]))
    flow = np.where(inside, np.exp(np.interp(x, np.log(nodes), np.log(flows))), np.nan)
    if tailwater_m is None or not table["can_drown"]:
        return flow
    ratio = np.maximum(np.asarray(tailwater_m, float), 0.0) / np.where(inside, heads, np.nan)
    limits = np.array([np.inf if m is None else m for m in table["modular_limit"]])
    known = np.interp(x, np.log(nodes), np.minimum(limits, 2.0))
    known = np.where(known > 1.0, table["unknown_limit_submergence"], known)
    drowned = table["drowned"]
    if drowned is None:
        return np.where(ratio > known, np.nan, flow)
    rows = np.asarray(drowned["factor"])
    at_heads = np.log(np.asarray(drowned["heads_m"]))
    grid = np.asarray(drowned["submergence"])
    place = np.clip(np.interp(x, at_heads, np.arange(len(at_heads))), 0, len(at_heads) - 1)
    low = np.floor(place).astype(int)
    high = np.minimum(low + 1, len(at_heads) - 1)
    column = np.clip(np.interp(ratio, grid, np.arange(len(grid))), 0, len(grid) - 1)
    left = np.floor(np.nan_to_num(column)).astype(int)
    right = np.minimum(left + 1, len(grid) - 1)
    t, s = column - left, place - low
    factor = (1 - s) * ((1 - t) * rows[low, left] + t * rows[low, right]) + s * (
        (1 - t) * rows[high, left] + t * rows[high, right]
    )
    factor = np.where(ratio > known, factor, 1.0)
    return np.where(ratio > table["max_submergence"], np.nan, flow * factor)


def _device_pct(device: Device, heads: Floats) -> Floats:
    pct = combine(
        device.coefficient_uncertainty_pct(heads, device.free_flow(heads)),
        device.dimension_uncertainty_pct(heads),
    )
    return np.broadcast_to(pct, heads.shape)


def _with_steps(device: Device, heads: Floats) -> Floats:
    """Return the heads with a node on either side of each step of the device's uncertainty.

    The uncertainty jumps where a limit of the equation is passed; a straight line across the jump
    would be wrong on both sides of it. Steps are found by halving the gaps that do not lie on a
    straight line; a bend leaves nothing after that, a step stays.
    """
    if heads.size < 2:
        return heads
    low, high = heads[:-1].copy(), heads[1:].copy()
    at_low, at_high = _device_pct(device, low), _device_pct(device, high)
    bent = np.abs(at_high - at_low) > STEP_SHARE * np.maximum(at_low, at_high)
    low, high, at_low, at_high = low[bent], high[bent], at_low[bent], at_high[bent]
    for _ in range(40 if low.size else 0):
        middle = np.sqrt(low * high)
        at = _device_pct(device, middle)
        left = np.abs(at - at_low) >= np.abs(at_high - at)
        high, at_high = np.where(left, middle, high), np.where(left, at, at_high)
        low, at_low = np.where(left, low, middle), np.where(left, at_low, at)
    step = np.abs(at_high - at_low) > STEP_SHARE * np.maximum(at_low, at_high)
    sides = (low[step] * (1.0 - 1e-9), high[step] * (1.0 + 1e-9))
    return np.unique(np.concatenate((heads, *sides)))


def _node_heads(device: Device) -> Floats:
    floor = max(device.cease_to_flow_m, device.head_floor_m)
    low = max(LOWEST_HEAD_M, 1.05 * device.head_floor_m)
    if device.cease_to_flow_m != 0:
        low = max(low, device.cease_to_flow_m + LOWEST_HEAD_M)
    low = min(low, floor + 0.1 * (device.head_max_m - floor))
    heads = floor + np.geomspace(low - floor, device.head_max_m - floor, NODES)
    heads[-1] = device.head_max_m
    if device.head_limit_m > device.head_max_m:  # further on, with steps of the same ratio
        ends = device.head_max_m - floor, device.head_limit_m - floor
        share = np.log(ends[1] / ends[0]) / np.log((heads[-1] - floor) / (heads[0] - floor))
        above = floor + np.geomspace(*ends, int(np.ceil(share * (NODES - 1))) + 1)[1:]
        above[-1] = device.head_limit_m
        heads = np.concatenate((heads, above))
    breaks = [b for b in device.breaks_m if heads[0] < b < heads[-1]]
    # a node on either side, so that the step a break may have stays at the break
    both = [b * side for b in breaks for side in (1.0 - 1e-9, 1.0)]
    return np.unique(np.concatenate((heads, both)))


def _drowned(device: Device, heads: Floats) -> dict[str, Any] | None:
    if not device.correction or not heads.size:
        return None
    rows = np.geomspace(heads[0], heads[-1], DROWNED_HEADS)
    onset = float(np.min(device.modular_limit(rows)))
    fine = np.linspace(onset, device.max_submergence, 4001)
    shapes = np.array([device.drowned_factor(np.full(fine.shape, h), fine) for h in rows])
    if np.ptp(shapes, axis=0).max() < 1e-12:  # a factor of S alone needs a single row
        rows, shapes = rows[-1:], shapes[-1:]
    # nodes where the curves bend: equal shares of the square root of the second derivative
    bend = np.abs(np.diff(shapes, 2, axis=1)).max(axis=0) / (fine[1] - fine[0]) ** 2
    weight = np.sqrt(bend) + 0.05 * np.sqrt(bend).max() ** 0.5 + 0.2
    share = np.concatenate(([0.0], np.cumsum(weight)))
    corners = [s for s in device.drowned_breaks if onset < s < device.max_submergence]
    evenly = np.linspace(0.0, share[-1], DROWNED_NODES - len(corners))
    grid = np.interp(evenly, share, fine[:-1])
    grid[0], grid[-1] = onset, device.max_submergence
    grid = np.sort(np.concatenate((grid, corners)))
    factor = [device.drowned_factor(np.full(grid.shape, h), grid) for h in rows]
    return {
        "submergence": _rounded(grid),
        "heads_m": _rounded(rows),
        "factor": [_rounded(np.asarray(row)) for row in factor],
        "uncertainty_pct": _rounded(device.submergence_uncertainty_pct(grid), 5),
    }


def _rounded(values: Floats, digits: int = 9) -> list[float]:
    return [float(f"{x:.{digits}g}") for x in values.tolist()]
