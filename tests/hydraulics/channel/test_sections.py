"""Sections against plane geometry done another way: quadrature and polygon clipping by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from app.errors import BadInput
from app.hydraulics.channel.described import section
from app.hydraulics.channel.sections import (
    Circle,
    Compound,
    Parabola,
    Rectangle,
    Section,
    Trapezoid,
    Triangle,
    UShape,
)
from app.hydraulics.families.registry import build

LEDGED = Compound(
    ((0, 0.6), (0.2, 0.2), (0.3, 0.2), (0.35, 0), (0.55, 0), (0.6, 0.2), (0.7, 0.2), (0.9, 0.6))
)
SECTIONS: list[Section] = [
    Rectangle(0.4),
    Trapezoid(0.3, 1.0),
    Trapezoid(0.2, 0.25),
    Triangle(1.5),
    Parabola(0.2),
    Circle(0.6),
    UShape(0.3),
    LEDGED,
    Compound(((0, 1), (0, 0.2), (0.4, 0), (1.0, 0.3), (1.2, 0.1), (1.5, 0.1), (2.0, 0.9))),
]
DEPTHS = np.array([0.003, 0.05, 0.12, 0.19, 0.25, 0.31, 0.43, 0.55])


@pytest.mark.parametrize("shape", SECTIONS, ids=str)
def test_area_is_the_integral_of_the_width(shape: Section) -> None:
    for depth, area in zip(DEPTHS, shape.area(DEPTHS), strict=True):
        marks = [z for z in (0.1, 0.15, 0.2, 0.3) if z < depth]
        whole = quad(
            lambda y: float(shape.top_width(np.array(y))), 0, depth, points=marks or None, limit=200
        )[0]
        assert area == pytest.approx(whole, rel=1e-6)


@pytest.mark.parametrize("shape", SECTIONS, ids=str)
def test_slopes_are_the_derivatives(shape: Section) -> None:
    step = 1e-6
    for value, slope in (
        (shape.top_width, shape.width_slope),
        (shape.wetted_perimeter, shape.perimeter_slope),
    ):
        central = (value(DEPTHS + step) - value(DEPTHS - step)) / (2 * step)
        assert slope(DEPTHS) == pytest.approx(central, rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("shape", SECTIONS, ids=str)
def test_a_dry_section_is_empty(shape: Section) -> None:
    assert shape.area(np.array([0.0, -0.3])) == pytest.approx([0, 0])


def test_perimeter_by_hand() -> None:
    assert Trapezoid(0.3, 0.75).wetted_perimeter(np.array([0.4])) == pytest.approx([1.3])  # 3-4-5
    assert Circle(0.6).wetted_perimeter(np.array([0.3])) == pytest.approx([np.pi * 0.3])
    assert UShape(0.6).wetted_perimeter(np.array([0.5])) == pytest.approx([np.pi * 0.3 + 0.4])
    # a ledge adds its width, a bank above its last point grows upwards
    slot = Compound(((0, 1.0), (0, 0.5), (1, 0.5), (1, 0), (2, 0), (2, 1.0)))
    assert slot.wetted_perimeter(np.array([0.4, 0.6, 1.5])) == pytest.approx([1.8, 3.2, 5.0])
    # arc of x^2 = 4 f y, by quadrature of its own length element
    half = 2 * np.sqrt(0.2 * 0.5)
    arc = 2 * quad(lambda x: np.sqrt(1 + (x / 0.4) ** 2), 0, half)[0]
    assert Parabola(0.2).wetted_perimeter(np.array([0.5])) == pytest.approx([arc])


@settings(max_examples=40, deadline=None)
@given(b=st.floats(0.01, 3), m=st.floats(0.1, 4), h=st.floats(0.1, 2))
def test_a_compound_outline_can_say_a_trapezoid(b: float, m: float, h: float) -> None:
    outline = Compound(((0, h), (m * h, 0), (m * h + b, 0), (2 * m * h + b, h)))
    same = Trapezoid(b, m)
    y = np.linspace(0.01, 0.999, 7) * h
    assert outline.area(y) == pytest.approx(same.area(y), rel=1e-9)
    assert outline.top_width(y) == pytest.approx(same.top_width(y), rel=1e-9)
    assert outline.wetted_perimeter(y) == pytest.approx(same.wetted_perimeter(y), rel=1e-9)


def test_the_factory_reads_text() -> None:
    assert section("trap", {"b": "0.3", "m": 1}) == Trapezoid(0.3, 1.0)
    assert section("compound", {"points": "0:0.6; 0.2:0; 0.5:0; 0.7:0.6"}) == Compound(
        ((0, 0.6), (0.2, 0), (0.5, 0), (0.7, 0.6))
    )
    for kind, dims in (("u", {"D": 0.3}), ("circle", {"D": 0.3}), ("tri", {"m": 1})):
        assert float(section(kind, dims).area(np.array(0.1))) > 0
    assert section("parab", {"f": 0.2}) == Parabola(0.2)


@pytest.mark.parametrize(
    ("kind", "dims", "field"),
    [
        ("oval", {}, "section"),
        ("rect", {}, "b"),
        ("rect", {"b": 0}, "b"),
        ("trap", {"b": -1, "m": 1}, "b"),
        ("trap", {"b": 1, "m": "steep"}, "m"),
        ("trap", {"b": 0, "m": 0}, "b"),
        ("circle", {"D": "nan"}, "D"),
        ("compound", {"points": "0:1"}, "points"),
        ("compound", {"points": "0;1;2"}, "points"),
        ("compound", {"points": [(0, 1), (0.5, 0), (0.3, 1)]}, "points"),
    ],
)
def test_impossible_sections_are_refused(kind: str, dims: dict[str, object], field: str) -> None:
    with pytest.raises(BadInput) as refusal:
        section(kind, dims)
    assert refusal.value.field == field
    assert refusal.value.remedy


def test_narrowing_follows_the_displacement_rule() -> None:
    # ISO 4359, from memory: b - 2 d, D - 2 d, b - 2 d (sqrt(1 + m^2) - m)
    assert Rectangle(0.4).narrowed(0.0024).top_width(np.array(0.1)) == pytest.approx(0.3952)
    assert UShape(0.3).narrowed(0.003) == UShape(0.294)
    narrowed = Trapezoid(0.3, 0.75).narrowed(0.003)
    assert narrowed.area(np.array(0.1)) == pytest.approx(0.1 * (0.297 + 0.075))
    with pytest.raises(BadInput):
        Rectangle(0.005).narrowed(0.003)
    with pytest.raises(BadInput):
        Circle(0.3).narrowed(0.003)


@given(st.floats(0.05, 3.0), st.floats(0.02, 2.0))
def test_a_parabola_is_given_by_a_width_at_a_height(width: float, height: float) -> None:
    # x^2 = 4 f y at x = T / 2: f = T^2 / (16 y), plain algebra
    found = section("parab", {"f_T": width, "f_y": height})
    assert float(found.top_width(np.asarray(height))) == pytest.approx(width, rel=1e-12)
    x = width / 2.0
    assert x**2 == pytest.approx(4.0 * found.f * height, rel=1e-12)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("dims", "field"),
    [
        ({"f_T": 0.4}, "f_y"),
        ({"f_y": 0.1}, "f_T"),
        ({"f_T": 0.4, "f_y": 0.1, "f": 0.2}, "f"),
        ({"f_T": -0.4, "f_y": 0.1}, "f_T"),
        ({}, "f"),
    ],
)
def test_half_a_parabola_is_refused(dims: dict[str, float], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        section("parab", dims)
    assert refused.value.field == field


def test_a_flume_takes_a_parabola_both_ways() -> None:
    shared: dict[str, str | float] = {"throat": "parab", "L": 0.6, "p": 0.1, "approach": "parab"}
    one = build("long_throat", {**shared, "f": 0.1, "B_f": 0.4})
    two = build("long_throat", {**shared, "f_T": 0.4, "f_y": 0.1, "B_f_T": 0.8, "B_f_y": 0.1})
    heads = np.array([0.1, 0.2, 0.3])
    np.testing.assert_allclose(
        one.free_flow(heads).discharge_m3s, two.free_flow(heads).discharge_m3s, rtol=1e-12
    )
    assert "x² = 4 f y" in next(d.label for d in one.family.dimensions if d.key == "f")
