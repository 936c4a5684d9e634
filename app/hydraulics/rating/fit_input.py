"""What a fit is asked with: gaugings that can be fitted, and enough of them."""

import math
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats

LEAST_GAUGINGS = 6
"""To search for e; fixing e, or e and n, needs fewer (hydrometric practice, common practice)."""

DEFAULT_UNCERTAINTY_PCT = 10.0
"""Expanded uncertainty of a gauging that states none; sets only weights."""


def checked(
    head_m: ArrayLike, discharge_m3s: ArrayLike, uncertainty_pct: ArrayLike | None
) -> tuple[Floats, Floats, Floats]:
    """Return heads, discharges and standard uncertainties of ln Q, shape (n,); raises BadInput."""
    h = np.atleast_1d(np.asarray(head_m, dtype=np.float64))
    q = np.atleast_1d(np.asarray(discharge_m3s, dtype=np.float64))
    given = DEFAULT_UNCERTAINTY_PCT if uncertainty_pct is None else uncertainty_pct
    try:
        pct = np.broadcast_to(np.asarray(given, dtype=np.float64), h.shape)
    except ValueError:
        pct = np.empty(0)
    if h.ndim != 1 or h.shape != q.shape or pct.shape != h.shape:
        raise BadInput("discharge_m3s", q.size, f"there are {h.size} heads", "One flow a head.")
    for name, values in (("discharge_m3s", q), ("uncertainty_pct", pct)):
        bad = np.nonzero(~(np.isfinite(values) & (values > 0.0)))[0]
        if bad.size:
            raise BadInput(
                f"gauging {bad[0] + 1} {name}", values[bad[0]], "must be more than zero",
                "Correct it or leave that gauging out.",
            )  # fmt: skip
    if not np.all(np.isfinite(h)):
        bad_at = int(np.nonzero(~np.isfinite(h))[0][0]) + 1
        raise BadInput(f"gauging {bad_at} head_m", "none", "is needed", "Give its mean head.")
    return h, q, pct / 200.0


def refuse_too_few(
    h: Floats,
    breaks: Floats,
    e: float | None,
    exponent: float | None,
    prior: tuple[float, float] | None,
) -> None:
    """Refuse fewer gaugings, or fewer different heads, than the fit asks; raises BadInput."""
    if exponent is not None and len(breaks):
        raise BadInput("exponent", exponent, "one exponent cannot serve several segments",
                       "Leave out the breaks or the exponent.")  # fmt: skip
    if prior is not None and not prior[1] > 0.0:
        raise BadInput("exponent_prior", prior, "has a deviation above zero", "Give 1.5 and 0.05.")
    if e is None:
        least = LEAST_GAUGINGS if prior is None and exponent is None else 4
        remedy = "Fix the cease-to-flow head, or give the exponent, or gauge more."
    elif exponent is None:
        least, remedy = 3, "Fix the exponent too, or gauge more."
    else:
        least, remedy = 1, "Gauge at least once."
    least += 3 * len(breaks)
    if len(h) < least:
        raise BadInput("gaugings", len(h), f"at least {least} are needed for this fit", remedy)
    if len(np.unique(h)) < min(len(h), 2 if e is not None else 3) and exponent is None:
        raise BadInput("head_m", h[0], "the heads hardly differ", "Gauge at other heads too.")
    edges = [-math.inf, *breaks, math.inf]
    for low, high in pairwise(edges):
        inside = len(np.unique(h[(h > low) & (h <= high)]))
        if len(breaks) and inside < 2:
            raise BadInput("breaks_m", breaks.tolist(), "each segment needs two heads or more",
                           "Move the break among the gaugings.")  # fmt: skip
