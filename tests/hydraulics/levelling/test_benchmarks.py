"""Moved benchmarks and creeping corners: planted movements are found, nothing else is."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.levelling.benchmarks import corner_trends, moved_marks

BASE = {"BM1": 100.0, "BM2": 100.302, "BM3": 99.87, "crest": 99.2235}


def test_the_mark_that_moved_is_named_with_its_amount() -> None:
    later = {**BASE, "BM2": 100.302 - 0.011}
    (move,) = moved_marks([BASE, BASE, later])
    assert (move.run, move.marks, move.certain) == (2, ("BM2",), True)
    assert move.moved_m == pytest.approx(-0.011)
    assert move.words == "BM2 moved -11.0 mm"


def test_a_move_is_told_once_and_then_is_the_new_level() -> None:
    later = {**BASE, "BM2": 100.29}
    assert len(moved_marks([BASE, later, later, later])) == 1


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-50, 50), min_size=1, max_size=5), st.integers(0, 2**32 - 1))
def test_another_datum_and_small_scatter_move_nothing(shifts: list[float], seed: int) -> None:
    noise = np.random.default_rng(seed).uniform(-0.0007, 0.0007, (len(shifts), len(BASE)))
    history = [BASE] + [
        {name: rl + shift + n for (name, rl), n in zip(BASE.items(), row, strict=True)}
        for shift, row in zip(shifts, noise, strict=True)
    ]
    assert moved_marks(history) == []


def test_of_two_marks_it_cannot_be_said_which() -> None:
    (move,) = moved_marks([{"A": 10.0, "B": 11.0}, {"A": 10.0, "B": 11.02}])
    assert move.certain is False
    assert set(move.marks) == {"A", "B"}
    assert "third mark" in move.words


def test_a_mark_seen_for_the_first_time_is_no_move() -> None:
    assert moved_marks([{"A": 1.0}, {"A": 1.0, "B": 2.0}, {"A": 5.0, "B": 6.0}]) == []


def test_corner_slopes_are_those_of_a_planted_tilt() -> None:
    years = np.array([2019.0, 2020.0, 2022.0, 2025.0])
    tilt = np.array([0.3, 0.3, -0.3, -0.3]) / 1000.0  # settles to one side, m a year
    corners = 99.2 + (years - 2019.0)[:, None] * tilt
    found = corner_trends(years, corners)
    np.testing.assert_allclose(found.slope_mm_per_year, tilt * 1000.0, atol=1e-9)
    np.testing.assert_allclose(found.range_m, 0.0006 * (years - 2019.0), atol=1e-12)
    assert found.outside
    assert "3.6 mm is outside 2 mm" in found.words


def test_one_run_has_no_trend() -> None:
    found = corner_trends([2024.0], [[99.2, 99.201, 99.2, 99.2]])
    assert np.all(np.isnan(found.slope_mm_per_year))
    assert found.words == "trend unknown: one run only"


def test_uneven_corners_are_refused() -> None:
    with pytest.raises(BadInput, match="one row of corners"):
        corner_trends([2020.0, 2021.0], [[1.0, 2.0, 3.0, 4.0]])
