"""Rates of the full series against a limit: largest instant or window, least flow left.

Public: Extremes, rates_against(session, line, from_s, to_s, unseen=...)
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from app.hydraulics import limits as sums
from app.hydraulics.limits import Verdict
from app.hydraulics.stretches import gap_rule_s
from app.services import series_read
from app.services.take_limits import LimitLine


@dataclass(frozen=True)
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
    session: Session, line: LimitLine, from_s: int, to_s: int, *, unseen: bool
) -> Extremes:
    """Compare the rates of a range with a limit.

    Parameters
    ----------
    unseen : bool
        There is time without record in which the limit may have been broken.
    """
    found = series_read.load(
        session,
        line.structure_id,
        from_s,
        to_s - 1,
        ("discharge_m3s", "uncertainty_pct", "how"),
    )
    t, q = found["t_s"], found["discharge_m3s"].astype(float)
    spread = q * found["uncertainty_pct"].astype(float) / 100.0
    if not np.isfinite(q).any():
        return Extremes(None, None, None, None, Verdict.CANNOT_TELL, 0, 0, None)
    if line.window_s:
        return _window(line, t, q, spread, found["how"], unseen)
    if line.kind == "residual":
        answers = sums.residual_verdict(q, spread, line.amount)
        k = int(np.nanargmin(q))
        whole = bool(np.diff(t).max(initial=0) <= gap_rule_s(t))
        unseen = unseen and not whole
    else:
        answers = sums.verdict(q, spread, line.amount)
        k = int(np.nanargmax(q))
    worst = Verdict(int(answers.max()))
    if worst is Verdict.WITHIN and unseen:
        worst = Verdict.CANNOT_TELL
    return Extremes(
        float(q[k]),
        _known(spread[k]),
        _known(max(q[k] - spread[k], 0.0)),
        _known(q[k] + spread[k]),
        worst,
        _runs(answers == Verdict.OVER),
        _runs(answers == Verdict.CANNOT_TELL),
        int(t[k]),
    )


def _window(
    line: LimitLine,
    t: NDArray[np.int64],
    q: NDArray[np.float64],
    spread: NDArray[np.float64],
    how: NDArray[np.int8],
    unseen: bool,
) -> Extremes:
    """Compare the largest mean over the window, with every rate at its lower and upper bound."""
    rule = gap_rule_s(t)
    options: dict[str, Any] = {"how": how, "gap_s": rule}
    at, largest = sums.window_maximum(t, q, line.window_s, **options)
    if at is None:
        return Extremes(None, None, None, None, Verdict.CANNOT_TELL, 0, 0, None)
    _, low = sums.window_rates(t, np.maximum(q - spread, 0.0), line.window_s, **options)
    _, high = sums.window_rates(t, q + spread, line.window_s, **options)
    over = low > line.amount
    answer = Verdict.WITHIN
    if over.any():
        answer = Verdict.OVER
    elif unseen or not np.isfinite(spread[np.isfinite(q)]).all() or high.max() > line.amount:
        answer = Verdict.CANNOT_TELL
    top = float(high.max()) if high.size else float("nan")
    return Extremes(
        largest,
        _known(top - largest),
        _known(float(low.max())) if low.size else None,
        _known(top),
        answer,
        _runs(over),
        0,
        at,
    )


def _runs(mask: NDArray[np.bool_]) -> int:
    """Return how many times a condition begins."""
    return int(np.count_nonzero(np.diff(np.append(False, mask).astype(np.int8)) == 1))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
