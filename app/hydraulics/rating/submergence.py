"""What a tailwater reading makes of a free discharge.

With S = tailwater / head and U_S = S sqrt((U_hb / hb)^2 + (U_ha / ha)^2), the flow is called free
only where S + U_S is below the modular limit. Between that and the limit it is assumed free and
flagged. Above the limit it is corrected where the device has a trusted correction, the heads are
further apart than twice their uncertainty, and S is at most 0.95; otherwise not determined.

Where the onset itself is uncertain by a band, free needs S + U_S below limit less band, and inside
the band the uncertainty of the correction grows in a straight line to its full size at the limit.

Where nobody knows the limit, a ratio above 0.5 is not determined and below it the flow is assumed
free, flagged. A structure said never to drown is doubted above the same ratio.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.arrays import Floats
from app.hydraulics.rating.uncertainty import drowned_sensitivities
from app.hydraulics.structure.device import Device, Flag, Flow
from app.hydraulics.structure.states import Flags

WARN_SUBMERGENCE = 0.90
"""The two published Parshall methods part ways above it; warned (Colorado procedure, 2014)."""


UNKNOWN_LIMIT_SUBMERGENCE = 0.50
"""Ratio above which a structure of unknown modular limit is taken for drowned (common practice: the
limit of the smallest Parshall flumes; a sharp-edged weir drowns sooner and should state it)."""


@dataclass(frozen=True)
class Drowned:
    """Submergence ratio of every row, NaN where no tailwater was read."""

    ratio: Floats


def drown(
    device: Device,
    head_m: Floats,
    tailwater_m: Floats,
    *,
    head_uncertainty_m: Floats,
    tailwater_uncertainty_m: Floats,
    log_slope: Floats,
    discharge_m3s: Floats,
    flags: Flags,
    state: NDArray[np.int8],
    parts: dict[str, Floats],
) -> Drowned:
    """Settle the state of every row with a tailwater reading; changes the arrays in place.

    Parameters
    ----------
    head_m : array (n), m, above the cease-to-flow head
    tailwater_m : array (n), m, NaN where not read
    head_uncertainty_m, tailwater_uncertainty_m : array (n) or one figure, m, k = 2
    log_slope : array (n), 1/m, free d ln Q / dh
    discharge_m3s, flags, state : arrays (n), free on entry
    parts : budget, %; `head` and `submergence` are changed where the flow is drowned
    """
    read = ~np.isnan(tailwater_m)
    # heads under a nanometre count as one: their ratio means nothing, and must not overflow
    ratio = np.where(read, np.clip(tailwater_m, 0.0, 1e9) / np.maximum(head_m, 1e-9), np.nan)
    state[read & ~(tailwater_m > 0)] = Flow.FREE
    rows = np.flatnonzero(read & (tailwater_m > 0) & np.isfinite(discharge_m3s))
    if not rows.size:
        return Drowned(ratio)
    ha, hb, sub = np.maximum(head_m[rows], 1e-9), np.maximum(tailwater_m[rows], 1e-9), ratio[rows]
    ua = np.broadcast_to(head_uncertainty_m, head_m.shape)[rows]
    ub = np.broadcast_to(tailwater_uncertainty_m, head_m.shape)[rows]
    limit = device.modular_limit(ha) if device.can_drown else np.full(ha.shape, np.inf)
    spread = sub * np.hypot(ub / hb, ua / ha)
    band = device.modular_limit_uncertainty
    unknown = np.isnan(limit)
    high = sub > UNKNOWN_LIMIT_SUBMERGENCE
    doubted = high & np.isinf(limit)
    free = (sub + spread < limit - band) & ~doubted
    over = np.where(unknown, high, sub > limit)
    reversed_ = hb > ha + ua
    close = ~free & (ha - hb < 2.0 * ua) & ~reversed_
    factor = device.drowned_factor(ha, np.minimum(sub, device.max_submergence))
    known = ~over if factor is None else ~over | (~unknown & (sub <= device.max_submergence))
    known &= ~close & ~reversed_

    found = np.full(rows.shape, Flow.SUBMERGED_UNDETERMINED, np.int8)
    found[known & over] = Flow.SUBMERGED_CORRECTED
    found[known & ~over] = Flow.ASSUMED_FREE
    found[free] = Flow.FREE
    found[reversed_] = Flow.NOT_RATED
    state[rows] = found

    bits = np.zeros(rows.shape, np.int64)
    bits[over & (sub > WARN_SUBMERGENCE)] |= Flag.HIGH_SUBMERGENCE
    bits[~free & ~doubted & (sub <= limit)] |= Flag.NEAR_MODULAR_LIMIT
    bits[unknown] |= Flag.LIMIT_UNKNOWN
    bits[doubted] |= Flag.DROWNING_DOUBTED
    bits[close] |= Flag.HEADS_TOO_CLOSE
    bits[reversed_] = Flag.TAILWATER_ABOVE_HEAD
    flags[rows] |= bits

    discharge_m3s[rows[~known]] = np.nan
    near = known & ~over & ~free
    if band > 0.0 and near.any():
        into = np.clip((sub + spread - limit + band) / band, 0.0, 1.0)[near]
        model = _submergence_part(parts, discharge_m3s.size)
        model[rows[near]] = into * device.submergence_uncertainty_pct(sub[near])
    if factor is not None:
        _correct(
            device,
            rows,
            known & over,
            factor,
            ha=ha,
            hb=hb,
            ua=ua,
            ub=ub,
            log_slope=log_slope,
            discharge_m3s=discharge_m3s,
            parts=parts,
        )
    return Drowned(ratio)


def _submergence_part(parts: dict[str, Floats], size: int) -> Floats:
    """Return the budget's part for submergence as an array that can be written to."""
    if not parts["submergence"].ndim:
        parts["submergence"] = np.zeros(size)
    return parts["submergence"]


def _correct(
    device: Device,
    rows: NDArray[np.intp],
    chosen: NDArray[np.bool_],
    factor: Floats,
    *,
    ha: Floats,
    hb: Floats,
    ua: Floats,
    ub: Floats,
    log_slope: Floats,
    discharge_m3s: Floats,
    parts: dict[str, Floats],
) -> None:
    """Apply the factor where chosen, and give both heads their own sensitivity."""
    at = rows[chosen]
    if not at.size:
        return
    discharge_m3s[at] *= factor[chosen]
    head, tail = ha[chosen], hb[chosen]

    def drowned(head_m: Floats, submergence_ratio: Floats) -> Floats:
        value = device.drowned_factor(head_m, submergence_ratio)
        assert value is not None  # asked of the same device just before
        return value

    to_head, to_tail = drowned_sensitivities(drowned, head, tail)
    parts["head"][at] = 100.0 * np.hypot(
        (log_slope[at] + to_head / head) * ua[chosen], to_tail * ub[chosen] / tail
    )
    model = _submergence_part(parts, discharge_m3s.size)
    model[at] = device.submergence_uncertainty_pct(tail / head)
