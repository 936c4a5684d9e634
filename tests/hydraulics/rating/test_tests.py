"""Tests of a rating's standing against check figures and a general statistics library."""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from app.errors import BadInput
from app.hydraulics.rating.tests import (
    bias_test,
    by_season,
    drift_test,
    run_chances,
    run_test,
    sign_test,
    volume_effect,
)
from tests.hydraulics.checks import Check, checks

DEVIATIONS = [3.1, -1.2, 4.0, 2.2, 0.6, 3.7, -0.4, 2.9]
ROWS = [check for check in checks("gaugings_checks") if check.device == "rating_bias"]


@pytest.mark.parametrize("check", ROWS, ids=str)
def test_standing_vs_check_table(check: Check) -> None:
    d = check.inputs["dev_pct"]
    got = {
        "student_t": bias_test(d).t,
        "sign_test_statistic": sign_test(d).z,
        "sign_changes": float(run_test(d).changes),
    }[check.quantity]
    assert math.isclose(got, check.expected, rel_tol=check.tolerance, abs_tol=1e-12), got


def test_bias_vs_scipy_and_in_words() -> None:
    found = bias_test(DEVIATIONS)
    assert found.t == pytest.approx(stats.ttest_1samp(DEVIATIONS, 0.0).statistic, rel=1e-12)
    assert found.limit == pytest.approx(2.365, abs=5e-4)  # printed table, 7 degrees, from memory
    assert found.biased is True
    assert found.words == "the rating reads low: gaugings are +1.9 % on average"
    assert "reads high" in bias_test([-x for x in DEVIATIONS]).words
    assert bias_test([3.0]).biased is None
    assert bias_test([1.0, -1.0, 0.5, -0.4]).biased is False
    assert bias_test([2.0, 2.0, 2.0]).biased is True


def test_sign_test_is_near_the_binomial() -> None:
    d = [1.0] * 16 + [-1.0] * 4
    found = sign_test(d)
    exact = stats.binomtest(16, 20).pvalue
    assert found.uneven is True
    assert exact < 0.05
    assert 2 * stats.norm.sf(found.z) == pytest.approx(exact, rel=0.25)
    assert sign_test([0.0, 1.0]).uneven is None


def test_a_bent_rating_shows_in_its_runs() -> None:
    head = np.linspace(0.1, 0.6, 14)
    bent = np.where(head < 0.35, -3.0, 3.0)
    shuffled = np.random.default_rng(1).permutation(14)
    found = run_test(bent[shuffled], head[shuffled])
    assert (found.changes, found.bent) == (1, True)
    assert found.words.startswith("too few changes of sign")
    assert run_test([3.0, -1.0] * 7, head).bent is False
    assert "more changes" in run_test([3.0, -1.0] * 7).words
    assert run_test([1.0, -1.0]).bent is None


# critical numbers of runs, at most so many is too few at 2.5 % one-sided: Swed & Eisenhart 1943,
# Ann. Math. Stat. 14, as printed in textbooks (from memory; the enumeration below proves them)
FEWEST = {
    (5, 5): 2,
    (6, 6): 3,
    (7, 7): 3,
    (8, 8): 4,
    (10, 10): 6,
    (5, 10): 3,
    (2, 12): 2,
    (4, 8): 3,
}


@pytest.mark.parametrize(("above", "below"), FEWEST)
def test_runs_vs_swed_and_eisenhart(above: int, below: int) -> None:
    critical = FEWEST[above, below]
    assert run_chances(critical, above, below)[0] <= 0.025
    assert run_chances(critical + 1, above, below)[0] > 0.025


@pytest.mark.parametrize(("above", "below"), [(1, 4), (3, 3), (2, 6), (5, 4), (7, 3)])
def test_run_chances_vs_every_order(above: int, below: int) -> None:
    n = above + below
    counts = []
    for places in itertools.combinations(range(n), above):
        signs = [i in places for i in range(n)]
        counts.append(1 + sum(a != b for a, b in itertools.pairwise(signs)))
    for runs in range(2, n + 1):
        few, many = run_chances(runs, above, below)
        assert few == pytest.approx(sum(c <= runs for c in counts) / len(counts))
        assert many == pytest.approx(sum(c >= runs for c in counts) / len(counts))


def test_a_bias_alone_is_not_a_bend() -> None:
    # eleven above and two below, the two apart: few changes to be had, yet as many as chance gives
    d = [2.1, 1.4, -0.3, 2.6, 1.8, 2.2, 1.1, 2.9, -0.2, 1.7, 2.4, 1.3, 2.0]
    assert bias_test(d).biased is True
    assert run_test(d).bent is False
    assert run_test([abs(each) for each in d]).bent is None
    rng = np.random.default_rng(1100)
    called = sum(bool(run_test(rng.normal(2.0, 2.0, 24)).bent) for _ in range(400))
    assert called / 400 <= 0.04  # 2.5 % by chance


def test_drift_vs_scipy() -> None:
    days = np.arange(0.0, 1400.0, 100.0)
    d = 0.01 * days + np.random.default_rng(2).normal(0, 1.0, len(days))
    found = drift_test(d, days)
    reference = stats.linregress(days / 365.25, d)
    assert found.slope_pct_per_year == pytest.approx(reference.slope, rel=1e-9)
    reach = stats.t.ppf(0.975, len(d) - 2) * reference.stderr
    assert found.high_pct_per_year - found.slope_pct_per_year == pytest.approx(reach, rel=1e-9)
    assert found.drifts is True
    assert drift_test([1.0, 2.0], [0.0, 1.0]).drifts is None


def test_seasons_are_told_apart() -> None:
    d = [4.0, 5.0, 4.5, 0.2, -0.3, 0.1, 9.0]
    seasons = ["weed", "weed", "weed", "winter", "winter", "winter", "flood"]
    weed, winter, flood = by_season(d, seasons)
    assert (weed.season, weed.count, weed.words) == ("weed", 3, "off the rating")
    assert winter.words == "on the rating"
    assert flood.words == "unknown: one gauging only"
    assert math.isnan(flood.low_pct)
    low, high = stats.t.interval(0.95, 2, np.mean(d[:3]), stats.sem(d[:3]))
    assert (weed.low_pct, weed.high_pct) == pytest.approx((low, high), rel=1e-9)


def test_volumes_by_two_ratings() -> None:
    # 40, 44, 52, 48, 40 L/s at 0, 6, 10, 18, 24 h: 3988.8 m3 by trapezoids, plain arithmetic
    t = [0, 21600, 36000, 64800, 86400]
    old = np.array([40, 44, 52, 48, 40]) / 1000.0
    found = volume_effect(t, old, old * 1.05)
    assert found.old_m3 == pytest.approx(3988.8, rel=1e-12)
    assert found.change_pct == pytest.approx(5.0, rel=1e-9)
    assert (found.measured_s, found.gap_s) == (86400.0, 0.0)


def test_a_gap_is_not_bridged() -> None:
    t = [0.0, 100.0, 200.0, 300.0]
    found = volume_effect(t, [1.0, 1.0, np.nan, 1.0], [2.0, 2.0, 2.0, 2.0])
    assert (found.old_m3, found.new_m3, found.gap_s) == (100.0, 200.0, 200.0)


def test_impossible_input_is_refused() -> None:
    with pytest.raises(BadInput, match="times go forward"):
        volume_effect([0.0, 0.0], [1.0, 1.0], [1.0, 1.0])
    with pytest.raises(BadInput, match="one old and one new"):
        volume_effect([0.0, 1.0], [1.0], [1.0, 1.0])
    with pytest.raises(BadInput, match="number for every gauging"):
        bias_test([1.0, math.nan])
    with pytest.raises(BadInput, match="One head each"):
        run_test([1.0, -1.0, 1.0], [0.1])
    with pytest.raises(BadInput, match="One date each"):
        drift_test([1.0, -1.0], [0.1])
    with pytest.raises(BadInput, match="One season each"):
        by_season([1.0, -1.0], ["weed"])
