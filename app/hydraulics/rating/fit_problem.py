"""The least squares behind a rating fit: linear once e is given, and the search over e.

ln Q = ln C + n X, X = ln(h - e), with a hinge in X at each break so that segments meet.
"""

import math

import numpy as np

from app.hydraulics.base.arrays import Floats

NEAREST_M = 0.005
"""Least distance of e below the lowest gauged head; common practice."""


class Problem:
    """The least squares that remains when e is given: linear in ln C and the exponents.

    A prior on the first exponent is one more observation of it.
    """

    def __init__(
        self, h: Floats, y: Floats, w: Floats, breaks: Floats,
        exponent: float | None, prior: tuple[float, float] | None,
    ) -> None:  # fmt: skip
        self.h, self.y, self.w, self.breaks = h, y, w, breaks
        self.exponent, self.prior = exponent, prior

    def weighted(self, e: float) -> tuple[Floats, Floats]:
        """Return rows and targets, each times the root of its weight."""
        rows, target, weight = design(self.h, e, self.breaks), self.y, self.w
        if self.exponent is not None:
            target = target - self.exponent * rows[:, 1]
            rows = rows[:, :1]
        elif self.prior is not None:
            extra = np.zeros((1, rows.shape[1]))
            extra[0, 1] = 1.0
            rows = np.vstack([rows, extra])
            target = np.append(target, self.prior[0])
            weight = np.append(weight, 1.0 / self.prior[1] ** 2)
        root = np.sqrt(weight)
        return rows * root[:, None], target * root

    def solve(self, e: float) -> tuple[Floats, float]:
        """Return the parameters and the weighted sum of squares at this e."""
        rows, target = self.weighted(e)
        beta: Floats = np.linalg.lstsq(rows, target, rcond=None)[0].astype(np.float64)
        left = target - rows @ beta
        return beta, float(left @ left)

    def exponents(self, beta: Floats) -> Floats:
        """Return the exponent of each segment."""
        return np.array([self.exponent]) if self.exponent is not None else np.cumsum(beta[1:])


def search(problem: Problem) -> tuple[float, bool]:
    """Find e by scanning the profile of the sum of squares, then narrowing in on its least."""
    low_head, span = float(problem.h.min()), float(np.ptp(problem.h))
    distance = np.geomspace(NEAREST_M, max(3.0 * span, low_head), 120)  # of e below the lowest head
    squares = [problem.solve(low_head - each)[1] for each in distance]
    best = int(np.argmin(squares))
    a, b = math.log(distance[max(best - 1, 0)]), math.log(distance[min(best + 1, 119)])
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    c, d = b - golden * (b - a), a + golden * (b - a)
    at_c, at_d = (problem.solve(low_head - math.exp(x))[1] for x in (c, d))
    while b - a > 1e-6:
        if at_c < at_d:
            b, d, at_d = d, c, at_c
            c = b - golden * (b - a)
            at_c = problem.solve(low_head - math.exp(c))[1]
        else:
            a, c, at_c = c, d, at_d
            d = a + golden * (b - a)
            at_d = problem.solve(low_head - math.exp(d))[1]
    e = low_head - math.exp((a + b) / 2.0)
    if best in (0, len(distance) - 1):
        return e, True
    return _polish(problem, e), False


def _polish(problem: Problem, e: float) -> float:
    """Refine e by Gauss-Newton steps, which golden section alone would leave at 1e-7."""
    for _ in range(50):
        beta, squares = problem.solve(e)
        rows, target = problem.weighted(e)
        slope = np.zeros(len(target))
        count = len(problem.h)
        slope[:count] = np.sqrt(problem.w) * slope_e(
            problem.h, e, problem.breaks, problem.exponents(beta)
        )
        step = float(
            np.linalg.lstsq(np.column_stack([rows, slope]), target - rows @ beta, rcond=None)[0][-1]
        )
        while step and not (
            e + step < problem.h.min() and problem.solve(e + step)[1] <= squares * (1.0 + 1e-14)
        ):
            step = step / 2.0 if abs(step) > 1e-14 else 0.0
        e += step
        if abs(step) < 1e-12:
            break
    return e


def design(h: Floats, e: float, breaks: Floats) -> Floats:
    """Return columns 1, X and a hinge max(0, X - X_break) for each break, X = ln(h - e)."""
    x = np.log(h - e)
    hinges = [np.maximum(x - math.log(each - e), 0.0) for each in breaks]
    return np.column_stack([np.ones_like(x), x, *hinges])


def slope_e(h: Floats, e: float, breaks: Floats, exponents: Floats) -> Floats:
    """Return the derivative of ln Q by e with ln C and the exponents held."""
    slope = -exponents[0] / (h - e)
    for place, step in zip(breaks, np.diff(exponents), strict=True):
        slope = slope + np.where(h > place, step * (1.0 / (place - e) - 1.0 / (h - e)), 0.0)
    return np.asarray(slope)
