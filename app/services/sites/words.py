"""A device in words: whether it drowns and from where, up to which head a discharge is given."""

import math

import numpy as np

from app.hydraulics.rating.submergence import UNKNOWN_LIMIT_SUBMERGENCE
from app.hydraulics.structure.device import Device


def lowest_limit(device: Device) -> float | None:
    """Return the submergence up to which a rating holds anywhere; None when none is known."""
    if not device.can_drown:
        return None
    heads = np.geomspace(max(device.head_min_m, 0.001), device.head_max_m, 40)
    lowest = float(np.nanmin(np.append(device.modular_limit(heads), np.inf)))
    return lowest if math.isfinite(lowest) else None


def drowning(device: Device, head_m: float | None = None) -> str:
    """Return whether a structure drowns and from where, in words; at a head or at the lowest."""
    if not device.can_drown:
        return f"cannot drown: {device.dims.get('cannot_drown', 'kind of structure')}"
    limit = lowest_limit(device)
    if head_m is not None:
        at = float(device.modular_limit(np.array([head_m]))[0])
        limit = at if math.isfinite(at) else None
    if limit is None:
        return (
            "unknown from where on it drowns: not determined with a tailwater above "
            f"{UNKNOWN_LIMIT_SUBMERGENCE:.2f} of the head"
        )
    return f"drowns from a tailwater of {limit:.2f} of the head"


def head_limit(device: Device) -> str:
    """Return up to which head a discharge is given, in words."""
    said = f"discharge given to {device.head_limit_m * 1000.0:.0f} mm"
    factor, why = device.dims.get("head_limit"), device.dims.get("head_limit_reason")
    if factor is not None:
        said += f", {float(factor):g} times the top head" + (f": {why}" if why else "")
    return said
