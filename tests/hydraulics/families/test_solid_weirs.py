"""Solid weirs and the drowned orifice against handbook figures and against each other."""

import numpy as np
import pytest

from app.hydraulics.families.registry import build
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device, Flag, Flow
from tests.hydraulics.checks import Check, checks

WEIRS = ("broad_crested", "round_nose", "triangular_profile")
DIMS: dict[str, dict[str, float]] = {
    "broad_crested": {"b": 1.0, "L": 1.2, "p": 0.6},
    "round_nose": {"b": 1.0, "L": 0.8, "p": 0.3},
    "triangular_profile": {"b": 1.0, "p": 0.3},
}


def at_total_head(device: Device, total_m: float) -> tuple[float, float]:
    """Return discharge and coefficient at a total head: the printed laws go by it."""
    heads = np.linspace(0.7 * total_m, total_m, 4001)
    free = device.free_flow(heads)
    flow = float(np.interp(total_m, free.detail["total_head_m"], free.discharge_m3s))
    return flow, float(np.interp(total_m, free.detail["total_head_m"], free.detail["coefficient"]))


@pytest.mark.parametrize("check", checks("solid_weirs"), ids=str)
def test_published_figures(check: Check) -> None:
    given = check.inputs
    dims = {k: v for k, v in given.items() if k not in ("H", "head", "tail")}
    device = build(check.device, dims)
    if check.device == "orifice":
        found = float(rate(device, given["head"], given["tail"], 1e-4).discharge_m3s)
    else:
        flow, coefficient = at_total_head(device, given["H"])
        per_metre = flow / given["b"] / given["H"] ** 1.5
        found = {"Q": flow, "C": per_metre, "CD": coefficient}[check.quantity]
    assert found == pytest.approx(check.expected, rel=check.tolerance)


def test_a_round_nose_is_the_rectangular_throat_without_side_contraction() -> None:
    # ISO 4374 and ISO 4359 share the boundary-layer form: the same figures (derived)
    nose = build("round_nose", {"b": 1.0, "L": 0.8, "p": 0.3})
    throat = build("long_throat_rect", {"b": 1.0, "L": 0.8, "p": 0.3, "B": 1.0})
    heads = np.array([0.08, 0.2, 0.4])
    assert nose.free_flow(heads).discharge_m3s == pytest.approx(
        throat.free_flow(heads).discharge_m3s, rel=1e-9
    )


def test_a_square_edge_passes_less_and_a_ridge_more_than_a_round_nose() -> None:
    heads = np.array([0.1, 0.2])
    square, nose, ridge = (
        build(key, {**DIMS[key], "p": 0.5} | ({"L": 0.8} if "L" in DIMS[key] else {}))
        .free_flow(heads)
        .discharge_m3s
        for key in WEIRS
    )
    assert np.all(square < nose)
    assert np.all(nose < ridge)


@pytest.mark.parametrize("key", WEIRS)
def test_the_approach_is_counted(key: str) -> None:
    # a low weir has a faster approach and passes more at the same gauged head
    low, high = (build(key, {**DIMS[key], "p": p}).free_flow(np.array([0.3])) for p in (0.1, 3.0))
    assert low.discharge_m3s[0] > 1.03 * high.discharge_m3s[0]
    area = (0.3 + 0.1) * 1.0
    total = 0.3 + (low.discharge_m3s[0] / area) ** 2 / (2 * 9.80665)
    assert low.detail["total_head_m"][0] == pytest.approx(total, rel=1e-9)


@pytest.mark.parametrize("key", WEIRS)
def test_drowned_is_not_determined(key: str) -> None:
    device = build(key, DIMS[key])
    limit = float(device.modular_limit(np.array([0.2]))[0])
    rated = rate(device, 0.2, [0.2 * (limit - 0.1), 0.2 * (limit + 0.1)])
    assert Flow(int(rated.flow[0])) is Flow.FREE
    assert Flow(int(rated.flow[1])) is Flow.SUBMERGED_UNDETERMINED
    assert np.isnan(rated.discharge_m3s[1])


@pytest.mark.parametrize(
    ("key", "dims", "head", "flag"),
    [
        ("broad_crested", {"p": 0.1}, 0.1, Flag.GEOMETRY_OUTSIDE_LIMITS),
        ("broad_crested", {"p": 0.3}, 0.3, Flag.OUTSIDE_ISO_LIMITS),  # h/(h+p) 0.5
        ("broad_crested", {}, 0.5, Flag.ABOVE_RANGE),
        ("round_nose", {"b": 0.2}, 0.1, Flag.GEOMETRY_OUTSIDE_LIMITS),
        ("round_nose", {"p": 0.15}, 0.3, Flag.OUTSIDE_ISO_LIMITS),
        ("triangular_profile", {"p": 0.05}, 0.1, Flag.GEOMETRY_OUTSIDE_LIMITS),
        ("triangular_profile", {}, 0.6, Flag.ABOVE_RANGE),
        ("triangular_profile", {"p": 0.06}, 0.3, Flag.OUTSIDE_ISO_LIMITS),
    ],
)
def test_limits_are_flagged(key: str, dims: dict[str, float], head: float, flag: Flag) -> None:
    assert int(rate(build(key, {**DIMS[key], **dims}), head).flags) & flag


def test_an_orifice_goes_by_the_difference_of_its_heads() -> None:
    device = build("orifice", {"w": 0.6, "d": 0.2})
    pairs = rate(device, [0.6, 0.9, 1.5], [0.5, 0.8, 1.4], 0.001)
    assert pairs.discharge_m3s == pytest.approx(0.61 * 0.12 * np.sqrt(2 * 9.80665 * 0.1), rel=1e-9)
    assert all(Flow(int(s)) is Flow.SUBMERGED_CORRECTED for s in pairs.flow)
    # the head that is lost decides: 1 mm in 13 mm costs far more than 1 mm in 100 mm
    near = rate(device, 0.6, [0.587, 0.5], 0.001)
    assert near.uncertainty_pct[0] > 1.5 * near.uncertainty_pct[1]
    assert int(rate(device, 0.2).flags) & Flag.BELOW_RANGE
