"""A rating as a curve: free discharge with its uncertainty over heads, and round figures of it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.errors import SillbookError
from app.hydraulics.base.arrays import Floats
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device, Flow, flag_words
from app.records.sites import Rating, Structure
from app.services.sites.dated import device_of

NODES = 160
STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.025, 0.05, 0.1, 0.2, 0.25, 0.5)


@dataclass(frozen=True)
class Curve:
    """Heads and what a rating gives there when the flow is free; arrays of one shape."""

    head_m: Floats
    discharge_m3s: Floats
    uncertainty_pct: Floats
    flow: list[str]
    flags: list[list[str]]


def device_or_none(rating: Rating | None) -> Device | None:
    """Return what a rating builds; None when it can no longer be built."""
    if rating is None:
        return None
    try:
        return device_of(rating)
    except SillbookError:
        return None


def curve_at(device: Device, structure: Structure, heads_m: Sequence[float] | Floats) -> Curve:
    """Return a rating at heads, as free flow with the structure's uncertainty of a head."""
    heads = np.asarray(heads_m, dtype=np.float64)
    spread = np.full(heads.shape, structure.head_uncertainty_m)
    rated = rate(device, heads, None, spread, free_seen=np.ones(heads.shape, bool))
    return Curve(
        heads,
        rated.discharge_m3s,
        rated.uncertainty_pct,
        [Flow(int(code)).word for code in rated.flow],
        [flag_words(int(bits)) for bits in rated.flags],
    )


def nodes(device: Device, heads_m: Sequence[float]) -> Floats:
    """Return heads to draw a rating at: its range, or the gauged heads with room around them."""
    low, high = device.head_min_m, device.head_max_m
    if heads_m:
        low = min(low, 0.9 * min(heads_m))
        high = max(heads_m) * 1.3 if max(heads_m) * 1.3 < high else max(high, max(heads_m) * 1.05)
    low = max(low, device.cease_to_flow_m + 0.001, 0.001)
    inside = [each for each in device.breaks_m if low < each < high]
    return np.unique(np.concatenate([np.geomspace(low, max(high, 2 * low), NODES), inside]))


def round_heads(low_m: float, high_m: float, most: int = 12) -> list[float]:
    """Return round heads inside a range, `most` of them or fewer."""
    step = next((s for s in STEPS if (high_m - low_m) / s <= most - 1), 1.0)
    first, last = math.ceil(low_m / step - 1e-9), math.floor(high_m / step + 1e-9)
    return [round(k * step, 6) for k in range(first, last + 1)]
