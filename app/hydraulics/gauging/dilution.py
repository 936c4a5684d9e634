"""Dilution by one gulp of tracer; a feed at a constant rate is in `dilution_constant`.

Uncertainties are expanded, k = 2 (95 %). Public function:

    gulp(*, time_s, trace, kind="conductivity", mass_g=None, volume_l=None, concentration_mg_l=None,
         factor=None, factor_uncertainty_pct=None, background=None, background_end=None,
         second_trace=None, dose_uncertainty_pct=1) -> Gulp

References
----------
ISO 9555-1 (mass balances; from memory) and Morgenschweis 2010, Hydrometrie. Default salt factor:
Richardson and others 2017, Confluence.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.rounding import fixed
from app.hydraulics.gauging.background import (
    DRIFT_TOLD_PCT,
    Baseline,
    above_background,
    drifted_words,
    one_place,
)
from app.hydraulics.gauging.verdict import Gauging

SALT_FACTOR = 0.486
"""mg/L of common salt for each uS/cm; Richardson and others 2017, Confluence (read)."""

SALT_FACTOR_UNCERTAINTY_PCT = 5.6
"""Expanded; twice the 2.8 % given by Richardson and others 2017, taken as standard."""

MIXED_PCT = 5.0
"""Two probes that agree within this are called mixed; common practice."""

UNCHECKED_MIXING_PCT = 3.0
"""Taken for mixing when there is no second probe; common practice."""

TAIL_PCT = 2.0
"""The tail is complete when the last reading is within this share of the peak; common practice."""


@dataclass(frozen=True, kw_only=True)
class Gulp(Gauging):
    """A gulp gauging; trace quantities are in the unit of the trace."""

    dose_g: float
    factor: float
    background: float
    background_end: float
    background_after_from: str
    drift_effect_pct: float
    peak: float
    integral: float
    second_integral: float
    mixing_difference_pct: float
    mixed: bool | None
    tail_complete: bool
    tail_missing_pct: float
    readings_in_cloud: int


def gulp(
    *,
    time_s: Sequence[float],
    trace: Sequence[float],
    kind: str = "conductivity",
    mass_g: float | None = None,
    volume_l: float | None = None,
    concentration_mg_l: float | None = None,
    factor: float | None = None,
    factor_uncertainty_pct: float | None = None,
    background: float | None = None,
    background_end: float | None = None,
    second_trace: Sequence[float] | None = None,
    dose_uncertainty_pct: float = 1.0,
) -> Gulp:
    """Gauge by the cloud of one gulp: dose over the integral of concentration above background.

    Parameters
    ----------
    time_s, trace : shape (n,), at least three; trace in uS/cm or mg/L as `kind` says
    mass_g : dose; or volume_l of a solution of concentration_mg_l
    factor : mg/L for each uS/cm; the default for salt is used, and flagged, when left out
    background, background_end : before the cloud and after it; straight between. Left out, the
        readings before the rise and the level readings at the end give them; an end that is not
        level is flagged and widens the uncertainty (`app.hydraulics.gauging.background`).
    second_trace : shape (n,), a second probe across the race, to prove mixing

    Raises
    ------
    BadInput
        Times out of order, lengths that differ, no dose, background above the peak.
    """
    if kind not in ("conductivity", "concentration"):
        raise BadInput("kind", kind, "is conductivity or concentration", "Say which was read.")
    times = np.asarray(time_s, dtype=np.float64)
    flags: list[str] = []
    dose_g = _dose_g(mass_g, volume_l, concentration_mg_l)
    if kind == "concentration":
        factor, factor_part = 1.0, 0.0
    elif factor is None:
        factor, factor_part = SALT_FACTOR, SALT_FACTOR_UNCERTAINTY_PCT
        flags.append("default salt factor: calibrate at the site")
    else:
        factor = _positive("factor", factor)
        factor_part = 2.0 if factor_uncertainty_pct is None else factor_uncertainty_pct
    below = above_background("trace", times, trace, background, background_end)
    rise, base = below.rise, below.before
    integral = _integral(times, rise)
    spreads = [(below.scatter_spread / integral, below.drift_spread / integral)]
    peak = float(rise.max())
    ignored = integral + below.drift_area
    effect = 100.0 * (integral / ignored - 1.0) if ignored > 0.0 else math.nan
    flags += _background_flags(below, effect, integral, background is not None)
    second = difference = math.nan
    mixed: bool | None = None
    mixing_part = UNCHECKED_MIXING_PCT
    if second_trace is None:
        flags.append("mixing not checked: one probe")
    else:
        other = above_background("second_trace", times, second_trace)
        second = _integral(times, other.rise)
        spreads.append((other.scatter_spread / second, other.drift_spread / second))
        difference = 200.0 * abs(integral - second) / (integral + second)
        mixed = bool(difference <= MIXED_PCT + 1e-9)
        mixing_part = difference / 2.0
        if not mixed:
            flags.append(f"not mixed: the probes differ by {fixed(difference, 1)} %")
    used = integral if mixed is None else (integral + second) / 2.0
    missing = _tail_missing_pct(times, rise, integral)
    if missing > 0.0:
        flags.append("tail incomplete: the trace ends before the cloud has passed")
    in_cloud = int(np.count_nonzero(rise > 0.01 * peak))
    if in_cloud < 10:
        flags.append("fewer than ten readings in the cloud: read faster")
    if kind == "conductivity" and peak < 0.1 * base:
        flags.append("peak less than a tenth above background: use more salt")
    parts = {
        "dose": dose_uncertainty_pct,
        "factor": factor_part,
        "background": 100.0 * max(scatter for scatter, _ in spreads),
        "drift": 100.0 * max(drift for _, drift in spreads),
        "mixing": mixing_part,
        "tail": missing,
    }
    return Gulp(
        method="dilution gulp",
        discharge_m3s=dose_g / (factor * used),
        uncertainty_pct=math.hypot(*parts.values()),
        parts=parts,
        flags=tuple(flags),
        dose_g=dose_g,
        factor=factor,
        background=base,
        background_end=below.after,
        background_after_from=below.after_from,
        drift_effect_pct=effect,
        peak=base + peak,
        integral=integral,
        second_integral=second,
        mixing_difference_pct=difference,
        mixed=mixed,
        tail_complete=missing == 0.0,
        tail_missing_pct=missing,
        readings_in_cloud=in_cloud,
    )


def _background_flags(
    below: Baseline, effect_pct: float, integral: float, typed: bool
) -> list[str]:
    """Return what a reader must know of the background: drifted, not read, hardly read."""
    flags = []
    wide, short = (
        one_place(100.0 * area / integral) for area in (below.drift_spread, below.short_spread)
    )
    if below.before_count == 1 and not typed:
        flags.append("background before is one reading: read five before the gulp arrives")
    if below.after_from == "not read":
        flags.append(
            f"background after not read: taken as before, the uncertainty widened by "
            f"{fixed(wide, 1)} %; read it once the cloud has passed"
        )
    elif not abs(effect_pct) < DRIFT_TOLD_PCT:
        flags.append(drifted_words(below.before, below.after, effect_pct, "straight line"))
    elif typed and below.after_from == "trace":
        flags.append("background after not given: taken from the level end of the trace")
    if short >= DRIFT_TOLD_PCT:
        flags.append(
            "background after seen for a short while: the uncertainty widened by "
            f"{fixed(short, 1)} %; read on once the cloud has passed"
        )
    return flags


def _dose_g(
    mass_g: float | None, volume_l: float | None, concentration_mg_l: float | None
) -> float:
    if mass_g is not None:
        return _positive("mass_g", mass_g)
    if volume_l is None or concentration_mg_l is None:
        raise BadInput(
            "mass_g", "none", "the dose is unknown",
            "Give the mass of tracer, or volume and concentration of the solution.",
        )  # fmt: skip
    strength = _positive("concentration_mg_l", concentration_mg_l)
    return _positive("volume_l", volume_l) * strength / 1000.0


def _integral(times: Floats, rise: Floats) -> float:
    total = float(np.diff(times) @ (rise[:-1] + rise[1:])) / 2.0
    if not total > 0.0:
        raise BadInput("background", "too high", "nothing is left above background",
                       "Read the background before the gulp arrives.")  # fmt: skip
    return total


def _tail_missing_pct(times: Floats, rise: Floats, integral: float) -> float:
    """Return the share of the cloud after the last reading, its tail taken as exponential."""
    top = int(np.argmax(rise))
    last = float(rise[-1])
    if last <= TAIL_PCT / 100.0 * rise[top]:
        return 0.0
    half = [i for i in range(top, len(rise)) if rise[i] <= rise[top] / 2.0]
    start = half[0] if half else top
    if start >= len(rise) - 1 or not rise[start] > last:
        return 100.0  # the fall was never seen: nothing is known of the tail
    decay = math.log(rise[start] / last) / float(times[-1] - times[start])
    beyond = last / decay
    return 100.0 * beyond / (integral + beyond)


def _positive(field: str, value: float) -> float:
    if not (value > 0.0 and math.isfinite(value)):
        raise BadInput(field, value, "must be more than zero", "Measure it again.")
    return float(value)
