"""Fitting a rating to gaugings: weighted least squares of ln Q on ln(h - e).

Q = C (h - e)^n, in one segment or several that meet at given breaks and share the cease-to-flow
head e. Public functions (SI; percentages as stated):

    fit_rating(head_m, discharge_m3s, uncertainty_pct=None, *, cease_to_flow_m=None, exponent=None,
               breaks_m=(), exponent_prior=None, head_uncertainty_m=0, confidence=0.95) -> RatingFit
        uncertainty_pct expanded, scalar or array; cease_to_flow_m None to search for e;
        exponent fixes n; exponent_prior (n, standard deviation) steadies n when gaugings are few
    RatingFit.discharge(head_m) -> m3/s (0 at and below e)
    RatingFit.bands(head_m) -> Bands(discharge_m3s, mean_pct, single_pct, low/high of both)
    RatingFit.segments() -> [{"h_lo_m", "h_hi_m", "coefficient", "exponent", "cease_to_flow_m"}]

References
----------
Least squares and bands as ISO 1100-2 and ISO 18320 (from memory), with e among the parameters of
the bands; the search over e by profile likelihood, after Petersen-Overleir and Reitan, NVE 6-04.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.result import Result
from app.hydraulics.base.student import two_sided
from app.hydraulics.rating.fit_input import checked, refuse_too_few
from app.hydraulics.rating.fit_problem import Problem, design, search, slope_e


@dataclass(frozen=True, kw_only=True)
class Bands(Result):
    """Rating with its bands at a confidence: of the mean, and of one more gauging."""

    head_m: Floats
    discharge_m3s: Floats
    mean_pct: Floats
    single_pct: Floats
    mean_low_m3s: Floats
    mean_high_m3s: Floats
    single_low_m3s: Floats
    single_high_m3s: Floats


@dataclass(frozen=True, kw_only=True)
class RatingFit(Result):
    """A fitted rating. `coefficients` and `exponents` have one element a segment.

    `intervals` holds (low, high) for "coefficient" and "exponent" of the first segment and for
    "cease_to_flow_m"; a fixed parameter has no entry. `outliers` points at gaugings, none is
    removed: 0 fine, 2 inspect, 3 query, as rare as 2 and 3 standard deviations of a normal, by
    residuals that leave their own gauging out.
    """

    coefficients: Floats
    exponents: Floats
    cease_to_flow_m: float
    breaks_m: Floats
    head_min_m: float
    head_max_m: float
    scatter_pct: float
    degrees: int
    confidence: float
    factor: float
    intervals: dict[str, tuple[float, float]]
    residual_pct: Floats
    studentised: Floats
    outliers: NDArray[np.int64]
    flags: tuple[str, ...]
    covariance: Floats
    scatter: float
    free_e: bool
    fixed_exponent: bool

    def discharge(self, head_m: ArrayLike) -> Floats:
        """Return discharge in m3/s at heads of any shape; 0 at and below the cease-to-flow."""
        head = np.asarray(head_m, dtype=np.float64)
        return np.where(head > self.cease_to_flow_m, np.exp(self._log(head)), 0.0)

    def bands(self, head_m: ArrayLike) -> Bands:
        """Return the rating and its bands at heads of shape (n,); NaN at and below e."""
        head = np.atleast_1d(np.asarray(head_m, dtype=np.float64))
        head = np.where(head > self.cease_to_flow_m, head, np.nan)
        rows = design(head, self.cease_to_flow_m, self.breaks_m)
        if self.fixed_exponent:
            rows = rows[:, :1]
        if self.free_e:
            rows = np.column_stack([rows, self._slope_e(head)])
        mean = np.einsum("ij,jk,ik->i", rows, self.covariance, rows)
        log = self._log(head)
        wide, wider = (self.factor * np.sqrt(part) for part in (mean, mean + self.scatter**2))
        return Bands(
            head_m=head,
            discharge_m3s=np.exp(log),
            mean_pct=100.0 * np.expm1(wide),
            single_pct=100.0 * np.expm1(wider),
            mean_low_m3s=np.exp(log - wide),
            mean_high_m3s=np.exp(log + wide),
            single_low_m3s=np.exp(log - wider),
            single_high_m3s=np.exp(log + wider),
        )

    def segments(self) -> list[dict[str, float]]:
        """Return the power segments in order of head, within the gauged heads."""
        edges = [self.head_min_m, *self.breaks_m.tolist(), self.head_max_m]
        return [
            {
                "h_lo_m": low,
                "h_hi_m": high,
                "coefficient": float(c),
                "exponent": float(n),
                "cease_to_flow_m": self.cease_to_flow_m,
            }
            for low, high, c, n in zip(
                edges[:-1], edges[1:], self.coefficients, self.exponents, strict=True
            )
        ]

    def _piece(self, head: Floats) -> NDArray[np.int64]:
        return np.searchsorted(self.breaks_m, head, side="left").astype(np.int64)

    def _log(self, head: Floats) -> Floats:
        piece = self._piece(np.nan_to_num(head))
        depth = np.maximum(head - self.cease_to_flow_m, 1e-300)
        return np.asarray(np.log(self.coefficients[piece]) + self.exponents[piece] * np.log(depth))

    def _slope_e(self, head: Floats) -> Floats:
        return slope_e(head, self.cease_to_flow_m, self.breaks_m, self.exponents)


def fit_rating(
    head_m: ArrayLike,
    discharge_m3s: ArrayLike,
    uncertainty_pct: ArrayLike | None = None,
    *,
    cease_to_flow_m: float | None = None,
    exponent: float | None = None,
    breaks_m: Sequence[float] = (),
    exponent_prior: tuple[float, float] | None = None,
    head_uncertainty_m: float = 0.0,
    confidence: float = 0.95,
) -> RatingFit:
    """Fit a rating to gaugings of shape (n,).

    Weights are 1 / u^2 with u the standard uncertainty of ln Q, head included when
    `head_uncertainty_m` (expanded) is given.

    Raises
    ------
    BadInput
        A head or discharge that is not positive, too few gaugings for what is asked, heads that
        do not differ, a break outside the gauged heads, an e at or above the lowest head.
    """
    h, q, u = checked(head_m, discharge_m3s, uncertainty_pct)
    breaks = np.array(sorted(breaks_m), dtype=np.float64)
    refuse_too_few(h, breaks, cease_to_flow_m, exponent, exponent_prior)
    if cease_to_flow_m is not None and not cease_to_flow_m < h.min():
        raise BadInput(
            "cease_to_flow_m", cease_to_flow_m, f"lies below the lowest gauged head {h.min():g} m",
            "Lower it, or leave it out to search for it.",
        )  # fmt: skip
    problem = Problem(h, np.log(q), 1.0 / u**2, breaks, exponent, exponent_prior)
    at_limit, e = False, math.nan
    for turn in range(3 if head_uncertainty_m > 0.0 else 1):
        e, at_limit = (cease_to_flow_m, False) if cease_to_flow_m is not None else search(problem)
        beta, _ = problem.solve(e)
        if head_uncertainty_m > 0.0 and turn < 2:
            local = slope_e(h, e, breaks, problem.exponents(beta)) * head_uncertainty_m / 2.0
            problem = Problem(h, np.log(q), 1.0 / (u**2 + local**2), breaks, exponent,
                               exponent_prior)  # fmt: skip
    return _describe(problem, e, cease_to_flow_m is None, at_limit, confidence, q)


def _describe(
    problem: Problem, e: float, free_e: bool, at_limit: bool, confidence: float, q: Floats
) -> RatingFit:
    beta, squares = problem.solve(e)
    exponents = problem.exponents(beta)
    coefficients = [math.exp(beta[0])]
    for k, place in enumerate(problem.breaks):
        coefficients.append(
            coefficients[-1] * (place - e) ** float(exponents[k] - exponents[k + 1])
        )
    rows, target = problem.weighted(e)
    if free_e:
        slope = np.zeros(len(target))
        slope[: len(q)] = np.sqrt(problem.w) * slope_e(problem.h, e, problem.breaks, exponents)
        full = np.column_stack([rows, slope])
    else:
        full = rows
    degrees = len(target) - full.shape[1]
    flags = ["cease-to-flow head at the edge of its search: survey it"] if at_limit else []
    if degrees < 1:
        variance, factor = math.nan, math.nan
        flags.append("as many parameters as gaugings: no band")
    else:
        variance, factor = squares / degrees, two_sided(degrees, confidence)
    inverse = np.linalg.pinv(full.T @ full)
    covariance = variance * inverse
    mean_weight = float(problem.w.mean())
    scatter = math.sqrt(variance / mean_weight)
    root = np.sqrt(problem.w)
    left = (target - rows @ beta)[: len(q)]
    leverage = np.einsum("ij,jk,ik->i", full, inverse, full)[: len(q)]
    studentised = _left_out(left, leverage, squares, degrees)
    query, inspect = (
        two_sided(degrees - 1, each) if degrees > 1 else math.inf for each in (0.9973, 0.9545)
    )
    outliers = np.select([np.abs(studentised) > query, np.abs(studentised) > inspect], [3, 2], 0)
    errors = factor * np.sqrt(np.maximum(np.diag(covariance), 0.0))
    intervals = {
        "coefficient": (coefficients[0] * math.exp(-errors[0]),
                        coefficients[0] * math.exp(errors[0])),
    }  # fmt: skip
    if problem.exponent is None:
        intervals["exponent"] = (exponents[0] - errors[1], exponents[0] + errors[1])
    if free_e:
        intervals["cease_to_flow_m"] = (e - errors[-1], e + errors[-1])
    return RatingFit(
        coefficients=np.array(coefficients),
        exponents=exponents,
        cease_to_flow_m=e,
        breaks_m=problem.breaks,
        head_min_m=float(problem.h.min()),
        head_max_m=float(problem.h.max()),
        scatter_pct=100.0 * math.expm1(scatter),
        degrees=degrees,
        confidence=confidence,
        factor=factor,
        intervals={name: (float(low), float(high)) for name, (low, high) in intervals.items()},
        residual_pct=100.0 * np.expm1(left / root),
        studentised=studentised,
        outliers=outliers.astype(np.int64),
        flags=tuple(flags),
        covariance=covariance,
        scatter=scatter,
        free_e=free_e,
        fixed_exponent=problem.exponent is not None,
    )


def _left_out(left: Floats, leverage: Floats, squares: float, degrees: int) -> Floats:
    """Return residuals over the scatter of the other gaugings, so none hides in its own."""
    room = np.maximum(1.0 - leverage, 1e-12)
    if degrees < 2:
        return np.full(len(left), np.nan)
    others = np.maximum(squares - left**2 / room, 0.0) / (degrees - 1)
    floor = 1e-9  # a perfect fit has no outliers
    return np.asarray(left / np.maximum(np.sqrt(others * room), floor))
