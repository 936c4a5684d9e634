"""How well the heads of the long record are known: as read, and where nobody read them."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.series.layers import How, Shape
from app.records.sensors import CorrectionLayer

ESTIMATE_UNCERTAINTY_M = 0.02  # common practice: a head nobody read is not known better than this


def head_spread_m(own_m: float, layers: Sequence[CorrectionLayer], t_s: Ints) -> float | Floats:
    """Return the uncertainty of the heads, m: the structure's, wider where a correction says so."""
    wide = [(row, _added_m(row)) for row in layers if _added_m(row) > 0]
    if not wide:
        return own_m
    squares = np.full(t_s.shape, own_m**2)
    for row, added_m in wide:
        squares[(t_s >= row.from_s) & (t_s <= row.to_s)] += added_m**2
    wider: Floats = np.sqrt(squares)
    return wider


def _added_m(row: CorrectionLayer) -> float:
    """Return what a correction adds; an estimate always adds something."""
    if row.shape == Shape.ESTIMATED and row.uncertainty_m == 0:
        return ESTIMATE_UNCERTAINTY_M
    return row.uncertainty_m


def estimate_pct(uncertainty_pct: Floats, log_slope_per_m: Floats, how: NDArray[np.int8]) -> Floats:
    """Return the uncertainty of flows whose head nobody read, %, k = 2.

    That of the rating with `ESTIMATE_UNCERTAINTY_M` of head added in squares; a person's estimate
    carries its own already.
    """
    wider = np.hypot(uncertainty_pct, 100.0 * ESTIMATE_UNCERTAINTY_M * log_slope_per_m)
    found: Floats = np.where(how == How.ESTIMATED, uncertainty_pct, wider)
    return found
