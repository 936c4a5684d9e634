"""Figures in words: halves away from nought, digits as typed.

Rule B of ISO 80000-1:2009, annex B (of two equally near the greater in size is taken; from memory),
is also what ECMA-262 asks of a browser's toFixed and toPrecision; tests/differential holds the
phone to it.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.base.arrays import apart
from app.hydraulics.base.rounding import carried, fixed, general, signed
from app.hydraulics.base.units import length_m


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [(12.25, 1, "12.3"), (0.25, 1, "0.3"), (-0.25, 1, "-0.3"), (2.5, 0, "3"), (-0.04, 1, "0.0"),
     (155.0, -1, "160"), (1e22, 1, "10000000000000000000000.0"), (float("nan"), 1, "nan")],
)  # fmt: skip
def test_a_half_goes_away_from_nought(value: float, places: int, text: str) -> None:
    assert fixed(value, places) == text


def test_a_sign_is_always_told() -> None:
    assert [signed(v, 1) for v in (2.25, -2.25, 0.0, -0.04)] == ["+2.3", "-2.3", "+0.0", "-0.0"]


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(1e-5, 6, "0.00001"), (1234567.0, 6, "1234570"), (100000.5, 6, "100001"), (0.1, 6, "0.1"),
     (31.25, 3, "31.3"), (2.0, 6, "2"), (-0.0, 6, "0"), (1e-7, 6, "1e-7"),
     (-1.5e21, 6, "-1.5e+21")],
)  # fmt: skip
def test_no_power_of_ten_where_digits_do(value: float, digits: int, text: str) -> None:
    assert general(value, digits) == text


@given(tenths=st.integers(-99_999, 99_999))
def test_millimetres_become_metres_digit_for_digit(tenths: int) -> None:
    """4.9 mm is 0.0049 m, not 0.004900000000000001: decimal arithmetic says which double."""
    text = f"{tenths / 10:.1f}"
    assert length_m("head", f"{text} mm") == float(Decimal(text) / 1000)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.1156 - 0.003, "0.1126"), (112.6 * 0.001, "0.1126"), (0.1 + 0.2, "0.3"), (0.1126, "0.1126"),
     (-0.0, "-0.0"), (1e22, "1e+22"), (5e-324, "5e-324"), (2 / 3, repr(2 / 3)),
     (0.092880500000297, "0.092880500000297"), (float("inf"), "inf")],
)  # fmt: skip
def test_a_number_is_told_with_the_digits_that_it_carries(value: float, text: str) -> None:
    assert repr(carried(value)) == text


@given(st.decimals(-9999, 9999, places=5))
def test_what_was_typed_comes_back_as_typed_however_it_was_added_up(value: Decimal) -> None:
    """Python's own decimal arithmetic is the reference."""
    sum_of_binary = float(value - Decimal("0.00037")) + 0.00037
    assert carried(float(value)) == float(value)
    if abs(value) > 1:
        assert carried(sum_of_binary) == float(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_told_once_is_told_for_ever(value: float) -> None:
    """What is written reads back as the same number, and is written so again."""
    told = carried(value)
    assert carried(float(repr(told))) == told
    assert abs(told - value) <= 1e-13 * abs(value)


def test_levels_apart_are_told_to_what_was_levelled() -> None:
    assert repr(float(apart(100.001 - 100.0))) == "0.001"
    assert repr(float(apart(-0.0))) == "0.0"
