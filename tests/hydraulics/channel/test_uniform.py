"""Uniform flow and channel figures against published cases and scipy."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from app.errors import BadInput
from app.hydraulics.base.units import G
from app.hydraulics.channel.described import section
from app.hydraulics.channel.sections import Circle, Rectangle, Section, Trapezoid
from app.hydraulics.channel.uniform import (
    afflux,
    backwater_reach,
    froude,
    normal_depth,
    uniform_discharge,
)
from tests.hydraulics.channel.test_sections import SECTIONS
from tests.hydraulics.checks import Check, checks


@pytest.mark.parametrize("check", checks("channel"), ids=str)
def test_manning(check: Check) -> None:
    given = check.inputs
    shape = section(given["section"]["kind"], {**given["section"], "m": given["section"].get("z")})
    if check.quantity == "yn":
        found = normal_depth(shape, given["Q"], given["n"], given["S0"])
    else:
        found = uniform_discharge(shape, given["y"], given["n"], given["S0"])
    assert float(found) == pytest.approx(check.expected, rel=check.tolerance)


@pytest.mark.parametrize("shape", SECTIONS, ids=str)
def test_normal_depth_is_the_inverse(shape: Section) -> None:
    depths = np.geomspace(0.004, 0.55, 41)
    flows = uniform_discharge(shape, depths, 0.02, 0.001)
    fine = np.geomspace(0.004, 0.55, 20_001)
    carried = np.maximum.accumulate(uniform_discharge(shape, fine, 0.02, 0.001))
    below = carried[np.searchsorted(fine, depths * (1 - 1e-9)) - 1]
    rising = (flows > below) | (depths == depths[0])
    found = normal_depth(shape, flows, 0.02, 0.001)
    assert found[rising] == pytest.approx(depths[rising], rel=1e-9)
    # where the discharge falls back with depth the least depth that carries it is given
    assert np.all(found[~rising] < depths[~rising])
    assert uniform_discharge(shape, found, 0.02, 0.001) == pytest.approx(flows, rel=1e-8)


def test_agrees_with_a_bracketing_solver_over_a_wide_range() -> None:
    shape = Trapezoid(0.6, 1.5)
    flows = np.geomspace(1e-4, 200, 40)
    for flow, depth in zip(flows, normal_depth(shape, flows, 0.03, 0.0005), strict=True):
        expected = brentq(
            lambda y, q=flow: float(uniform_discharge(shape, y, 0.03, 0.0005)) - q,
            1e-6,
            100,
            xtol=1e-14,
        )
        assert depth == pytest.approx(expected, rel=1e-9)


def test_a_pipe_carries_most_at_938_thousandths() -> None:
    pipe = Circle(0.6)
    y = np.linspace(0.5, 0.6, 20_001)
    flow = uniform_discharge(pipe, y, 0.013, 0.002)
    assert y[np.argmax(flow)] / 0.6 == pytest.approx(0.938, abs=1e-3)  # Chow 1959, from memory
    most = float(flow.max())
    assert float(normal_depth(pipe, most * 0.999, 0.013, 0.002)) < 0.938 * 0.6
    assert np.isnan(normal_depth(pipe, most * 1.01, 0.013, 0.002))


def test_odd_flows() -> None:
    found = normal_depth(Rectangle(1.0), [[0.0, -1.0], [np.nan, np.inf]], 0.02, 0.001)
    assert found[0] == pytest.approx([0, 0])
    assert np.isnan(found[1]).all()
    assert uniform_discharge(Rectangle(1.0), [0.0, -0.2], 0.02, 0.001) == pytest.approx([0, 0])
    with pytest.raises(BadInput):
        normal_depth(Rectangle(1.0), 0.1, 0.02, 0.0)
    with pytest.raises(BadInput):
        uniform_discharge(Rectangle(1.0), 0.1, -0.02, 0.001)


def test_froude_number_worked() -> None:
    # derived by hand: 0.045 m3/s in 0.90 m by 0.40 m: 0.125 m/s over sqrt(9.80665 x 0.40)
    assert float(froude(Rectangle(0.9), 0.4, 0.045)) == pytest.approx(0.0631, abs=5e-5)
    # 1 at critical flow: q = sqrt(g y^3)
    flow = math.sqrt(G * 0.3**3)
    assert float(froude(Rectangle(1.0), 0.3, flow)) == pytest.approx(1.0)
    assert np.isnan(froude(Rectangle(1.0), [0.0, -1.0], 0.1)).all()
    assert np.isnan(froude(Circle(0.6), 0.6, 0.1))


def test_afflux_and_reach() -> None:
    # common practice: one to two times afflux over slope
    rise = afflux([10.5, 10.2, np.nan], [10.3, 10.4, 10.0])
    assert rise[:2] == pytest.approx([0.2, 0.0])
    assert np.isnan(rise[2])
    short, far = backwater_reach(rise[:2], 0.001)
    assert short == pytest.approx([200, 0])
    assert far == pytest.approx([400, 0])
    with pytest.raises(BadInput):
        backwater_reach(0.1, 0.0)
