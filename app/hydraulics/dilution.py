"""Dilution gaugings: one gulp of tracer, or tracer fed at a constant rate.

Uncertainties are expanded, k = 2 (95 %). Public functions:

    gulp(*, time_s, trace, kind="conductivity", mass_g=None, volume_l=None, concentration_mg_l=None,
         factor=None, factor_uncertainty_pct=None, background=None, background_end=None,
         second_trace=None, dose_uncertainty_pct=1) -> Gulp
    constant_rate(*, injection_m3s, injected, plateau, background=0, injection_uncertainty_pct=1,
                  concentration_uncertainty_pct=1) -> Gauging; plateau one value or several

References
----------
ISO 9555-1 (mass balances; from memory) and Morgenschweis 2010, Hydrometrie. Default salt factor:
Richardson and others 2017, Confluence.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.gaugings import Gauging, mean_and_error
from app.hydraulics.student import two_sided

Floats = NDArray[np.float64]

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
        readings before the rise give it.
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
    rise, base, base_error = _above_background("trace", times, trace, background, background_end)
    integral = _integral(times, rise)
    peak = float(rise.max())
    second = difference = math.nan
    mixed: bool | None = None
    mixing_part = UNCHECKED_MIXING_PCT
    if second_trace is None:
        flags.append("mixing not checked: one probe")
    else:
        other, _, _ = _above_background("second_trace", times, second_trace, None, None)
        second = _integral(times, other)
        difference = 200.0 * abs(integral - second) / (integral + second)
        mixed = bool(difference <= MIXED_PCT + 1e-9)
        mixing_part = difference / 2.0
        if not mixed:
            flags.append(f"not mixed: the probes differ by {difference:.1f} %")
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
        "background": 200.0 * base_error * float(times[-1] - times[0]) / integral,
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
        peak=base + peak,
        integral=integral,
        second_integral=second,
        mixing_difference_pct=difference,
        mixed=mixed,
        tail_complete=missing == 0.0,
        tail_missing_pct=missing,
        readings_in_cloud=in_cloud,
    )


def constant_rate(
    *,
    injection_m3s: float,
    injected: float,
    plateau: float | Sequence[float],
    background: float = 0.0,
    injection_uncertainty_pct: float = 1.0,
    concentration_uncertainty_pct: float = 1.0,
) -> Gauging:
    """Gauge by tracer fed at a constant rate: Q = q (C1 - C2) / (C2 - C0).

    Parameters
    ----------
    injection_m3s : q
    injected, plateau, background : C1, C2 and C0 in any one unit
    """
    q = _positive("injection_m3s", injection_m3s)
    readings = [plateau] if isinstance(plateau, (int, float)) else list(plateau)
    level = mean_and_error(readings)
    c0, c1, c2 = background, injected, level.mean
    if c0 < 0.0:
        raise BadInput("background", c0, "must not be below zero", "Measure it upstream.")
    if not c2 > c0:
        raise BadInput("plateau", c2, f"is not above background {c0:g}", "Swap or read again.")
    if not c1 > c2:
        raise BadInput("injected", c1, f"is not above the plateau {c2:g}", "Check the solution.")
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
    parts = {
        "injection": injection_uncertainty_pct,
        "injected": 100.0 * per_pct * c1 * q / (c2 - c0) / discharge,
        "plateau": 100.0 * by_plateau * math.hypot(per_pct * c2, scatter) / discharge,
        "background": 100.0 * per_pct * c0 * q * (c1 - c2) / (c2 - c0) ** 2 / discharge,
    }
    return Gauging(
        method="dilution constant rate",
        discharge_m3s=discharge,
        uncertainty_pct=math.hypot(*parts.values()),
        parts=parts,
        flags=tuple(flags),
    )


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


def _above_background(
    field: str,
    times: Floats,
    trace: Sequence[float],
    background: float | None,
    background_end: float | None,
) -> tuple[Floats, float, float]:
    """Return the rise above background, the background, and its standard error."""
    values = np.asarray(trace, dtype=np.float64)
    if len(values) != len(times) or len(times) < 3:
        raise BadInput(field, len(values), "needs a time for each of three readings or more",
                       "Check the two columns.")  # fmt: skip
    if not np.all(np.isfinite(values)):
        raise BadInput(field, "a gap", "every reading is a number", "Leave out the empty rows.")
    for i in range(1, len(times)):
        if not times[i] > times[i - 1]:
            raise BadInput(f"time_s {i + 1}", times[i], "times go forward", "Put rows in order.")
    error = 0.0
    if background is None:
        above = np.nonzero(values > values[0] + 0.02 * (values.max() - values[0]))[0]
        before = mean_and_error(values[: int(above[0])].tolist() if len(above) else [values[0]])
        base = before.mean
        error = before.standard_error if before.count > 1 else 0.0
    else:
        base = float(background)
    after = base if background_end is None else float(background_end)
    rise = values - (base + (after - base) * (times - times[0]) / (times[-1] - times[0]))
    if not rise.max() > 0.0:
        raise BadInput("background", base, "background is not below the peak",
                       "Read the background before the gulp arrives.")  # fmt: skip
    return rise, base, error


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
