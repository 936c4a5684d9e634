"""Conversion factors and the reading of numbers."""

import pytest

from app.errors import BadInput
from app.hydraulics.base import units


def test_factors() -> None:
    """Foot exact (1959); US gallon 231 in3."""
    cubic_foot = units.CUBIC_FOOT
    assert cubic_foot == pytest.approx(0.028316846592, rel=1e-15)
    assert units.DISCHARGE_M3S["US gal/min"] == pytest.approx(6.30901964e-5, rel=1e-9)
    assert units.DISCHARGE_M3S["ML/d"] * 86400 == pytest.approx(1000.0)


def test_coefficient_travels_with_its_exponent() -> None:
    """4 ft3/s at 1 ft through a 1 ft Parshall is 0.113267 m3/s at 0.3048 m (from memory)."""
    coefficient = units.coefficient_si(4.0, 1.522)
    assert coefficient * 0.3048**1.522 == pytest.approx(0.113267, rel=1e-5)
    # with the width left in: Q = 3.5 W^1.025 h^1.56
    with_width = units.coefficient_si(3.5, 1.56, 1.025)
    us = 3.5 * 2.0**1.025 * 1.5**1.56 * units.CUBIC_FOOT
    assert with_width * 0.6096**1.025 * 0.4572**1.56 == pytest.approx(us, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("0.45", 0.45), ("0,45", 0.45), (" 450 mm", 0.45), ("45cm", 0.45), ("1 ft", 0.3048), (2, 2.0)],
)
def test_lengths(text: str | float, metres: float) -> None:
    assert units.length_m("head", text) == pytest.approx(metres)


@pytest.mark.parametrize("text", ["", "abc", "1 2", "1.2.3", "5 furlongs", "nan", "1e400", "--1"])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(BadInput) as refused:
        units.length_m("head", text)
    assert refused.value.field == "head"


def test_plain_numbers_take_no_unit() -> None:
    assert units.number("n", "1,5") == 1.5
    with pytest.raises(BadInput):
        units.number("n", "1.5 m")
    with pytest.raises(BadInput):
        units.number("n", True)
