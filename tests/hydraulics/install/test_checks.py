"""Install checks against statics, published ratios and tolerances."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.install.checks import (
    TOLERANCE_RULES,
    check_dimensions,
    corner_stop,
    practice_notes,
    width_stop,
)
from app.hydraulics.install.groundwork import (
    CREEP_RATIOS,
    ballast_to_hold_kg,
    concrete_to_hold_m3,
    concrete_volume_m3,
    lift_pressure,
    uplift,
    weighted_creep,
)
from app.hydraulics.install.stilling_well import well_lag, well_openings
from tests.hydraulics.checks import Check, checks


def box(a: dict[str, Any], depth: str) -> dict[str, float]:
    return {
        "length_m": a["length_m"],
        "width_m": a["width_m"],
        "depth_m": a[depth],
        "mass_kg": a["flume_mass_kg"],
    }


def computed(check: Check) -> float:
    a = check.inputs
    if check.device == "flotation":
        if "wet_concrete_depth_on_box_m" in a:
            wet = box(a, "wet_concrete_depth_on_box_m")
            return uplift(**wet, density_kg_m3=a["rho_wet_concrete"]).net_kn
        empty = box(a, "water_depth_on_box_m")
        return {
            "uplift": lambda: uplift(**empty).uplift_kn,
            "factor_of_safety_empty": lambda: uplift(**empty).factor,
            "concrete_volume_needed_fixed_below_and_submerged": lambda: concrete_to_hold_m3(
                **empty, target=a["fs"]
            ),
            "dry_ballast_mass_inside": lambda: ballast_to_hold_kg(**empty, target=a["fs"]),
        }[check.quantity]()
    if check.device == "wall_pressure":
        found = lift_pressure(a["lift_m"], density_kg_m3=a["rho"])
        return found.pressure_kpa if check.quantity == "max_pressure" else found.force_kn_per_m
    if check.device == "creep":
        return weighted_creep(**a).ratio
    if "well_diameter_mm" in a:
        sizes = well_openings(a["well_diameter_mm"] / 1000.0)
        return (
            1000.0
            * {
                "thin_wall_port_diameter": sizes.port_diameter_m,
                "connecting_pipe_diameter": sizes.pipe_diameter_m,
                "port_diameter_by_area_ratio": sizes.port_by_area_m,
            }[check.quantity]
        )
    lag = well_lag(
        pipe_length_m=a["L_m"],
        pipe_diameter_m=a["D_m"],
        well_diameter_m=a["Dw_m"],
        rate_m_per_s=a["dhdt_m_per_s"],
        loss_factor=a.get("entry_exit_loss_K", 0.0),
    )
    return lag.time_lag_s if check.quantity == "time_lag" else lag.head_lag_m


@pytest.mark.parametrize("check", checks("install_checks"), ids=str)
def test_install_vs_check_table(check: Check) -> None:
    got = computed(check)
    assert math.isclose(got, check.expected, rel_tol=check.tolerance), got


sizes = st.floats(0.1, 5.0)


@settings(max_examples=50, deadline=None)
@given(sizes, sizes, st.floats(0.05, 2.0), st.floats(1.0, 500.0), st.floats(1.05, 1.5))
def test_ballast_and_concrete_bring_the_factor_to_its_target(
    length: float, width: float, depth: float, mass: float, target: float
) -> None:
    given_box = {"length_m": length, "width_m": width, "depth_m": depth}
    extra = ballast_to_hold_kg(**given_box, mass_kg=mass, target=target)
    held = uplift(**given_box, mass_kg=mass + extra, target=target)
    assert held.factor >= target - 1e-9
    assert held.word == "holds"
    volume = concrete_to_hold_m3(**given_box, mass_kg=mass, target=target)
    # statics again, from the other side: all weight over all uplift, concrete under water too
    displaced = length * width * depth
    factor = (mass + 2400.0 * volume) / (1000.0 * (displaced + volume))
    assert factor >= target - 1e-9


def test_half_the_lift_has_a_quarter_of_the_force() -> None:
    # hydrostatics: force grows with the square of the depth
    assert lift_pressure(0.6).force_kn_per_m == pytest.approx(4 * lift_pressure(0.3).force_kn_per_m)


def test_creep_meets_fine_sand_and_not_silt() -> None:
    # Lane 1935, Trans. ASCE 100, ratios from memory; path invented
    path: dict[str, Any] = {"verticals_m": [0.6] * 4, "horizontals_m": [2.4], "head_m": 0.45}
    assert weighted_creep(**path, soil="fine sand").holds is True
    silt = weighted_creep(**path, soil="very fine sand or silt")
    assert (silt.holds, silt.word) == (False, "too short a path")
    assert weighted_creep(**path).holds is None
    assert len(silt.enough_for) == len(CREEP_RATIOS) - 1
    with pytest.raises(BadInput, match="no such soil"):
        weighted_creep(**path, soil="custard")


def test_tolerances_of_a_throat() -> None:
    # ISO 4359 construction tolerances, from memory: 0.2 % of the width, at most 10 mm
    named = {"throat_width": 0.5, "throat_length": 1.0, "wing": 0.8}
    rules = {"throat_width": "throat width, ISO", "throat_length": "throat length, ISO"}
    inside, outside, unknown = check_dimensions(
        named, {"throat_width": 0.501, "throat_length": 1.011, "wing": None}, rules
    )
    assert (inside.word, outside.word, unknown.word) == ("inside", "outside", "not measured")
    assert inside.tolerance_m == pytest.approx(0.001)
    assert unknown.inside is None
    assert unknown.provenance == "common practice"
    assert TOLERANCE_RULES["throat width, ISO"].tolerance_m(8.0) == 0.010
    # 1/64 in and 1/32 in, dimension note of circular 843, from memory; the inch is exact
    for rule, inches in (("throat width, US table", 1 / 64), ("other, US table", 1 / 32)):
        assert TOLERANCE_RULES[rule].tolerance_m(1.0) == pytest.approx(inches * 0.0254, rel=0.02)


def test_a_rule_that_does_not_exist_is_refused() -> None:
    with pytest.raises(BadInput, match="no such tolerance"):
        check_dimensions({"b": 1.0}, {"b": 1.0}, {"b": "by eye"})


def test_stop_or_go_by_widths() -> None:
    # 1 mm between stops: common practice
    first = [0.3050, 0.3051, 0.3050]
    assert width_stop([first]).word == "go"
    assert width_stop([first, [0.3050, 0.3045, 0.3049]]).word == "go"
    bowed = width_stop([first, [0.3050, 0.3038, 0.3049]])
    assert bowed.word == "stop"
    assert bowed.reason.startswith("width changed by 1.3 mm")
    slow = width_stop([first, [0.3050, 0.3044, 0.3050], [0.3050, 0.3038, 0.3050]])
    assert slow.word == "stop"  # each step is small; since the first it is not
    assert width_stop([first, [0.3050, math.nan, 0.3049]]).word == "unknown"
    with pytest.raises(BadInput, match="same places"):
        width_stop([])


def test_stop_or_go_by_corners() -> None:
    level = [99.224, 99.223, 99.2235, 99.2238]
    assert corner_stop([level]).word == "go"
    lifted = corner_stop([level, [rl + 0.004 for rl in level]])
    assert lifted.word == "stop"
    assert "corner changed by 4.0 mm" in lifted.reason
    np.testing.assert_allclose(lifted.change_m, 0.004)
    tilted = corner_stop([[99.224, 99.221, 99.224, 99.224]])
    assert tilted.reason == "corners out of level by 3.0 mm, allowed 2 mm"


def test_concrete_totals_and_bags() -> None:
    # plain arithmetic; 25 kg bags of 0.0115 m3 are common practice
    found = concrete_volume_m3({"slab": 0.40, "walls": 0.30, "wings": 0.15}, void_m3=0.05)
    assert found.volume_m3 == pytest.approx(0.80)
    assert found.order_m3 == pytest.approx(0.88)
    assert found.bags == 77
    with pytest.raises(BadInput, match="concrete has a volume"):
        concrete_volume_m3({"slab": 0.1}, void_m3=0.2)


def test_what_crews_commonly_do_is_told_as_such() -> None:
    # common practice, no source: a third of the base, 100 mm, 200 mm, ten minutes
    notes = practice_notes(
        crest_above_floor_m=0.1, tail_fall_m=0.2, lift_fraction=1 / 3, fill_time_min=10
    )
    assert all(note.near and note.provenance == "common practice" for note in notes)
    assert len(notes) == 4
    assert practice_notes(tail_fall_m=0.02)[0].near is False


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_impossible_sizes_are_refused(bad: float) -> None:
    with pytest.raises(BadInput, match="more than zero"):
        uplift(length_m=bad, width_m=1.0, depth_m=1.0, mass_kg=1.0)
    with pytest.raises(BadInput, match="more than zero"):
        well_openings(bad)
    with pytest.raises(BadInput, match="more than zero"):
        check_dimensions({"b": 1.0}, {"b": bad}, {}) if bad == bad else well_openings(bad)


def test_a_place_unread_at_the_first_stop_hides_no_movement_since_the_last() -> None:
    """Plain arithmetic: 402 less 397 mm is 5 mm, five times the limit, whatever came before."""
    found = width_stop([[math.nan, 0.4, 0.4], [0.397, 0.4, 0.4], [0.402, 0.4, 0.4]])
    assert (found.word, found.reason.split(":")[0]) == ("stop", "width changed by 5.0 mm")
    small = width_stop([[math.nan, 0.4, 0.4], [0.397, 0.4, 0.4], [0.3975, 0.4, 0.4]])
    assert (small.word, small.reason) == ("go", "width change at most 0.5 mm")


def test_a_movement_since_the_first_stop_counts_where_the_last_was_unread() -> None:
    found = corner_stop([[9.0, 9.0], [math.nan, 9.0], [9.004, 9.002]], tolerance_m=0.01)
    assert (found.word, found.reason.split(":")[0]) == ("stop", "corner changed by 4.0 mm")


def test_rows_of_unequal_length_are_refused() -> None:
    with pytest.raises(BadInput, match="uneven rows"):
        width_stop([[0.4, 0.4, 0.4], [0.4, 0.4]])
