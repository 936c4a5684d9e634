"""No peak is lost and no gap is bridged, at any zoom."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.series.envelopes import coarsen, columns, envelope, thin
from app.hydraulics.series.layers import How

GAP = 3600


@st.composite
def a_series(draw):
    spacing = st.sampled_from([900, 900, 900, 60, 3600, 3601, 9000, 500_000])
    steps = draw(st.lists(spacing, min_size=1, max_size=120))
    t = draw(st.integers(0, 2_000_000_000)) + np.cumsum(steps).astype(np.int64)
    values = st.one_of(st.floats(-1, 3), st.just(float("nan")))
    return t, np.array(draw(st.lists(values, min_size=t.size, max_size=t.size)))


def gaps_of(t, v):
    known = t[np.isfinite(v)]
    at = np.flatnonzero(np.diff(known) > GAP)
    return list(zip(known[at].tolist(), known[at + 1].tolist(), strict=True))


def proves(view, t, v):
    """Assert that a view keeps the extremes, the count and every gap of the series."""
    known = v[np.isfinite(v)]
    assert view.count.sum() == known.size
    if known.size == 0:
        return
    assert view.high.max() == known.max()
    assert view.low.min() == known.min()
    assert np.all((view.low <= view.mean) & (view.mean <= view.high))
    peak_at = view.high_at_s[int(np.argmax(view.high))]
    assert v[t == peak_at].tolist()
    for before, after in gaps_of(t, v):
        row = int(np.searchsorted(view.from_s, after))
        assert view.from_s[row] == after
        assert view.gap_before[row]
        assert view.to_s[row - 1] == before
    assert view.gap_before[1:].sum() == len(gaps_of(t, v))
    drawn = columns(view)
    assert np.all(np.diff(drawn["t"]) >= 0)
    assert sum(value is None for value in drawn["high"]) == len(gaps_of(t, v))
    shown = [value for value in drawn["high"] if value is not None]
    assert max(shown) == known.max()


@settings(max_examples=120, deadline=None)
@given(a_series(), st.integers(1, 400))
def test_peak_kept_and_gap_open_for_every_bucket_count(series, buckets):
    t, v = series
    view = thin(t, v, buckets, gap_s=GAP)
    proves(view, t, v)
    assert view.from_s.size <= buckets + 1 + len(gaps_of(t, v))


@settings(max_examples=60, deadline=None)
@given(a_series(), st.sampled_from((2, 4, 24)))
def test_peak_kept_and_gap_open_when_made_coarser(series, factor):
    t, v = series
    fine = envelope(t, v, 900, gap_s=GAP)
    proves(fine, t, v)
    proves(coarsen(fine, 900 * factor), t, v)


def test_single_quarter_hour_peak_of_ten_years_survives_two_thousand_buckets():
    t = np.arange(0, 350_640 * 900, 900, dtype=np.int64)
    v = np.full(t.size, 0.2)
    v[123_457] = 2.5
    view = thin(t, v, 2000)
    assert view.high.max() == 2.5
    assert view.high_at_s[int(np.argmax(view.high))] == t[123_457]
    assert view.from_s.size <= 2001


def test_no_record_opens_a_gap_however_short():
    t = np.arange(0, 10 * 900, 900, dtype=np.int64)
    v, how = np.ones(10), np.zeros(10, dtype=np.int8)
    v[4], how[4] = np.nan, How.NO_RECORD
    view = envelope(t, v, 100_000, how=how)
    assert view.gap_before.tolist() == [False, True]
    assert columns(view)["mean"] == [1.0, None, 1.0]


def test_a_view_shows_its_own_stretch_only():
    t = np.arange(0, 100 * 900, 900, dtype=np.int64)
    view = thin(t, t.astype(float), 10, from_s=9000, to_s=18_000)
    assert (view.low.min(), view.high.max()) == (9000.0, 18_000.0)


def test_coarsening_twice_is_coarsening_once():
    t = np.arange(0, 5000 * 900, 900, dtype=np.int64)
    v = np.random.default_rng(5).normal(size=t.size)
    twice = coarsen(envelope(t, v, 3600), 14_400)
    once = envelope(t, v, 14_400)
    assert np.array_equal(twice.high, once.high)
    assert np.array_equal(twice.high_at_s, once.high_at_s)
    assert twice.mean == pytest.approx(once.mean)


def test_empty_and_impossible_views():
    none = np.empty(0, dtype=np.int64), np.empty(0)
    assert thin(*none, 10).from_s.size == 0
    assert columns(thin(*none, 10)) == {"t": [], "low": [], "high": [], "mean": []}
    t = np.array([0], dtype=np.int64)
    for call in (
        lambda: thin(t, np.ones(1), 0),
        lambda: envelope(t, np.ones(1), 0),
    ):
        with pytest.raises(BadInput) as refused:
            call()
        assert refused.value.remedy
