"""The level book against worked runs, published limits and the laws of levelling."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.hydraulics.levelling.reduce import misclosure_limit_mm, reduce_run
from app.hydraulics.levelling.results import (
    COLLIMATION_LIMIT_MM_PER_M,
    head_error_pct,
    results_of_run,
)
from tests.hydraulics.checks import Check, checks
from tests.vectors.survey import RUN


def booked(setups: list[dict[str, Any]]) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for number, setup in enumerate(setups, start=1):
        sights = [("bs", setup["bs"]), *(("is", x) for x in setup["is"]), ("fs", setup["fs"])]
        rows += [
            {"setup": number, "point": name, kind: reading} for kind, (name, reading) in sights
        ]
    return rows


def closed_loop(inputs: dict[str, Any]) -> list[dict[str, object]]:
    last = len(inputs["bs"])
    rows: list[dict[str, object]] = []
    for i, (bs, fs) in enumerate(zip(inputs["bs"], inputs["fs"], strict=True), start=1):
        rows.append({"setup": i, "point": "BM" if i == 1 else f"TP{i - 1}", "bs": bs})
        rows.append({"setup": i, "point": "BM" if i == last else f"TP{i}", "fs": fs})
    return rows


def levelling(quantity: str, inputs: dict[str, Any]) -> float:
    run = reduce_run(booked(inputs["setups"]), inputs["start_rl"], close_rl=inputs["close_rl"])
    roles = {
        "corners": ["crest_UL", "crest_UR", "crest_DL", "crest_DR"],
        "floor": "floor_us",
        "staff_mark": "gauge_mark_0.500",
        "sensor": "sensor_face",
        "water": "well_water",
        "tail_floor": "floor_tail",
        "tail_water": "tail_water",
    }
    found = results_of_run(run, roles, staff_mark_m=0.5)
    answers = {
        "sum_backsights": run.sum_bs,
        "sum_foresights": run.sum_fs,
        "misclosure": run.misclosure,
        "sum_rises_minus_sum_falls": run.sum_rises - run.sum_falls,
        "mean_crest_rl_raw": found.crest_rl_m,
        "crest_corner_range": found.corner_range_m,
        "crest_above_upstream_floor": found.crest_above_floor_m,
        "gauge_zero_rl_raw": found.zero_rl_m,
        "gauge_zero_minus_crest": found.zero_minus_crest_m,
        "sensor_face_below_crest": found.sensor_below_crest_m,
        "head_from_levels": found.head_by_level_m,
        "tail_floor_below_crest": found.crest_above_tail_floor_m,
        "tailwater_above_crest": found.tailwater_above_crest_m,
        "bm2_difference_between_setups": run.point_levels()["BM2"].spread,
        "adjusted_tail_floor_rl": run.point_levels(adjusted=True)["floor_tail"].rl,
    }
    return answers[quantity]


def single(quantity: str, a: dict[str, Any]) -> float:
    """Answer the one-line checks through the same functions."""
    if quantity == "height_of_instrument":
        return float(reduce_run([{"point": "BM", "bs": a["bs"]}], a["BM_rl"]).collimation[0])
    if quantity in ("rl", "mean_crest_rl", "crest_spread"):
        readings = a.get("crest_readings", [a.get("is")])
        rows = [{"point": "BM", "bs": 1.685}]
        rows += [{"point": f"c{i}", "is": x} for i, x in enumerate(readings)]
        run = reduce_run(rows, a.get("hi", 51.685) - 1.685)
        names = [f"c{i}" for i in range(len(readings))]
        found = results_of_run(run, {"corners": names})
        return found.corner_range_m if quantity == "crest_spread" else found.crest_rl_m
    if quantity == "gauge_zero_above_crest":
        rows = [{"point": "BM", "bs": 0.0}, {"point": "mark", "is": a["staff_on_gauge_mark"]}]
        rows.append({"point": "crest", "is": a["hi"] - a["crest_rl"]})
        run = reduce_run(rows, a["hi"])
        roles = {"corners": "crest", "staff_mark": "mark"}
        return results_of_run(run, roles, staff_mark_m=a["gauge_mark_m"]).zero_minus_crest_m
    if quantity == "h_above_crest":
        return float(a["gauge_reading"] + a["gauge_zero_above_crest"])
    if quantity in ("misclosure", "tp1_rl_raw"):
        run = reduce_run(closed_loop(a), a["start_rl"], close_rl=a["close_rl"])
        return run.misclosure if quantity == "misclosure" else float(run.rl[1])
    if quantity == "adjustment":
        readings = {"bs": [1.685, 1.377, 1.52], "fs": [1.204, 1.862, 1.514]}
        return float(reduce_run(closed_loop(readings), 50.0).correction[2 * a["setup"] - 1])
    if quantity == "flow_error":
        return head_error_pct(a["n"], a["dh_mm"], a["h_mm"])
    if quantity == "collimation_limit":
        return COLLIMATION_LIMIT_MM_PER_M
    if "k_km" in a:
        return misclosure_limit_mm("distance", setups=1, distance_km=a["k_km"])
    return misclosure_limit_mm("setups", setups=a["n_setups"])


@pytest.mark.parametrize("check", checks("levels_checks"), ids=str)
def test_levels_vs_check_table(check: Check) -> None:
    answer = levelling if check.device == "levelling" else single
    got = answer(check.quantity, check.inputs)
    assert math.isclose(got, check.expected, rel_tol=check.tolerance), got


readings = st.floats(0.2, 3.8).map(lambda x: round(x, 3))
run_of = st.lists(
    st.tuples(readings, st.lists(readings, max_size=3), readings), min_size=1, max_size=5
)


def as_rows(setups: list[tuple[float, list[float], float]]) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for i, (bs, between, fs) in enumerate(setups, start=1):
        rows.append({"setup": i, "point": f"P{i - 1}", "bs": bs})
        rows += [{"setup": i, "point": f"i{i}.{k}", "is": x} for k, x in enumerate(between)]
        rows.append({"setup": i, "point": f"P{i}", "fs": fs})
    return rows


@settings(max_examples=60, deadline=None)
@given(run_of, st.floats(-500, 3000))
def test_a_constant_added_to_all_levels_changes_no_difference(
    setups: list[tuple[float, list[float], float]], shift: float
) -> None:
    low, high = (reduce_run(as_rows(setups), rl, close_rl=rl) for rl in (100.0, 100.0 + shift))
    np.testing.assert_allclose(high.rl - high.rl[0], low.rl - low.rl[0], atol=1e-9)
    assert math.isclose(high.misclosure, low.misclosure, abs_tol=1e-9)
    np.testing.assert_allclose(high.correction, low.correction, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(run_of)
def test_a_reversed_run_reverses_its_sign(
    setups: list[tuple[float, list[float], float]],
) -> None:
    there = reduce_run(as_rows(setups), 0.0)
    back = reduce_run(as_rows([(fs, mid[::-1], bs) for bs, mid, fs in setups[::-1]]), 0.0)
    assert math.isclose(back.last_minus_first, -there.last_minus_first, abs_tol=1e-9)
    assert math.isclose(back.sum_rises, there.sum_falls, abs_tol=1e-9)


@settings(max_examples=60, deadline=None)
@given(run_of, st.floats(-0.02, 0.02))
def test_the_adjusted_run_closes_and_the_three_sums_agree(
    setups: list[tuple[float, list[float], float]], miss: float
) -> None:
    open_end = reduce_run(as_rows(setups), 50.0)
    run = reduce_run(as_rows(setups), 50.0, close_rl=float(open_end.rl[-1]) - miss)
    assert run.arithmetic_agrees
    assert math.isclose(run.misclosure, miss, abs_tol=1e-9)
    assert math.isclose(run.rl_adjusted[-1], run.close_rl, abs_tol=1e-9)
    assert run.rl_adjusted[0] == run.rl[0] == 50.0


@settings(max_examples=40, deadline=None)
@given(run_of)
def test_feet_and_metres_give_the_same_levels(
    setups: list[tuple[float, list[float], float]],
) -> None:
    metric = reduce_run(as_rows(setups), 10.0)
    feet = [(bs / 0.3048, [x / 0.3048 for x in mid], fs / 0.3048) for bs, mid, fs in setups]
    imperial = reduce_run(as_rows(feet), 10.0 / 0.3048, unit="ft")
    np.testing.assert_allclose(imperial.metres(imperial.rl), metric.rl, atol=1e-9)
    assert imperial.limit_mm == metric.limit_mm


def test_a_wrong_turning_point_reading_is_found_and_said() -> None:
    rows = [{**row, "fs": 1.617} if row["point"] == "TP1" and "fs" in row else row for row in RUN]
    run = reduce_run(rows, 100.0)
    assert run.within_limit is False
    assert run.words[0].startswith("misclosure outside the limit")
