"""Whether the flow is steady enough for the head to speak for the discharge.

A head pond between the gate and the control stores ``A dh/dt``; until it has filled, the flume
passes less (or more) than the race brings. The rule below is a list of plain steps so that the
phone can take the same ones. Thresholds are common practice in gauging, not a standard.
"""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput

LEAST_READINGS = 3  # common practice: two points always lie on a line
LEAST_SPAN_S = 120.0  # common practice: 2 min, or one time constant of the pond
DRIFT_WINDOW_S = 600.0  # common practice: a drift is judged over 10 min
DRIFT_LIMIT_M = 0.002  # common practice: 2 mm in that window
RANGE_SHARE = 0.01  # common practice: readings within 1 % of the head or their uncertainty
STORAGE_SHARE = 0.02  # common practice: storage up to 2 % of the discharge
SETTLED_SHARE = 0.01  # wait until 1 % of the discharge is left in storage
REST_TIME_CONSTANTS = 3.0  # 95 % of a step of inflow has come through (exact: 1 - e^-3)
REST_WITHOUT_POND_S = 600.0  # common practice: a small race's pond takes of the order of 10 min

STUDENT_T_95 = (
    *(12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228),
    *(2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086),
    *(2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042),
)
"""Two-sided 5 % points of Student's t for 1 to 30 degrees of freedom (statistical tables)."""
STUDENT_T_95_LARGE = 1.960


@dataclass(frozen=True, kw_only=True)
class Limits:
    """The limits that an office may set; the built-in ones are common practice."""

    drift_limit_m: float = DRIFT_LIMIT_M
    range_share: float = RANGE_SHARE
    least_span_s: float = LEAST_SPAN_S


@dataclass(frozen=True, kw_only=True)
class Steadiness:
    """What a few readings say about the flow. None where it cannot be known."""

    word: str  # steady, settling, unsteady or unknown
    wait_min: float | None  # to steady when settling; to enough readings when unknown; 0 if steady
    slope_m_per_s: float | None  # least squares, rising positive
    range_m: float | None
    storage_m3s: float | None  # pond area times slope: goes into the pond, not over the crest
    tau_s: float | None  # time constant of the pond
    reason: str


def classify(
    times_s: Sequence[float],
    heads_m: Sequence[float],
    *,
    exponent: float | None,
    discharge_m3s: float | None,
    pond_area_m2: float | None = None,
    gate_opened_s: float | None = None,
    reading_uncertainty_m: float = 0.003,
    limits: Limits | None = None,
) -> Steadiness:
    """Class a series of head readings.

    1. Mean head ``h``, range, least-squares slope ``b`` (2 readings or more, not all at once).
    2. ``tau = A h / (n Q)``; storage ``A b``. Unknown without pond area, exponent or discharge.
    3. Trend (3 readings or more): ``|b|`` brings over 2 mm in 10 min, or ``|A b| > 0.02 Q``; and
       Student's t of the slope is above its two-sided 5 % point, or the heads in order of time
       never turn while spread wider than the limit of step 8.
    4. Gate opened less than ``3 tau`` (10 min if ``tau`` is unknown) before the last reading:
       *settling*.
    5. Fewer than 2 times or no head over the crest: *unknown*.
    6. Two readings: further apart than the range limit, *unsteady*; else *unknown*.
    7. Trend: *settling*. 8. Range above the larger of the reading uncertainty and 1 % of the
       head: *unsteady*. 9. Readings over less than ``max(2 min, tau)``: *unknown*. 10. *Steady*.

    Wait when settling, in seconds: the larger of what is left of the rest in step 4 and
    ``tau ln(|A b| / 0.01 Q)`` if there is a trend and ``|A b| > 0.01 Q``; None when neither is
    known (then it is the inflow that changes, or the pond is not known).

    Parameters
    ----------
    times_s, heads_m : sequence of float
        Seconds on any clock, and heads over the crest in metres; any order.
    exponent : float or None
        Local exponent d ln Q / d ln h of the rating.
    discharge_m3s : float or None
        Discharge at the mean head; None when not rated.
    pond_area_m2 : float or None
        Water surface between the gate and the control; an estimate, often +-30 %.
    gate_opened_s : float or None
        On the same clock as the readings.
    reading_uncertainty_m : float
        Expanded (k = 2) uncertainty of one head.
    limits : Limits or None
        Of drift, scatter and span; None for the built-in ones, which the steps above name.

    Raises
    ------
    BadInput
        When the lists differ in length or hold something other than finite numbers.
    """
    limits = limits or Limits()
    readings = _checked(times_s, heads_m)
    count = len(readings)
    if count == 0:
        return Steadiness(
            word="unknown",
            wait_min=None,
            slope_m_per_s=None,
            range_m=None,
            storage_m3s=None,
            tau_s=None,
            reason="no readings",
        )
    times, heads = [time for time, _ in readings], [head for _, head in readings]
    x = [time - times[0] for time in times]
    y = [head - heads[0] for head in heads]
    x_mean, y_mean = sum(x) / count, sum(y) / count
    head = heads[0] + y_mean
    spread = max(y) - min(y)
    too_wide = spread > max(reading_uncertainty_m, limits.range_share * head)
    span = x[-1]
    sxx = sum((a - x_mean) ** 2 for a in x)
    sxy = sum((a - x_mean) * (b - y_mean) for a, b in zip(x, y, strict=True))
    slope = sxy / sxx if sxx > 0 else None

    flow = discharge_m3s if discharge_m3s is not None and discharge_m3s > 0 else None
    tau = None
    if pond_area_m2 and flow and exponent and head > 0:
        tau = time_constant(pond_area_m2, head, exponent, flow)
    storage = storage_discharge(pond_area_m2, slope) if pond_area_m2 and slope is not None else None

    trend = False
    if slope is not None and count >= LEAST_READINGS:
        left = sum((b - y_mean - slope * (a - x_mean)) ** 2 for a, b in zip(x, y, strict=True))
        matters = abs(slope) * DRIFT_WINDOW_S > limits.drift_limit_m or (
            storage is not None and flow is not None and abs(storage) > STORAGE_SHARE * flow
        )
        dof = count - 2
        limit = STUDENT_T_95[dof - 1] if dof <= len(STUDENT_T_95) else STUDENT_T_95_LARGE
        steps = [after - before for before, after in itertools.pairwise(y)]
        one_way = min(steps) >= 0 or max(steps) <= 0
        trend = matters and (
            slope * slope * sxx * dof > limit * limit * left or (one_way and too_wide)
        )

    wait_s = None
    if trend and tau is not None and storage is not None and flow is not None:
        wait_s = settling_time(tau, abs(storage), SETTLED_SHARE * flow) or None

    def answer(word: str, wait: float | None, reason: str) -> Steadiness:
        minutes = None if wait is None else wait / 60.0
        return Steadiness(
            word=word,
            wait_min=minutes,
            slope_m_per_s=slope,
            range_m=spread,
            storage_m3s=storage,
            tau_s=tau,
            reason=reason,
        )

    if gate_opened_s is not None:
        rest = REST_WITHOUT_POND_S if tau is None else REST_TIME_CONSTANTS * tau
        since = max(times[-1] - gate_opened_s, 0.0)
        if since < rest:
            wait = rest - since if wait_s is None else max(rest - since, wait_s)
            return answer("settling", wait, "the gate was opened a short while ago")
    if slope is None:
        return answer("unknown", None, "readings at one moment cannot show a trend")
    if head <= 0:
        return answer("unknown", None, "no head over the crest")
    if count < LEAST_READINGS:
        if too_wide:
            return answer("unsteady", None, "two readings differ: take a third")
        return answer("unknown", None, "two readings cannot show a trend")
    if trend:
        return answer("settling", wait_s, "the head is " + ("rising" if slope > 0 else "falling"))
    if too_wide:
        return answer("unsteady", None, "readings scatter without a trend")
    need = max(limits.least_span_s, tau or 0.0)
    if span < need:
        return answer("unknown", need - span, "the readings span too short a time")
    return answer("steady", 0.0, "no trend and little scatter")


def time_constant(
    pond_area_m2: float, head_m: float, exponent: float, discharge_m3s: float
) -> float:
    """Time constant of a pond, ``tau = A dh/dQ = A h / (n Q)``, s (linear storage)."""
    return pond_area_m2 * head_m / (exponent * discharge_m3s)


def storage_discharge(pond_area_m2: float, slope_m_per_s: float) -> float:
    """Discharge going into a pond whose level rises, ``A dh/dt``, m3/s (continuity)."""
    return pond_area_m2 * slope_m_per_s


def settling_time(tau_s: float, difference_m3s: float, wanted_m3s: float) -> float:
    """Time for a difference of inflow and outflow to shrink to what is wanted, s.

    ``t = tau ln(difference / wanted)``; 0 when it is already there (linear storage).
    """
    if difference_m3s <= wanted_m3s:
        return 0.0
    return tau_s * math.log(difference_m3s / wanted_m3s)


def fill_time(
    inflow_m3s: float,
    settled_head_m: float,
    pond_area_m2: float,
    discharge: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    *,
    start_head_m: float = 0.0,
    remaining: float = SETTLED_SHARE,
    intervals: int = 200,
) -> float:
    """Time for a pond to fill until the flume passes all but a share of the inflow, s.

    Integrates ``A dh / (Q_in - Q(h))`` from the starting head. Below the crest nothing flows out
    and the time is volume over inflow. Above it, with ``h = h_s - (h_s - h_0) e^-s``, the
    integrand ``(h_s - h) / (Q_in - Q)`` is smooth; Simpson's rule on equal steps of ``s``.

    Parameters
    ----------
    inflow_m3s : float
    settled_head_m : float
        Head at which the device passes the inflow.
    pond_area_m2 : float
        Taken as constant with level.
    discharge : callable
        Discharge for an array of heads; must rise with head and give the inflow at the settled
        head.
    start_head_m : float
        Level of the pond against the crest; negative when it stands below it.
    remaining : float
        Share of the inflow still going into the pond at the end.
    intervals : int
        Even number of Simpson intervals.

    Raises
    ------
    BadInput
        When inflow, area, settled head or share is not usable.
    """
    for field, value in (
        ("inflow_m3s", inflow_m3s),
        ("settled_head_m", settled_head_m),
        ("pond_area_m2", pond_area_m2),
    ):
        if not (math.isfinite(value) and value > 0):
            raise BadInput(field, value, "must be above 0", "Give a positive number")
    if not 0 < remaining < 1:
        raise BadInput("remaining", remaining, "must lie between 0 and 1", "Use 0.01")
    below = pond_area_m2 * max(-start_head_m, 0.0) / inflow_m3s
    start = max(start_head_m, 0.0)
    end = _head_passing(discharge, (1.0 - remaining) * inflow_m3s, settled_head_m)
    if start >= end:
        return below
    depth = settled_head_m - start
    s = np.linspace(0.0, math.log(depth / (settled_head_m - end)), intervals + 1)
    gap = depth * np.exp(-s)
    rate = gap / (inflow_m3s - discharge(settled_head_m - gap))
    weights = np.where(np.arange(intervals + 1) % 2 == 1, 4.0, 2.0)
    weights[0] = weights[-1] = 1.0
    return below + pond_area_m2 * float(weights @ rate) * float(s[1]) / 3.0


def _head_passing(
    discharge: Callable[[NDArray[np.float64]], NDArray[np.float64]], wanted: float, top: float
) -> float:
    low, high = 0.0, top
    for _ in range(60):  # halving to rounding level
        middle = 0.5 * (low + high)
        if float(discharge(np.array([middle]))[0]) < wanted:
            low = middle
        else:
            high = middle
    return high


def _checked(times_s: Sequence[float], heads_m: Sequence[float]) -> list[tuple[float, float]]:
    """Put readings in order of time; equal times keep their order."""
    times, heads = [float(t) for t in times_s], [float(h) for h in heads_m]
    if len(times) != len(heads):
        raise BadInput("heads_m", len(heads), f"not as many as times: {len(times)}", "Pair them")
    for field, values in (("times_s", times), ("heads_m", heads)):
        for value in values:
            if not math.isfinite(value):
                raise BadInput(field, value, "must be a finite number", "Leave the reading out")
    return sorted(zip(times, heads, strict=True), key=lambda reading: reading[0])
