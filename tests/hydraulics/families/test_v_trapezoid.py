"""The 60-degree V flume against its equation in feet and against critical flow."""

import numpy as np
import pytest

from app.hydraulics.channel.critical import critical_discharge
from app.hydraulics.channel.sections import Triangle
from app.hydraulics.families.registry import build
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flow
from tests.hydraulics.checks import Check, checks

FLUME = build("v60", {})


@pytest.mark.parametrize("check", checks("v_trapezoid"), ids=str)
def test_published_figures(check: Check) -> None:
    found = float(rate(FLUME, check.inputs["h"]).discharge_m3s)
    assert found == pytest.approx(check.expected, rel=check.tolerance)


def test_in_feet_it_is_the_published_equation() -> None:
    # Robinson & Chamberlain 1960, from memory: 1.55 ft3/s at 1 ft
    assert float(rate(FLUME, 0.3048).discharge_m3s) / 0.3048**3 == pytest.approx(1.55, rel=1e-12)


def test_it_lies_near_critical_flow_in_its_own_throat() -> None:
    # derived: a V with walls at 60 degrees, m = 1 / tan 60; within a tenth of the ideal discharge
    heads = np.array([0.1, 0.2, 0.3])
    ideal = critical_discharge(Triangle(1 / np.tan(np.radians(60))), heads)[0]
    assert rate(FLUME, heads).discharge_m3s == pytest.approx(ideal, rel=0.2)


def test_drowned_above_four_fifths() -> None:
    rated = rate(FLUME, [0.3, 0.3], [0.2, 0.27])
    assert rated.flow.tolist() == [Flow.FREE, Flow.SUBMERGED_UNDETERMINED]
