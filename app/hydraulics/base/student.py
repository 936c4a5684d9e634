"""Student's t distribution, for intervals from few observations.

Public functions:

    student_cdf(t, dof) -> probability
    student_quantile(probability, dof) -> t
    two_sided(dof, confidence=0.95) -> t that bounds the middle of the distribution

References
----------
Abramowitz and Stegun 1964, 26.5.8 and 26.7.1: t by the incomplete beta function, from memory;
checked in the tests against a general statistics library.
"""

import math

from app.errors import BadInput


def student_cdf(t: float, dof: float) -> float:
    """Return the probability of a value below t with `dof` degrees of freedom."""
    if not dof > 0.0:
        raise BadInput("dof", dof, "degrees of freedom are more than zero", "Add observations.")
    tail = 0.5 * _incomplete_beta(dof / (dof + t * t), dof / 2.0, 0.5)
    return 1.0 - tail if t > 0.0 else tail


def student_quantile(probability: float, dof: float) -> float:
    """Return t such that `student_cdf(t, dof)` is the probability; found by bisection."""
    if not 0.0 < probability < 1.0:
        raise BadInput("probability", probability, "lies between 0 and 1", "Give 0.975, say.")
    if probability < 0.5:
        return -student_quantile(1.0 - probability, dof)
    low, high = 0.0, 1.0
    while student_cdf(high, dof) < probability:
        low, high = high, 2.0 * high
    while high - low > 1e-14 * high:
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if student_cdf(middle, dof) < probability else (low, middle)
    return 0.5 * (low + high)


def two_sided(dof: float, confidence: float = 0.95) -> float:
    """Return the factor that spans the middle `confidence` of the distribution."""
    return student_quantile(0.5 + confidence / 2.0, dof)


def _incomplete_beta(x: float, a: float, b: float) -> float:
    """Return the regularised incomplete beta function by its continued fraction."""
    if x <= 0.0 or x >= 1.0:
        return min(max(x, 0.0), 1.0)
    if x > (a + 1.0) / (a + b + 2.0):  # the fraction converges fast on the other side only
        return 1.0 - _incomplete_beta(1.0 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
        + a * math.log(x) + b * math.log1p(-x)
    ) / a  # fmt: skip
    tiny = 1e-300
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0) or tiny)
    fraction = d
    for m in range(1, 500):
        for numerator in (
            m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0)),
        ):
            d = 1.0 / (1.0 + numerator * d or tiny)
            c = 1.0 + numerator / c or tiny
            step = c * d
            fraction *= step
        if abs(step - 1.0) < 1e-15:
            break
    return front * fraction
