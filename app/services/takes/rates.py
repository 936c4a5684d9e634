"""Rates of the full series against a limit: largest instant or window, least flow left."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.series import limits as sums
from app.hydraulics.series.limits import Verdict
from app.hydraulics.series.stretches import STRETCHED, closed, gap_rule_s, stretches, usual_step_s
from app.services.series.flow import inputs_of
from app.services.series.flow import stretches as series_stretches
from app.services.series.read import Arrays
from app.services.series.spread import estimate_pct
from app.services.sites.dated import device_of
from app.services.takes.limits import LimitLine


@dataclass(frozen=True, kw_only=True)
class Extremes:
    """The figure that counts against a limit, its bounds, the answer, and how often."""

    used: float | None
    uncertainty: float | None
    low: float | None
    high: float | None
    verdict: Verdict
    times_over: int
    times_unknown: int
    at_s: int | None


def rates_against(
    session: Session,
    line: LimitLine,
    series: Arrays,
    *,
    unseen: bool,
    most_m3s: float | None,
) -> Extremes:
    """Compare the rates of a series, as `Shelf.series` has it, with a limit.

    Parameters
    ----------
    unseen : bool
        There is time without record in which the limit may have been broken.
    most_m3s : float or None
        What the race can carry at most; None when nobody knows.
    """
    found = series
    t, q = found["t_s"], found["discharge_m3s"].astype(float)
    spread = q * found["uncertainty_pct"].astype(float) / 100.0
    residual = line.kind == "residual"
    harmless = not residual and most_m3s is not None and most_m3s <= line.amount
    if not np.isfinite(q).any():
        nothing = Verdict.WITHIN if harmless and unseen else Verdict.CANNOT_TELL
        return Extremes(
            used=None,
            uncertainty=None,
            low=None,
            high=most_m3s if unseen else None,
            verdict=nothing,
            times_over=0,
            times_unknown=0,
            at_s=None,
        )
    how = closed(found["how"], found["head_m"], q)
    wide = _where_bridged(
        session, line.structure_id, t=t, q=q, spread=spread, how=how, head_m=found["head_m"]
    )
    if line.window_s:
        return _window(
            line, t, q, spreads=(spread, wide), how=how, unseen=unseen, most_m3s=most_m3s
        )
    if residual:
        answers = sums.residual_verdict(q, spread, line.amount)
        between = sums.residual_verdict(q, wide, line.amount)
        k = int(np.nanargmin(q))
    else:
        answers = sums.verdict(q, spread, line.amount)
        between = sums.verdict(q, wide, line.amount)
        k = int(np.nanargmax(q))
    if harmless:  # what nobody knows is still no more than the race can carry
        answers[~np.isfinite(q)] = Verdict.WITHIN
        between[:] = np.minimum(between, answers)
    worst = Verdict(int(answers.max()))
    if worst is Verdict.WITHIN and not harmless and (unseen or bool(between.max())):
        worst = Verdict.CANNOT_TELL
    high = q[k] + spread[k] if residual else float(np.nanmax(q + wide))
    return Extremes(
        used=float(q[k]),
        uncertainty=_known(spread[k]),
        low=0.0 if residual and unseen else _known(max(q[k] - spread[k], 0.0)),
        high=_known(high if residual else _with_unseen(high, unseen, most_m3s)),
        verdict=worst,
        times_over=_runs(answers == Verdict.OVER),
        times_unknown=_runs(answers == Verdict.CANNOT_TELL),
        at_s=int(t[k]),
    )


def _with_unseen(high: float, unseen: bool, most_m3s: float | None) -> float:
    if not unseen:
        return high
    return float("inf") if most_m3s is None else max(high, most_m3s)


def _where_bridged(
    session: Session,
    structure_id: int,
    *,
    t: Ints,
    q: Floats,
    spread: Floats,
    how: NDArray[np.int8],
    head_m: Floats,
) -> Floats:
    """Return the uncertainty of the rates, m3/s, wider at both ends of a bridged stretch."""
    step = usual_step_s(t)
    parts = stretches(t, q, how=how, gap_s=gap_rule_s(t))
    if not step or not parts.first.size:
        return spread
    far = np.flatnonzero(t[parts.second] - t[parts.first] > STRETCHED * step)
    if not far.size:
        return spread
    a, b = parts.first[far], parts.second[far]
    slope = np.full(q.shape, np.nan)
    inputs = inputs_of(session, structure_id)
    for begin, end, rating, _ in series_stretches(inputs, int(t[0]), int(t[-1]) + 1):
        inside = (t >= begin) & (t < end)
        if rating is not None and inside.any():
            slope[inside] = device_of(rating).log_slope(np.maximum(head_m[inside], 1e-6))
    with np.errstate(divide="ignore", invalid="ignore"):
        own = q * estimate_pct(100.0 * spread / q, slope, how) / 100.0
    own = np.where(q == 0.0, 0.0, own)
    half = 0.5 * np.abs(q[b] - q[a])
    wide: Floats = spread.copy()
    for ends in (a, b):
        np.maximum.at(wide, ends, np.hypot(own[ends], half))
    return wide


def _window(
    line: LimitLine,
    t: Ints,
    q: Floats,
    *,
    spreads: tuple[Floats, Floats],
    how: NDArray[np.int8],
    unseen: bool,
    most_m3s: float | None,
) -> Extremes:
    """Compare the largest mean over the window, with every rate at its lower and upper bound."""
    spread, wide = spreads
    rule = gap_rule_s(t)
    options: dict[str, Any] = {"how": how, "gap_s": rule}
    harmless = most_m3s is not None and most_m3s <= line.amount
    at, largest = sums.window_maximum(t, q, line.window_s, **options)
    if at is None:
        nothing = Verdict.WITHIN if harmless else Verdict.CANNOT_TELL
        return Extremes(
            used=None,
            uncertainty=None,
            low=None,
            high=most_m3s,
            verdict=nothing,
            times_over=0,
            times_unknown=0,
            at_s=None,
        )
    _, low = sums.window_rates(t, np.maximum(q - spread, 0.0), line.window_s, **options)
    _, high = sums.window_rates(t, q + wide, line.window_s, **options)
    over = low > line.amount
    answer = Verdict.WITHIN
    if over.any():
        answer = Verdict.OVER
    elif not harmless and (
        unseen or not np.isfinite(wide[np.isfinite(q)]).all() or high.max() > line.amount
    ):
        answer = Verdict.CANNOT_TELL
    top = float(high.max()) if high.size else float("nan")
    return Extremes(
        used=largest,
        uncertainty=_known(top - largest),
        low=_known(float(low.max())) if low.size else None,
        high=_known(_with_unseen(top, unseen, most_m3s)),
        verdict=answer,
        times_over=_runs(over),
        times_unknown=0,
        at_s=at,
    )


def _runs(mask: NDArray[np.bool_]) -> int:
    """Return how many times a condition begins."""
    return int(np.count_nonzero(np.diff(np.append(False, mask).astype(np.int8)) == 1))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
