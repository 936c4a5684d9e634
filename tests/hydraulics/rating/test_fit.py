"""Fitted ratings against a general library, against known truth, and against too little."""

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import curve_fit, least_squares

from app.errors import BadInput
from app.hydraulics.rating.fit import fit_rating


def synthetic(
    seed: int, count: int = 14, C: float = 1.1, n: float = 1.6, e: float = 0.02, s: float = 0.03
) -> tuple[Any, Any]:
    rng = np.random.default_rng(seed)
    head = np.sort(e + np.exp(rng.uniform(math.log(0.05), math.log(0.8), count)))
    return head, C * (head - e) ** n * np.exp(rng.normal(0.0, s, count))


def line(head: Any, a: float, n: float, e: float) -> Any:
    return a + n * np.log(head - e)


@pytest.mark.parametrize("seed", range(6))
def test_three_parameters_and_bands_vs_scipy(seed: int) -> None:
    head, q = synthetic(seed)
    u = np.random.default_rng(seed + 100).uniform(3.0, 12.0, len(head))
    fit = fit_rating(head, q, u)
    best, covariance = curve_fit(
        line, head, np.log(q), p0=(math.log(1.1), 1.6, 0.02), sigma=u / 200.0,
        ftol=1e-15, xtol=1e-15, gtol=1e-15, maxfev=20000,
    )  # fmt: skip
    got = (math.log(fit.coefficients[0]), fit.exponents[0], fit.cease_to_flow_m)
    np.testing.assert_allclose(got, best, rtol=1e-6, atol=1e-7)
    at = np.array([0.1, 0.25, 0.6])
    rows = np.column_stack([np.ones(3), np.log(at - best[2]), -best[1] / (at - best[2])])
    variance = np.einsum("ij,jk,ik->i", rows, covariance, rows)
    t = stats.t.ppf(0.975, len(head) - 3)
    weight = np.mean(1.0 / (u / 200.0) ** 2)
    left = (np.log(q) - line(head, *best)) / (u / 200.0)
    scatter2 = float(left @ left) / (len(head) - 3) / weight
    bands = fit.bands(at)
    np.testing.assert_allclose(bands.mean_pct, 100 * np.expm1(t * np.sqrt(variance)), rtol=1e-4)
    np.testing.assert_allclose(
        bands.single_pct, 100 * np.expm1(t * np.sqrt(variance + scatter2)), rtol=1e-4
    )


def test_fixed_e_is_the_straight_line_of_the_textbook() -> None:
    # ISO 1100-2 form: s_m = s sqrt(1/N + (X - mean)^2 / sum (X - mean)^2), from memory
    head, q = synthetic(3)
    fit = fit_rating(head, q, cease_to_flow_m=0.02)
    x, y = np.log(head - 0.02), np.log(q)
    reference = stats.linregress(x, y)
    assert fit.exponents[0] == pytest.approx(reference.slope, rel=1e-10)
    assert math.log(fit.coefficients[0]) == pytest.approx(reference.intercept, rel=1e-9)
    s = math.sqrt(np.sum((y - reference.intercept - reference.slope * x) ** 2) / (len(x) - 2))
    at = np.array([0.08, 0.3])
    away = np.log(at - 0.02) - x.mean()
    s_m = s * np.sqrt(1 / len(x) + away**2 / np.sum((x - x.mean()) ** 2))
    t = stats.t.ppf(0.975, len(x) - 2)
    bands = fit.bands(at)
    np.testing.assert_allclose(bands.mean_pct, 100 * np.expm1(t * s_m), rtol=1e-9)
    np.testing.assert_allclose(
        bands.single_pct, 100 * np.expm1(t * np.sqrt(s**2 + s_m**2)), rtol=1e-9
    )
    low, high = fit.intervals["exponent"]
    assert (high - low) / 2 == pytest.approx(t * reference.stderr, rel=1e-9)


def test_segments_meet_and_match_scipy() -> None:
    rng = np.random.default_rng(20)
    head = np.linspace(0.08, 0.9, 24)
    x, knee = np.log(head - 0.01), math.log(0.4 - 0.01)
    y = 0.2 + 1.5 * x + 0.7 * np.maximum(x - knee, 0) + rng.normal(0, 0.02, len(x))
    fit = fit_rating(head, np.exp(y), breaks_m=[0.4])

    def left(p: Any) -> Any:
        depth, at = np.log(head - p[3]), math.log(0.4 - p[3])
        return y - p[0] - p[1] * depth - p[2] * np.maximum(depth - at, 0)

    best = least_squares(left, [0.2, 1.5, 0.7, 0.01], xtol=1e-15, ftol=1e-15, gtol=1e-15).x
    got = (math.log(fit.coefficients[0]), fit.exponents[0], np.diff(fit.exponents)[0],
           fit.cease_to_flow_m)  # fmt: skip
    np.testing.assert_allclose(got, best, rtol=1e-5, atol=1e-6)
    low, high = fit.segments()
    assert low["h_hi_m"] == high["h_lo_m"] == 0.4
    at_break = [
        part["coefficient"] * (0.4 - part["cease_to_flow_m"]) ** part["exponent"]
        for part in (low, high)
    ]
    assert at_break[0] == pytest.approx(at_break[1], rel=1e-12)
    assert fit.discharge(0.4) == pytest.approx(at_break[0], rel=1e-12)


def test_parameters_are_inside_their_intervals() -> None:
    rng = np.random.default_rng(18320)
    inside = {"coefficient": 0, "exponent": 0, "cease_to_flow_m": 0}
    for seed in range(500):
        truth = {
            "coefficient": rng.uniform(0.3, 3.0),
            "exponent": rng.uniform(1.4, 2.5),
            "cease_to_flow_m": rng.uniform(-0.05, 0.1),
        }
        head, q = synthetic(
            seed, int(rng.integers(12, 25)), truth["coefficient"], truth["exponent"],
            truth["cease_to_flow_m"],
        )  # fmt: skip
        fit = fit_rating(head, q)
        for name, value in truth.items():
            low, high = fit.intervals[name]
            inside[name] += low <= value <= high
    assert min(inside.values()) >= 0.93 * 500, inside


def test_a_perfect_rating_is_recovered_and_has_no_outliers() -> None:
    head, q = synthetic(1, s=0.0)
    fit = fit_rating(head, q)
    assert fit.exponents[0] == pytest.approx(1.6, rel=1e-6)
    assert fit.cease_to_flow_m == pytest.approx(0.02, abs=1e-7)
    assert not fit.outliers.any()
    np.testing.assert_allclose(fit.discharge(head), q, rtol=1e-7)
    assert fit.discharge(0.02) == 0.0
    assert fit.discharge(-1.0) == 0.0


def test_an_outlier_is_pointed_at_and_kept() -> None:
    head, q = synthetic(5, count=16, s=0.01)
    q[7] *= 1.25
    fit = fit_rating(head, q)
    assert fit.outliers[7] == 3
    assert len(fit.residual_pct) == 16
    assert np.count_nonzero(fit.outliers == 3) == 1


def test_weights_follow_the_uncertainty() -> None:
    head, q = synthetic(6, s=0.0)
    q[0] *= 1.5
    u = np.full(len(q), 2.0)
    trusting = fit_rating(head, q, u).exponents[0]
    u[0] = 200.0
    doubting = fit_rating(head, q, u).exponents[0]
    assert abs(doubting - 1.6) < abs(trusting - 1.6) / 50


def test_head_uncertainty_takes_weight_from_low_heads() -> None:
    head, q = synthetic(7, s=0.0)
    q[0] *= 1.2  # the lowest head, where 3 mm matter most
    plain = fit_rating(head, q, cease_to_flow_m=0.02)
    aware = fit_rating(head, q, cease_to_flow_m=0.02, head_uncertainty_m=0.02)
    assert abs(aware.exponents[0] - 1.6) < abs(plain.exponents[0] - 1.6)


def test_a_prior_steadies_a_fit_to_few() -> None:
    head, q = synthetic(8, count=4, s=0.05)
    fit = fit_rating(head, q, exponent_prior=(1.6, 0.02))
    assert fit.exponents[0] == pytest.approx(1.6, abs=0.05)
    fixed = fit_rating(head[:1], q[:1], cease_to_flow_m=0.02, exponent=1.6)
    assert fixed.discharge(head[0]) == pytest.approx(q[0], rel=1e-9)
    assert "as many parameters as gaugings: no band" in fixed.flags
    assert np.isnan(fixed.bands(head[:1]).mean_pct).all()


def test_an_e_that_cannot_be_told_is_flagged() -> None:
    head = np.linspace(0.3, 0.9, 8)
    fit = fit_rating(head, np.exp(4.0 * head))  # steeper than any power law with e nearby
    assert any("edge of its search" in flag for flag in fit.flags)


HEAD, Q = synthetic(9, count=8)


@pytest.mark.parametrize(
    ("field", "heads", "flows", "options"),
    [
        ("gaugings", HEAD[:5], Q[:5], {}),
        ("gaugings", HEAD[:2], Q[:2], {"cease_to_flow_m": 0.0}),
        ("gaugings", HEAD, Q, {"breaks_m": [0.2]}),
        ("gauging 3 discharge_m3s", HEAD, np.where(np.arange(8) == 2, 0.0, Q), {}),
        ("gauging 2 head_m", np.where(np.arange(8) == 1, np.nan, HEAD), Q, {}),
        ("gauging 1 uncertainty_pct", HEAD, Q, {"uncertainty_pct": 0.0}),
        ("discharge_m3s", HEAD, Q[:7], {}),
        ("cease_to_flow_m", HEAD, Q, {"cease_to_flow_m": 0.5}),
        ("head_m", np.full(8, 0.3), Q, {}),
        ("exponent", HEAD, Q, {"exponent": 1.5, "breaks_m": [0.2]}),
        ("exponent_prior", HEAD, Q, {"exponent_prior": (1.5, 0.0)}),
        ("breaks_m", np.tile(HEAD, 2), np.tile(Q, 2), {"breaks_m": [5.0]}),
    ],
)
def test_too_little_or_impossible_is_refused(
    field: str, heads: Any, flows: Any, options: dict[str, Any]
) -> None:
    with pytest.raises(BadInput) as refused:
        fit_rating(heads, flows, **options)
    assert refused.value.field == field
    assert refused.value.remedy
