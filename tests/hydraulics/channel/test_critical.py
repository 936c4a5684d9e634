"""Critical flow against closed forms, scipy's brentq and the figures of critical.csv."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.critical import (
    critical_depth,
    critical_discharge,
    ledge_band,
    with_approach,
)
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
from tests.hydraulics.channel.test_sections import LEDGED
from tests.hydraulics.checks import Check, checks

ROWS = checks("critical")


def shape_of(given: dict[str, float | str]) -> Section:
    kind = {"circ": "circle"}.get(str(given["kind"]), str(given["kind"]))
    return section(kind, {**given, "m": given.get("z")})


@pytest.mark.parametrize("check", [r for r in ROWS if r.device == "critical"], ids=str)
def test_critical_flow(check: Check) -> None:
    dims, energy = check.inputs["section"], check.inputs["H"]
    flow, depth = critical_discharge(shape_of(dims), energy)
    width = dims.get("b", dims.get("D", 1.0))
    found = {
        "Q": flow,
        "Q_over_sqrt_g": flow / math.sqrt(G),
        "yc_over_H": depth / energy,
        "shape": flow / ((2 / 3) ** 1.5 * math.sqrt(G) * width * energy**1.5),
        # US coefficient at g = 32.17 ft/s2
        "C_ideal_us": flow
        / width
        / energy**1.5
        / math.sqrt(0.3048)
        * math.sqrt(32.17 * 0.3048 / G),
    }[check.quantity]
    assert float(found) == pytest.approx(check.expected, rel=check.tolerance)


@pytest.mark.parametrize("check", [r for r in ROWS if r.device == "long_throated"], ids=str)
def test_flow_with_the_velocity_of_approach(check: Check) -> None:
    given = check.inputs
    result = with_approach(
        shape_of(given["throat"]),
        shape_of(given["approach"]),
        given["h"],
        given["p"],
        lambda total: (total / given["L"] - 0.07) ** 0.018,
    )
    found = {"Q": result.discharge_m3s, "H": result.total_head_m}[check.quantity]
    assert float(found) == pytest.approx(check.expected, rel=check.tolerance)


HEADS = np.geomspace(0.008, 1.3, 200)
SMOOTH: list[Section] = [
    Rectangle(0.4),
    Trapezoid(0.3, 1.0),
    Trapezoid(0.001, 3.0),
    Trapezoid(2.0, 1e-6),
    Triangle(0.5),
    Parabola(0.2),
    UShape(0.3),
    Circle(0.6),
]


@pytest.mark.parametrize("shape", SMOOTH, ids=str)
def test_depth_agrees_with_a_bracketing_solver(shape: Section) -> None:
    def excess(depth: float, energy: float) -> float:
        y = np.array(depth)
        return depth + float(shape.area(y) / shape.top_width(y)) / 2 - energy

    found = critical_depth(shape, HEADS)
    for energy, depth in zip(HEADS, found, strict=True):
        top = min(energy, shape.soffit_m) * (1 - 1e-14)
        expected = brentq(excess, 0.3 * top, top, args=(energy,), xtol=1e-15, rtol=1e-13)
        assert depth == pytest.approx(expected, rel=1e-9)


def test_closed_forms() -> None:
    flow, depth = critical_discharge(Rectangle(2.0), HEADS)
    assert flow == pytest.approx((2 / 3) ** 1.5 * math.sqrt(G) * 2.0 * HEADS**1.5, rel=1e-12)
    assert depth == pytest.approx(2 / 3 * HEADS, rel=1e-12)
    flow, depth = critical_discharge(Triangle(1.5), HEADS)
    assert flow == pytest.approx(16 / 25 * math.sqrt(2 * G / 5) * 1.5 * HEADS**2.5, rel=1e-12)
    assert critical_depth(Parabola(0.3), HEADS) == pytest.approx(0.75 * HEADS, rel=1e-12)
    # parabola: sqrt(g A^3 / T) at y = 3/4 H
    area, width = 8 / 3 * math.sqrt(0.3) * (0.75 * HEADS) ** 1.5, 4 * np.sqrt(0.3 * 0.75 * HEADS)
    expected = np.sqrt(G * area**3 / width)
    assert critical_discharge(Parabola(0.3), HEADS)[0] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("shape", [*SMOOTH, LEDGED], ids=str)
def test_the_discharge_is_the_most_the_energy_allows(shape: Section) -> None:
    # Bélanger's principle: Q(H) = max over y of A sqrt(2 g (H - y)); a brute search is the oracle
    energy = np.array([0.05, 0.17, 0.24, 0.3, 0.45, 0.6])
    y = np.linspace(0, 1, 20_001)[:, None] * energy
    tried = shape.area(y) * np.sqrt(2 * G * (energy - y))
    assert critical_discharge(shape, energy)[0] == pytest.approx(tried.max(axis=0), rel=2e-7)


@settings(max_examples=60, deadline=None)
@given(b=st.floats(0.01, 2), m=st.floats(0, 4), energy=st.floats(0.01, 2))
def test_any_trapezoid_meets_the_critical_condition(b: float, m: float, energy: float) -> None:
    shape = Trapezoid(b, m)
    flow, depth = critical_discharge(shape, energy)
    area, width = shape.area(depth), shape.top_width(depth)
    assert float(flow**2 * width) == pytest.approx(float(G * area**3), rel=1e-10)
    assert float(depth + flow**2 / (2 * G * area**2)) == pytest.approx(energy, rel=1e-10)


def test_sensitivity_is_root_g_a_t() -> None:
    for shape in SMOOTH:
        step = 1e-6 * HEADS
        slope = (
            critical_discharge(shape, HEADS + step)[0] - critical_discharge(shape, HEADS - step)[0]
        )
        depth = critical_depth(shape, HEADS)
        expected = np.sqrt(G * shape.area(depth) * shape.top_width(depth))
        assert slope / (2 * step) == pytest.approx(expected, rel=1e-5)


def test_a_pipe_far_above_its_soffit_and_odd_heads() -> None:
    depth = critical_depth(Circle(0.3), np.array([3.0, 30.0, 0.0, -1.0, np.nan]))
    assert np.all(depth[:2] < 0.3)
    assert depth[2:4] == pytest.approx([0, 0])
    assert np.isnan(depth[4])
    flow, depth = critical_discharge(Rectangle(0.4), np.zeros((2, 0, 3)))
    assert flow.shape == depth.shape == (2, 0, 3)


def test_vector_equals_scalar_and_shape_is_kept() -> None:
    heads = np.geomspace(0.01, 1.0, 20_000).reshape(100, 200)  # more than one block
    flow, depth = critical_discharge(UShape(0.3), heads)
    assert flow.shape == heads.shape
    for i, j in ((0, 0), (40, 191), (99, 199)):
        one = critical_discharge(UShape(0.3), heads[i, j])
        assert (float(one[0]), float(one[1])) == (flow[i, j], depth[i, j])


def test_near_a_ledge_the_band_is_told_and_the_flow_stays_continuous() -> None:
    heads = np.linspace(0.2, 0.4, 4001)
    band = ledge_band(LEDGED, heads)
    inside = heads[band]
    # two maxima of A sqrt(H - y) exist there by brute search, and only there
    for energy in (inside[0] - 0.003, inside[0] + 0.003, inside[-1] - 0.003, inside[-1] + 0.003):
        y = np.linspace(0, energy, 40_001)
        tried = LEDGED.area(y) * np.sqrt(energy - y)
        rises = np.diff(tried) > 0
        peaks = int(np.count_nonzero(rises[:-1] & ~rises[1:]))
        assert (peaks > 1) == bool(inside[0] <= energy <= inside[-1])
    assert np.all(np.diff(np.flatnonzero(band)) == 1)
    flow, depth = critical_discharge(LEDGED, heads)
    assert np.all(np.diff(flow) > 0)
    assert np.abs(np.diff(flow)).max() < 3e-4  # no jump although the depth jumps
    assert np.diff(depth).max() > 0.02
    assert not ledge_band(Trapezoid(0.3, 1), heads).any()


def test_a_straight_compound_throat_equals_the_trapezoid() -> None:
    outline = Compound(((0, 1), (0.5, 0), (0.8, 0), (1.3, 1)))
    heads = np.geomspace(0.01, 1.2, 50)
    expected = critical_discharge(Trapezoid(0.3, 0.5), heads)[0]
    assert critical_discharge(outline, heads)[0] == pytest.approx(expected, rel=1e-9)


def one(total: Floats) -> Floats:
    return np.ones_like(total)


def test_the_approach_head_solves_its_own_equation() -> None:
    approach, heads = Trapezoid(0.5, 1.0), np.linspace(0.02, 0.8, 60)
    result = with_approach(UShape(0.3), approach, heads, 0.05, one)
    speed = result.discharge_m3s / approach.area(heads + 0.05)
    assert result.total_head_m == pytest.approx(heads + speed**2 / (2 * G), rel=1e-9)
    assert result.discharge_m3s == pytest.approx(
        critical_discharge(UShape(0.3), result.total_head_m)[0], rel=1e-9
    )
    assert result.froude == pytest.approx(
        speed / np.sqrt(G * approach.area(heads + 0.05) / approach.top_width(heads + 0.05))
    )
    assert result.control.all()


def test_a_throat_as_wide_as_its_channel_has_no_control() -> None:
    # rectangular without a sill: H/h = 3/2 exactly at loss of control, Q = b sqrt(g h^3), Fr = 1
    wide = with_approach(Rectangle(0.8), Rectangle(0.8), [0.1, 0.3], 0.0, one)
    assert not wide.control.any()
    assert np.isnan(wide.discharge_m3s).all()
    assert np.isnan(wide.froude).all()
    assert with_approach(Rectangle(0.7), Rectangle(0.8), [0.1, 0.3], 0.0, one).control.all()
    assert with_approach(Rectangle(0.8), Rectangle(0.8), 0.3, 0.05, one).control.all()


def test_control_is_lost_where_a_fine_scan_finds_no_root() -> None:
    for width in (0.72, 0.78, 0.79, 0.795, 0.799):
        total = np.linspace(0.3, 0.6, 300_001)
        flow = critical_discharge(Rectangle(width), total)[0]
        left = total - 0.3 - flow**2 / (2 * G * (0.8 * 0.3) ** 2)
        found = with_approach(Rectangle(width), Rectangle(0.8), 0.3, 0.0, one)
        assert bool(found.control) == bool((left > 0).any())
        if (left > 0).any():
            first = total[np.argmax(left > 0)]
            assert float(found.total_head_m) == pytest.approx(first, abs=2e-6)


def test_no_head_no_flow_and_a_missing_head_stays_missing() -> None:
    result = with_approach(Rectangle(0.4), Rectangle(0.8), [0.0, -0.1, np.nan], 0.1, one)
    assert result.discharge_m3s[:2] == pytest.approx([0, 0])
    assert result.froude[:2] == pytest.approx([0, 0])
    assert np.isnan(result.discharge_m3s[2])


def test_an_undefined_coefficient_gives_no_discharge_but_does_not_lose_control() -> None:
    def bos(total: Floats) -> Floats:
        over = total / 0.8 - 0.07
        return np.where(over > 0, np.abs(over) ** 0.018, np.nan)

    result = with_approach(Rectangle(0.4), Rectangle(0.8), [0.05, 0.25], 0.1, bos)
    assert np.isnan(result.discharge_m3s[0])
    assert result.control.tolist() == [True, True]
    assert result.discharge_m3s[1] == pytest.approx(0.0855027, rel=1e-4)


def test_a_hundred_thousand_heads_in_one_call() -> None:
    # the ratio against scipy is printed by tests.benchmarks; here only the agreement, on a sample
    heads = np.geomspace(0.01, 1.0, 100_000)
    depth = critical_depth(Trapezoid(0.3, 1.0), heads)
    for i in range(0, 100_000, 5_000):
        expected = brentq(
            lambda y, h=heads[i]: y + y * (0.3 + y) / (0.3 + 2 * y) / 2 - h,
            0.5 * heads[i],
            heads[i],
            xtol=1e-15,
            rtol=1e-13,
        )
        assert depth[i] == pytest.approx(expected, rel=1e-9)
