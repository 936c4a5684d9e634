"""From heads to discharges, with uncertainty, state of flow and flags: arrays in, arrays out.

Order of evaluation for a reading: heads over one zero; refusals (head missing, tailwater above
the head); free discharge with range flags; state of flow from the submergence with its own
uncertainty; correction of a drowned reading where the device has one that is trusted; budget.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.columns import put, room
from app.hydraulics.base.units import DUST
from app.hydraulics.rating.submergence import drown
from app.hydraulics.rating.uncertainty import head_part_pct, range_part_pct
from app.hydraulics.structure.device import Device, Flag, Flow
from app.hydraulics.structure.states import Flags

BLOCK = 32_768  # heads rated at once: the working arrays stay in the processor's cache
NO_FLOW_PCT = 100.0
"""By convention where nothing flows: nought, give or take all of it."""


@dataclass(frozen=True, kw_only=True)
class Rated:
    """Rated heads: arrays of one shape.

    Attributes
    ----------
    head_m, tailwater_m : m over the device's zero; NaN where not read
    discharge_m3s
        NaN exactly where `flow` is NOT_RATED (head missing, tailwater above head, no control,
        equation undefined, head above `Device.head_limit_m`) or SUBMERGED_UNDETERMINED; 0 where
        NO_FLOW.
    uncertainty_pct
        Expanded, k = 2; NaN with the discharge; 100 by convention where nothing flows.
    submergence_ratio : tailwater over head, 0 at or below the zero, NaN where not read
    flow : int8 of `Flow`
    flags : int64 of `Flag` bits
    detail
        What the device found on the way; with tailwater also `free_discharge_m3s` (what would
        pass undrowned: an upper bound where the discharge is not determined).
    parts
        Budget, %, k = 2: device, dimensions, head, submergence, range (outside the tested heads).
    """

    head_m: Floats
    tailwater_m: Floats
    discharge_m3s: Floats
    uncertainty_pct: Floats
    submergence_ratio: Floats
    flow: NDArray[np.int8]
    flags: Flags
    detail: dict[str, Floats]
    parts: dict[str, Floats]


def rate(
    device: Device,
    head_m: ArrayLike,
    tailwater_m: ArrayLike | None = None,
    head_uncertainty_m: ArrayLike = 0.003,
    *,
    tailwater_uncertainty_m: ArrayLike | None = None,
    free_seen: ArrayLike | None = None,
    compare: bool = False,
) -> Rated:
    """Rate heads through a device.

    Parameters
    ----------
    device : Device
    head_m : array_like, m over the zero, any shape
        NaN: missing, answered with NOT_RATED and HEAD_MISSING.
    tailwater_m : array_like, m over the same zero, optional
        NaN: not read. Broadcast against the heads.
    head_uncertainty_m : array_like, m, expanded (k = 2)
        One for all or one a head; serves the tailwater too unless that has its own.
    free_seen : array_like of bool, optional
        The observer saw a free drop: without a tailwater reading the state is then FREE.
    compare : bool
        Also give the discharges by other published drowned methods in `detail`.

    Raises
    ------
    BadInput
        For an uncertainty that is negative or no number. Heads never raise.
    """
    head = np.asarray(head_m, float)
    spread = _uncertainty(head_uncertainty_m)
    tail = None if tailwater_m is None else np.asarray(tailwater_m, float)
    tail_spread = (
        spread if tailwater_uncertainty_m is None else _uncertainty(tailwater_uncertainty_m)
    )
    seen = None if free_seen is None else np.asarray(free_seen, bool)
    given = [a for a in (head, tail, spread, tail_spread, seen) if a is not None]
    shape = np.broadcast_shapes(*(a.shape for a in given))
    size = int(np.prod(shape, dtype=np.int64))

    def flat(values: NDArray[Any]) -> NDArray[Any]:
        return values if values.ndim == 0 else np.broadcast_to(values, shape).reshape(-1)

    def cut(values: Floats, piece: slice) -> Floats:
        return values if values.ndim == 0 else values[piece]

    heads = np.broadcast_to(head, shape).reshape(-1)
    tails = None if tail is None else np.broadcast_to(tail, shape).reshape(-1)
    spreads = flat(spread), flat(tail_spread)
    seens = None if seen is None else np.broadcast_to(seen, shape).reshape(-1)
    out: dict[str, NDArray[Any]] = {}
    for start in range(0, max(size, 1), BLOCK):
        piece = slice(start, min(start + BLOCK, size))
        block = _rate_block(
            device,
            heads[piece],
            None if tails is None else tails[piece],
            spread=cut(spreads[0], piece),
            tail_spread=cut(spreads[1], piece),
            seen=None if seens is None else seens[piece],
            compare=compare,
        )
        if size <= BLOCK:
            out = block
            break
        out = out or room(block, size)
        put(out, block, piece, size)

    def shaped(key: str) -> NDArray[Any]:
        values = out[key]
        return np.broadcast_to(values, shape) if values.ndim == 0 else values.reshape(shape)

    return Rated(
        head_m=heads.reshape(shape),
        tailwater_m=np.broadcast_to(np.nan if tail is None else tail, shape),
        discharge_m3s=shaped("discharge_m3s"),
        uncertainty_pct=shaped("uncertainty_pct"),
        submergence_ratio=shaped("submergence_ratio"),
        flow=shaped("flow"),
        flags=shaped("flags"),
        detail={k[7:]: shaped(k) for k in out if k.startswith("detail.")},
        parts={k[6:]: shaped(k) for k in out if k.startswith("parts.")},
    )


def _uncertainty(values: ArrayLike) -> Floats:
    spread = np.asarray(values, float)
    if not np.all((spread >= 0) & np.isfinite(spread)):
        raise BadInput(
            "head_uncertainty_m", values, "must be 0 or more", "Give metres, such as 0.003."
        )
    return spread


def _rate_block(
    device: Device,
    head: Floats,
    tail: Floats | None,
    *,
    spread: Floats,
    tail_spread: Floats,
    seen: NDArray[np.bool_] | None,
    compare: bool,
) -> dict[str, NDArray[Any]]:
    wet, dry = _wet(device, head)
    free = device.free_flow(wet)
    discharge, flags = free.discharge_m3s, free.flags
    highest = device.head_limit_m * (1.0 + DUST)
    if wet.size and wet.max() > highest:
        beyond = wet > highest
        discharge = np.where(beyond, np.nan, discharge)
        flags[beyond] |= Flag.BEYOND_LIMIT
    state = np.full(head.shape, Flow.ASSUMED_FREE if device.can_drown else Flow.FREE, np.int8)
    if seen is not None:
        state[seen] = Flow.FREE
    slope = device.log_slope(wet) if free.log_slope_per_m is None else free.log_slope_per_m
    parts = {
        "device": np.asarray(device.coefficient_uncertainty_pct(wet, free)),
        "dimensions": np.asarray(device.dimension_uncertainty_pct(wet)),
        "head": head_part_pct(slope, spread),
        "submergence": np.asarray(0.0),
        "range": _range_part(device, wet),
    }
    detail = dict(free.detail)
    ratio = np.asarray(np.nan)
    drowned = None
    if tail is not None:
        detail["free_discharge_m3s"] = discharge.copy()
        if compare:
            for key, values in device.compare_submerged(wet, np.nan_to_num(tail)).items():
                detail[key] = np.where((tail > 0) & np.isfinite(discharge), values, discharge)
        drowned = drown(
            device,
            wet,
            tail,
            head_uncertainty_m=spread,
            tailwater_uncertainty_m=tail_spread,
            log_slope=slope,
            discharge_m3s=discharge,
            flags=flags,
            state=state,
            parts=parts,
        )
        ratio = drowned.ratio
    total = parts["head"] * parts["head"]
    total += np.square(parts["device"]) + np.square(parts["dimensions"])
    for key in ("submergence", "range"):
        if parts[key].ndim:
            total += np.square(parts[key])
    np.sqrt(total, out=total)
    if not device.limit_known and device.can_drown:
        flags[(state == Flow.ASSUMED_FREE) & np.isfinite(discharge)] |= Flag.LIMIT_UNKNOWN
    if dry is not None:
        _answer_dry(
            device,
            head,
            tail,
            spread=spread,
            dry=dry,
            discharge=discharge,
            flags=flags,
            state=state,
        )
        ratio = np.where(dry, np.nan, ratio)
        for values in detail.values():
            if values.ndim:
                values[dry] = np.nan
    low = discharge.min() if discharge.size else 1.0
    if not low > 0:  # some nothing, or some NaN
        still, lost = discharge == 0, np.isnan(discharge)
        state[still] = Flow.NO_FLOW
        total[still] = NO_FLOW_PCT
        total[lost] = np.nan
        state[lost & (state != Flow.SUBMERGED_UNDETERMINED)] = Flow.NOT_RATED
    return {
        "discharge_m3s": discharge,
        "uncertainty_pct": total,
        "submergence_ratio": ratio,
        "flow": state,
        "flags": flags,
        **{f"detail.{key}": values for key, values in detail.items()},
        **{f"parts.{key}": values for key, values in parts.items()},
    }


def _range_part(device: Device, wet: Floats) -> Floats:
    if not wet.size or (wet.min() >= device.head_min_m and wet.max() <= device.head_max_m):
        return np.asarray(0.0)
    return range_part_pct(wet, device.head_min_m, device.head_max_m, device.cease_to_flow_m)


def _wet(device: Device, head: Floats) -> tuple[Floats, NDArray[np.bool_] | None]:
    """Return heads fit for the equations, and where they stand in for a dry or missing one."""
    if not head.size or (head.min() > device.cease_to_flow_m and head.max() < np.inf):
        return head, None
    dry = ~((head > device.cease_to_flow_m) & (head < np.inf))  # NaN compares false: dry too
    return np.where(dry, device.head_max_m, head), dry


def _answer_dry(
    device: Device,
    head: Floats,
    tail: Floats | None,
    *,
    spread: Floats,
    dry: NDArray[np.bool_],
    discharge: Floats,
    flags: Flags,
    state: NDArray[np.int8],
) -> None:
    """Heads at or below the cease-to-flow head pass nothing; missing heads are not rated."""
    missing = dry & ~np.isfinite(head)
    discharge[dry] = 0.0
    discharge[missing] = np.nan
    flags[dry] = Flag.BELOW_RANGE
    flags[dry & (head < device.cease_to_flow_m - spread)] |= Flag.HEAD_BELOW_ZERO
    flags[missing] = Flag.HEAD_MISSING
    state[dry] = Flow.NO_FLOW
    state[missing] = Flow.NOT_RATED
    if tail is not None:
        reversed_ = dry & ~missing & (tail > device.cease_to_flow_m) & (tail > head + spread)
        discharge[reversed_] = np.nan
        flags[reversed_] |= Flag.TAILWATER_ABOVE_HEAD
        state[reversed_] = Flow.NOT_RATED
