"""Uncertainty of a single discharge: relative parts, %, expanded (k = 2), added in squares.

X_Q^2 = X_device^2 + X_dimensions^2 + X_head^2 + X_submergence^2 + X_range^2, the form of ISO 4359
and of the GUM (ISO/IEC Guide 98-3), read as standard uncertainties in Morgenschweis 2010,
Hydrometrie. The head enters as n U_h / h free and, drowned, as the squares of both heads'
own sensitivities.
"""

from collections.abc import Callable

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.rounding import fixed

Pct = Floats | float

RANGE_EXPONENT = 0.5
"""Doubt (k = 2) about the exponent of a rating outside the heads it was tested at. Half an exponent
is half of what parts a rectangular control (1.5) from a triangular one (2.5): common practice."""


def combine(*parts_pct: Pct) -> Floats:
    """Return the root of the sum of squares of relative parts, %."""
    total: Floats = np.asarray(0.0)
    for part in parts_pct:
        total = total + np.square(part)
    return np.sqrt(total)


def head_part_pct(log_slope: Floats, head_uncertainty_m: Pct) -> Floats:
    """Return 100 U_h |d ln Q / dh|, %: the share of the head in free flow, n U_h / h.

    Parameters
    ----------
    log_slope : array, 1/m
        d ln Q / dh: n / h for a power law, n / (h - e) with an offset.
    head_uncertainty_m : array or float, m, k = 2
    """
    part: Floats = log_slope * (100.0 * np.asarray(head_uncertainty_m))
    return part


def range_part_pct(
    head_m: Floats, low_m: float, high_m: float, cease_to_flow_m: float = 0.0
) -> Floats:
    """Return what is added outside the tested heads, %, k = 2; it grows with the distance.

    With Q = C (h - e)^n known at the nearest tested head h_t, an exponent that is doubted by U_n
    beyond it moves Q by U_n |ln((h - e) / (h_t - e))| (derived); U_n is `RANGE_EXPONENT`: 9 % at
    1.2 and 20 % at 1.5 times the top head, 35 % at half the least head. The same rule for every
    family and for ratings people bring, whose tested heads are those gauged.

    Parameters
    ----------
    head_m : array, m, above the cease-to-flow head
    low_m, high_m : float, m
        RatingTested range; a range that begins at the cease-to-flow head has no outside below.
    """
    over = np.maximum(np.asarray(head_m, float) - cease_to_flow_m, 1e-9)
    part: Floats = np.zeros(over.shape)
    low, high = low_m - cease_to_flow_m, high_m - cease_to_flow_m
    if low > 0:
        part = np.maximum(part, np.log(low / over))
    if high > 0:
        part = np.maximum(part, np.log(over / high))
    return 100.0 * RANGE_EXPONENT * part


def drowned_sensitivities(
    factor: Callable[[Floats, Floats], Floats], head_m: Floats, tailwater_m: Floats
) -> tuple[Floats, Floats]:
    """Return d ln F / d ln ha and d ln F / d ln hb of a drowned factor F(ha, hb / ha).

    Central differences with a relative step of 1e-4. The free exponent adds to the first; for a
    factor of S alone the two cancel, as a common error of the zero partly does.
    """
    step = 1e-4

    def log_factor(head: Floats, tail: Floats) -> Floats:
        return np.log(np.maximum(factor(head, tail / head), 1e-12))

    upper, lower = 1.0 + step, 1.0 - step
    to_head = log_factor(head_m * upper, tailwater_m) - log_factor(head_m * lower, tailwater_m)
    to_tail = log_factor(head_m, tailwater_m * upper) - log_factor(head_m, tailwater_m * lower)
    return to_head / (2.0 * step), to_tail / (2.0 * step)


def round_to_uncertainty(value: float, pct: float) -> str:
    """Return the value as text, rounded to two figures of its uncertainty.

    0.11063 at 4.3 % (0.0048) reads "0.1106". Trailing zeros stay where they carry meaning. With no
    usable uncertainty three figures are given.
    """
    if not np.isfinite(value):
        return "not known"
    size = abs(value) * pct / 100.0 if np.isfinite(pct) else 0.0
    if size > 0:
        places = 1 - int(np.floor(np.log10(size)))
    elif value:
        places = 2 - int(np.floor(np.log10(abs(value))))
    else:
        places = 0
    return fixed(value, places)
