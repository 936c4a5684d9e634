"""Use against limits: the three words, windows against brute force, projection."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.daily import daily_flow
from app.hydraulics.series.limits import (
    Verdict,
    residual_verdict,
    verdict,
    window_maximum,
    window_rates,
)
from app.hydraulics.series.volumes import project, volume_use


def constant(days=30, value=0.02, pct=5.0):
    t = np.arange(days * 96 + 1, dtype=np.int64) * 900
    return t, daily_flow(t, np.full(t.size, value), uncertainty_pct=np.full(t.size, pct))


def test_three_words_and_unrounded_comparison():
    got = verdict([9.0, 9.6, 10.6, 10.0004], [0.5, 0.5, 0.5, 0.0], 10.0)
    assert got.tolist() == [
        Verdict.WITHIN,
        Verdict.CANNOT_TELL,
        Verdict.OVER,
        Verdict.OVER,
    ]
    assert [Verdict(code).word for code in (0, 1, 2)] == ["within", "cannot tell", "over"]


def test_the_bound_is_the_limit_itself():
    assert verdict([9.5, 9.50001], 0.5, 10.0).tolist() == [Verdict.WITHIN, Verdict.CANNOT_TELL]
    assert verdict([10.5, 10.50001], 0.5, 10.0).tolist() == [Verdict.CANNOT_TELL, Verdict.OVER]


@pytest.mark.parametrize(
    ("amount", "spread", "unseen"),
    [(np.nan, 0.1, 0.0), (1.0, np.nan, 0.0), (1.0, np.inf, 0.0), (1.0, 0.0, np.nan)],
)
def test_what_is_unknown_is_never_within(amount, spread, unseen):
    assert verdict(amount, spread, 10.0, may_have_passed=unseen)[()] == Verdict.CANNOT_TELL


def test_over_stays_over_whatever_else_is_missing():
    assert verdict(11.0, 0.5, 10.0, may_have_passed=np.inf)[()] == Verdict.OVER


def test_residual_flow():
    got = residual_verdict([12.0, 10.2, 9.0, np.nan], 0.5, 10.0)
    assert got.tolist() == [0, 1, 2, 1]
    with pytest.raises(BadInput, match="limit"):
        residual_verdict(1.0, 0.1, float("nan"))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 40), st.floats(0, 5)), min_size=2, max_size=12),
    st.integers(1, 60),
)
def test_window_maximum_vs_every_second_by_brute_force(steps, window):
    t = np.cumsum([step for step, _ in steps]).astype(np.int64)
    q = np.array([value for _, value in steps])
    at, best = window_maximum(t, q, window)
    # the integral of the line at every tenth of a second, by numpy's interpolation
    fine = np.arange(t[0] * 10, t[-1] * 10 + 1) / 10.0
    line = np.interp(fine, t, q)
    total = np.concatenate([[0.0], np.cumsum(0.05 * (line[1:] + line[:-1]))])
    wide = window * 10
    if fine.size <= wide:
        assert at is None
        assert np.isnan(best)
        return
    # the tenths cut at every reading, so the sum is exact at their ends
    brute = float(np.max(total[wide:] - total[:-wide])) / window
    assert best >= brute - 1e-9
    assert best <= brute + 0.05 * 5 / window + 1e-9
    starts, rates = window_rates(t, q, window)
    assert np.all(np.diff(starts) >= 0)
    assert rates.max() == best
    assert best <= q.max() + 1e-9


def test_windows_that_touch_a_gap_are_left_out():
    t = np.array([0, 900, 1800, 20_000, 20_900, 21_800], dtype=np.int64)
    q = np.array([1.0, 1.0, 1.0, 2.0, 2.0, 2.0])
    starts, rates = window_rates(t, q, 1800)
    assert starts.tolist() == [0, 20_000]
    assert rates == pytest.approx([1.0, 2.0])
    at, none = window_maximum(t, q, 3600)
    assert at is None
    assert np.isnan(none)
    with pytest.raises(BadInput, match="window"):
        window_rates(t, q, 0)


def test_volume_use_within_cannot_tell_over():
    _, daily = constant()
    used = 30 * 1728.0
    for limit, word in ((1.1 * used, "within"), (1.02 * used, "cannot tell"), (0.9 * used, "over")):
        use = volume_use(daily, 0, 29, limit)
        assert use.verdict.word == word
        assert use.used_m3 == pytest.approx(used)
        assert use.uncertainty_m3 == pytest.approx(0.05 * used)
        assert use.near == (used / limit >= 0.8)


def test_time_without_record_cannot_be_within_unless_it_could_not_matter():
    _, daily = constant()
    assert volume_use(daily, 0, 30, 1e9).verdict is Verdict.CANNOT_TELL
    use = volume_use(daily, 0, 30, 1e9, largest_rate_m3s=0.5)
    assert use.verdict is Verdict.WITHIN
    assert use.missing_s == DAY_S
    assert use.high_m3 == pytest.approx(use.used_m3 * 1.05 + 0.5 * DAY_S)


def test_unknown_uncertainty_cannot_be_within():
    t = np.arange(97, dtype=np.int64) * 900
    daily = daily_flow(t, np.full(97, 0.02))
    assert volume_use(daily, 0, 0, 1e9).verdict is Verdict.CANNOT_TELL


def test_a_year_of_no_take_uses_nothing_of_a_zero_limit():
    _, daily = constant(value=0.0)
    use = volume_use(daily, 0, 29, 0.0)
    assert (use.used_pct, use.verdict) == (0.0, Verdict.WITHIN)
    with pytest.raises(BadInput):
        volume_use(daily, 5, 4, 1.0)
    with pytest.raises(BadInput):
        volume_use(daily, 0, 4, -1.0)


def test_projection_of_a_constant_take_is_the_constant():
    _, daily = constant()
    season = 100 * 1728.0
    ahead = project(daily, 0, 99, 0.8 * season, 29)
    assert ahead.expected_m3 == pytest.approx(season)
    assert ahead.reached_day == 79  # 50 more days from day 29
    assert ahead.verdict is Verdict.OVER
    assert project(daily, 0, 99, 1.1 * season, 29).verdict is Verdict.WITHIN
    assert project(daily, 0, 99, 1.01 * season, 29).verdict is Verdict.CANNOT_TELL
    assert "14 days" in ahead.method


def test_projection_without_any_record_says_so():
    nothing = daily_flow(np.empty(0, dtype=np.int64), np.empty(0))
    ahead = project(nothing, 0, 99, 1.0, 10)
    assert ahead.verdict is Verdict.CANNOT_TELL
    assert np.isnan(ahead.expected_m3)
