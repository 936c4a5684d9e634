"""Budgets against worked values and against drawing every part at random."""

import numpy as np
import pytest

from app.hydraulics.families.registry import DEVICES, build
from app.hydraulics.rating.rate import rate
from app.hydraulics.rating.uncertainty import (
    combine,
    head_part_pct,
    round_to_uncertainty,
)
from app.hydraulics.structure.device import Device
from tests.hydraulics.checks import Check, checks
from tests.hydraulics.rating.draws import monte_carlo_pct

DRAWS = 100_000


@pytest.mark.parametrize("check", checks("uncertainty"), ids=str)
def test_worked_values(check: Check) -> None:
    given = check.inputs
    if check.quantity == "U_C_iso4359_pct":
        found = given["base"] + 20.0 * (given["Cv"] - given["CD"])
    else:
        slope = np.asarray(given["n"] / given["h"])
        head = head_part_pct(slope, given["u_h_m"])
        found = float(combine(given["U_C"], given["U_b"], head, given.get("U_sub", 0.0)))
    assert found == pytest.approx(check.expected, rel=check.tolerance)


def drawn_dimensions(device: Device, head: float, rng: np.random.Generator) -> np.ndarray:
    """Draw the share of the dimensions by its own linear form: one factor a dimension."""
    pct = device.dimension_uncertainty_pct(np.array([head]))
    return 1.0 + rng.normal(0.0, float(np.ravel(pct)[0]) / 200.0, DRAWS)


@pytest.mark.parametrize("key", DEVICES)
def test_free_budget_against_random_draws(key: str) -> None:
    """Every family at half its range, head 2 mm: within 3 % (form of GUM supplement 1)."""
    device = DEVICES[key].build(DEVICES[key].example)
    head, spread = 0.5 * (device.head_min_m + device.head_max_m), 0.002
    rng = np.random.default_rng(20261125)
    rated = rate(device, head, head_uncertainty_m=spread)
    heads = head + rng.normal(0.0, spread / 2.0, DRAWS)
    flows = device.free_flow(heads).discharge_m3s
    flows = flows * (1.0 + rng.normal(0.0, float(rated.parts["device"]) / 200.0, DRAWS))
    flows = flows * drawn_dimensions(device, head, rng)
    assert float(rated.uncertainty_pct) == pytest.approx(monte_carlo_pct(flows), rel=0.03)


@pytest.mark.parametrize("key", [key for key, family in DEVICES.items() if family.correction])
def test_drowned_budget_against_random_draws(key: str) -> None:
    """Both heads drawn apart through the drowned factor."""
    device = DEVICES[key].build(DEVICES[key].example)
    head, spread = 0.6 * device.head_max_m, 0.001
    tail = 0.84 * head
    rng = np.random.default_rng(7)
    rated = rate(device, head, tail, spread)
    heads = head + rng.normal(0.0, spread / 2.0, DRAWS)
    tails = tail + rng.normal(0.0, spread / 2.0, DRAWS)
    factor = device.drowned_factor(heads, tails / heads)
    assert factor is not None
    flows = device.free_flow(heads).discharge_m3s * factor
    for part in ("device", "dimensions", "submergence"):
        flows = flows * (1.0 + rng.normal(0.0, float(rated.parts[part]) / 200.0, DRAWS))
    assert float(rated.uncertainty_pct) == pytest.approx(monte_carlo_pct(flows), rel=0.03)


def test_dimension_share_against_rebuilding_at_random() -> None:
    """A throat of 0.3 m rebuilt 400 times with its as-built tolerances."""
    dims = {"b": 0.3, "L": 0.6, "B": 0.6, "p": 0.1}
    device = build("long_throat_rect", dims)
    rng = np.random.default_rng(3)
    tolerance = {d.key: d.tolerance for d in device.family.dimensions if d.tolerance}
    flows = []
    for _ in range(400):
        moved = {
            key: value + rng.normal(0.0, min(tolerance[key], 0.01 * value) / 2.0)
            for key, value in dims.items()
        }
        flows.append(build("long_throat_rect", moved).free_flow(np.array([0.25])).discharge_m3s[0])
    share = float(np.ravel(device.dimension_uncertainty_pct(np.array([0.25])))[0])
    assert share == pytest.approx(monte_carlo_pct(flows), rel=0.12)  # 400 draws: 3.5 % a sigma


def test_width_of_a_trapezoid_weighs_less_than_of_a_rectangle() -> None:
    """Weight d ln Q / d ln b = b / (b + m yc) for a trapezoid, 1 for a rectangle (derived)."""
    heads = np.array([0.3])
    step = 1e-5

    def weight(family: str, dims: dict[str, float]) -> float:
        up = build(family, dims | {"b": dims["b"] * (1 + step)}).free_flow(heads).discharge_m3s
        down = build(family, dims | {"b": dims["b"] * (1 - step)}).free_flow(heads).discharge_m3s
        return float(np.log(up / down)[0] / (2 * step))

    wide = {"L": 0.9, "B": 60.0, "p": 20.0, "b": 0.3}
    assert weight("long_throat_rect", wide) == pytest.approx(1.0, abs=0.02)
    trapezoid = wide | {"m": 1.0}
    depth = float(
        build("long_throat_trap", trapezoid).free_flow(heads).detail["critical_depth_m"][0]
    )
    assert weight("long_throat_trap", trapezoid) == pytest.approx(0.3 / (0.3 + depth), abs=0.02)


@pytest.mark.parametrize(
    ("value", "pct", "text"),
    [
        (0.110558, 4.3, "0.1106"),
        (110.558, 4.3, "110.6"),
        (110.558, 11.0, "111"),
        (1234.5, 20.0, "1230"),
        (0.000312, 30.0, "0.000312"),
        (0.0, 100.0, "0"),
        (0.0123456, float("nan"), "0.0123"),
        (float("nan"), 3.0, "not known"),
    ],
)
def test_rounding_to_two_figures_of_the_uncertainty(value: float, pct: float, text: str) -> None:
    assert round_to_uncertainty(value, pct) == text
