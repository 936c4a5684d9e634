"""Tracer to have ready, and its calibration against conductivity.

Public functions:

    calibration_factor(concentration_mg_l, conductivity_us_cm) -> Calibration
    salt_mass_kg(discharge_m3s) -> kg to have ready
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.result import Result
from app.hydraulics.base.student import two_sided
from app.hydraulics.base.units import DUST

SALT_KG_PER_M3S = 10.0
"""Salt for each m3/s; Morgenschweis 2010, Hydrometrie, about 10 kg (read)."""


@dataclass(frozen=True)
class Calibration(Result):
    """Regression of tracer concentration on conductivity."""

    factor: float
    uncertainty_pct: float
    intercept: float
    r_squared: float
    count: int


def calibration_factor(
    concentration_mg_l: Sequence[float], conductivity_us_cm: Sequence[float]
) -> Calibration:
    """Return mg/L for each uS/cm by least squares through calibration points of added tracer."""
    c = np.asarray(concentration_mg_l, dtype=np.float64)
    ec = np.asarray(conductivity_us_cm, dtype=np.float64)
    if len(c) != len(ec) or len(c) < 3:
        raise BadInput("calibration", len(c), "needs three points or more", "Add salt again.")
    away = ec - ec.mean()
    square = float(away @ away)
    if not ec.max() > ec.min():
        raise BadInput("calibration", ec[0], "conductivity never changed", "Check the probe.")
    spread = float(np.sum((c - c.mean()) ** 2))
    if not c.max() > c.min():
        raise BadInput("calibration", c[0], "concentration never changed", "Add salt again.")
    together = float(away @ (c - c.mean()))
    factor = together / square
    if not together > DUST * math.sqrt(square * spread):
        raise BadInput(
            "calibration", factor, "conductivity falls as salt is added", "Swap columns."
        )
    left = c - c.mean() - factor * away
    residual = float(left @ left)
    error = math.sqrt(residual / (len(c) - 2) / square)
    return Calibration(
        factor,
        100.0 * two_sided(len(c) - 2) * error / factor,
        float(c.mean() - factor * ec.mean()),
        1.0 - residual / spread,
        len(c),
    )


def salt_mass_kg(discharge_m3s: float) -> float:
    """Return the salt to have ready for a gulp, by the flow expected."""
    if not (discharge_m3s > 0.0 and math.isfinite(discharge_m3s)):
        raise BadInput(
            "discharge_m3s", discharge_m3s, "must be more than zero", "Give the flow expected."
        )
    return SALT_KG_PER_M3S * discharge_m3s
