"""Dilution by tracer fed at a constant rate. Uncertainties are expanded, k = 2 (95 %).

Public function:

    constant_rate(*, injection_m3s, injected, plateau, background=None, background_end=None,
                  injection_uncertainty_pct=1, concentration_uncertainty_pct=1) -> Gauging;
        plateau one value or several

References
----------
ISO 9555-1 (mass balance; from memory) and Morgenschweis 2010, Hydrometrie.
"""

import math
from collections.abc import Sequence

from app.errors import BadInput
from app.hydraulics.base.rounding import general
from app.hydraulics.base.student import two_sided
from app.hydraulics.gauging.background import DRIFT_TOLD_PCT, UNREAD_DRIFT, drifted_words
from app.hydraulics.gauging.verdict import Gauging, mean_and_error

UNREAD_BACKGROUND = 0.02
"""Share of the plateau that a background never read may be; common practice."""


def constant_rate(
    *,
    injection_m3s: float,
    injected: float,
    plateau: float | Sequence[float],
    background: float | None = None,
    background_end: float | None = None,
    injection_uncertainty_pct: float = 1.0,
    concentration_uncertainty_pct: float = 1.0,
) -> Gauging:
    """Gauge by tracer fed at a constant rate: Q = q (C1 - C2) / (C2 - C0).

    Parameters
    ----------
    injection_m3s : q
    injected, plateau : C1 and C2 in any one unit
    background, background_end : C0 upstream before and after the plateau; the mean of the two is
        used, and their difference taken as a rectangular distribution. One left out counts as
        the other, both left out as nothing; either is flagged and widens the uncertainty.
    """
    q = _positive("injection_m3s", injection_m3s)
    readings = [plateau] if isinstance(plateau, (int, float)) else list(plateau)
    level = mean_and_error(readings)
    known = [each for each in (background, background_end) if each is not None]
    for name, each in (("background", background), ("background_end", background_end)):
        if each is not None and each < 0.0:
            raise BadInput(name, each, "must not be below zero", "Measure it upstream.")
    c0, c1, c2 = sum(known) / max(len(known), 1), injected, level.mean
    if not c2 > c0:
        raise BadInput(
            "plateau", c2, f"is not above background {general(c0)}", "Swap or read again."
        )
    if not c1 > c2:
        raise BadInput(
            "injected", c1, f"is not above the plateau {general(c2)}", "Check the solution."
        )
    discharge = q * (c1 - c2) / (c2 - c0)
    scatter = 0.0
    flags = []
    if level.count > 1:
        scatter = two_sided(level.count - 1) * level.standard_error
        if max(readings) - min(readings) > 0.05 * (c2 - c0):
            flags.append("plateau not flat: wait longer")
    else:
        flags.append("one plateau reading: steadiness unknown")
    per_pct = concentration_uncertainty_pct / 100.0
    by_plateau = q * (c1 - c0) / (c2 - c0) ** 2
    drift, told = _constant_drift(background, background_end, c2)
    flags += told
    parts = {
        "injection": injection_uncertainty_pct,
        "injected": 100.0 * per_pct * c1 * q / (c2 - c0) / discharge,
        "plateau": 100.0 * by_plateau * math.hypot(per_pct * c2, scatter) / discharge,
        "background": 100.0 * per_pct * c0 * q * (c1 - c2) / (c2 - c0) ** 2 / discharge,
        "drift": 100.0 * drift / math.sqrt(3.0) / (c2 - c0),
    }
    return Gauging(
        method="dilution constant rate",
        discharge_m3s=discharge,
        uncertainty_pct=math.hypot(*parts.values()),
        parts=parts,
        flags=tuple(flags),
    )


def _constant_drift(
    before: float | None, after: float | None, plateau: float
) -> tuple[float, list[str]]:
    """Return by how much C0 may have drifted under the plateau, and the flags."""
    if before is None and after is None:
        return UNREAD_BACKGROUND * plateau, [
            "background not read: taken as nothing and the uncertainty widened; read it upstream"
        ]
    if before is None or after is None:
        one, which = (before, "after") if before is not None else (after, "before")
        assert one is not None
        return UNREAD_DRIFT * one, [
            f"background {which} not read: taken as steady and the uncertainty widened; "
            "read it upstream before and after the plateau"
        ]
    effect = math.nan
    if plateau > before:
        effect = 100.0 * (plateau - (before + after) / 2.0) / (plateau - before) - 100.0
    told = not abs(effect) < DRIFT_TOLD_PCT
    return abs(after - before), [drifted_words(before, after, effect, "mean")] if told else []


def _positive(field: str, value: float) -> float:
    if not (value > 0.0 and math.isfinite(value)):
        raise BadInput(field, value, "must be more than zero", "Measure it again.")
    return float(value)
