"""H, HS and HL flumes against the printed constants' values and full-depth capacities."""

import numpy as np
import pytest

from app.hydraulics.families.h_flume import SIZES
from app.hydraulics.families.registry import build
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flow
from tests.hydraulics.checks import Check, checks


@pytest.mark.parametrize("check", checks("h_flume"), ids=str)
def test_published_figures(check: Check) -> None:
    flume = build("h_flume", {"size": check.inputs["size"]})
    head = flume.head_max_m if check.quantity == "Q_top" else check.inputs["h"]
    found = float(rate(flume, head).discharge_m3s)
    assert found == pytest.approx(check.expected, rel=check.tolerance)


@pytest.mark.parametrize("size", SIZES)
def test_rises_from_nothing_and_its_exponent_is_its_slope(size: str) -> None:
    flume = build("h_flume", {"size": size})
    heads = np.concatenate(([0.0], np.geomspace(1e-6, flume.head_max_m * 1.2, 3000)))
    flow = flume.free_flow(heads).discharge_m3s
    assert flow[0] == 0
    assert np.all(np.diff(flow) > 0)
    at = np.array([2e-4, 0.02, 0.08, 0.11])
    step = 1e-6
    low, high = (flume.free_flow(at * (1 + s)).discharge_m3s for s in (-step, step))
    assert flume.exponent(at) == pytest.approx(np.log(high / low) / (2 * step), rel=1e-6)


def test_the_top_of_the_range_stays_inside_the_flume() -> None:
    for size, constants in SIZES.items():
        flume = build("h_flume", {"size": size})
        assert 0.9 * constants.depth_ft * 0.3048 < flume.head_max_m <= constants.depth_ft * 0.3048


def test_a_drowned_one_is_not_determined() -> None:
    rated = rate(build("h_flume", {"size": "H1.0"}), [0.2, 0.2], [0.03, 0.1])
    assert rated.flow.tolist() == [Flow.FREE, Flow.SUBMERGED_UNDETERMINED]
    assert np.isnan(rated.discharge_m3s[1])
