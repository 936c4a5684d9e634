"""Steadiness against scipy's regression, closed forms and an ordinary differential equation.

The cases go to the phone too: tests/vectors/steadiness.py.
"""

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import solve_ivp

from app.errors import BadInput
from app.hydraulics.gauging.steadiness import (
    STUDENT_T_95,
    classify,
    fill_time,
    settling_time,
    storage_discharge,
    time_constant,
)
from tests.hydraulics.checks import Check, checks
from tests.vectors.steadiness import CASES, FILLS, answer, fill_answer

FLUME: dict[str, Any] = {"exponent": 1.522, "discharge_m3s": 0.0597}


@pytest.mark.parametrize("check", checks("steadiness"), ids=str)
def test_pond_figures(check: Check) -> None:
    given = check.inputs
    if check.quantity == "dQ_storage":
        found = storage_discharge(given["A"], given["dhdt"])
    else:
        found = time_constant(given["A"], given["h"], given["n"], given["Q"])
    if check.quantity == "wait_s":
        found = settling_time(found, given["dQ0_over_Q"] * given["Q"], given["eps"] * given["Q"])
    assert found == pytest.approx(check.expected, rel=check.tolerance)


@pytest.mark.parametrize(("name", "word", "case"), CASES, ids=[c[0] for c in CASES])
def test_the_word_decided_by_hand(name: str, word: str, case: dict[str, Any]) -> None:
    assert answer(case)["word"] == word


@pytest.mark.parametrize(("name", "word", "case"), CASES, ids=[c[0] for c in CASES])
def test_slope_and_trend_agree_with_a_regression(
    name: str, word: str, case: dict[str, Any]
) -> None:
    times, heads, found = np.array(case["times_s"]), np.array(case["heads_m"]), answer(case)
    if len(set(case["times_s"])) < 2:
        assert found["slope_m_per_s"] is None
        return
    fit = stats.linregress(times - times[0], heads)
    assert found["slope_m_per_s"] == pytest.approx(fit.slope, rel=1e-9, abs=1e-15)
    assert found["range_m"] == pytest.approx(np.ptp(heads), abs=1e-15)
    if "the head is" in found["reason"]:
        in_time = heads[np.argsort(times)]
        one_way = bool(np.all(np.diff(in_time) >= 0) or np.all(np.diff(in_time) <= 0))
        assert fit.pvalue < 0.05 or one_way


def test_student_points_are_those_of_the_distribution() -> None:
    for dof, point in enumerate(STUDENT_T_95, start=1):
        assert point == pytest.approx(stats.t.ppf(0.975, dof), abs=6e-4)


def test_waiting_time_by_hand() -> None:
    # 2 mm a minute into 40 m2 is 1.333 L/s; tau ln(1.333 / 0.597) at the mean head 0.194 m
    found = classify(
        [0, 60, 120, 180, 240],
        [0.190, 0.192, 0.194, 0.196, 0.198],
        **FLUME,
        pond_area_m2=40.0,
    )
    tau = 40 * 0.194 / (1.522 * 0.0597)
    assert found.word == "settling"
    assert found.storage_m3s == pytest.approx(40 * 0.002 / 60)
    assert found.wait_min == pytest.approx(tau * math.log(40 * 0.002 / 60 / 0.000597) / 60)


def test_a_gate_opened_just_now_is_settling_until_three_time_constants() -> None:
    pond = FLUME | {"pond_area_m2": 40.0}
    three_tau = 3 * time_constant(40.0, 0.2, 1.522, 0.0597)
    heads = [0.2, 0.2, 0.2]
    for opened, word in ((-three_tau + 121, "settling"), (-three_tau + 119, "steady")):
        found = classify([0, 60, 120], heads, **pond, gate_opened_s=opened)
        assert found.word == word


def test_order_of_the_readings_does_not_matter() -> None:
    times, heads = [0.0, 60.0, 130.0, 170.0, 240.0], [0.19, 0.192, 0.193, 0.196, 0.197]
    forward = classify(times, heads, **FLUME, pond_area_m2=40.0)
    back = classify(times[::-1], heads[::-1], **FLUME, pond_area_m2=40.0)
    assert forward.word == back.word == "settling"
    assert forward.slope_m_per_s == pytest.approx(back.slope_m_per_s, rel=1e-12)


def test_readings_that_are_no_numbers_are_refused() -> None:
    for times, heads, field in (
        ([0, 60], [0.2], "heads_m"),
        ([0, math.nan], [0.2, 0.2], "times_s"),
        ([0, 60], [0.2, math.inf], "heads_m"),
    ):
        with pytest.raises(BadInput) as refusal:
            classify(times, heads, **FLUME)
        assert refusal.value.field == field


@pytest.mark.parametrize("case", FILLS, ids=str)
def test_filling_agrees_with_an_ode_solver(case: dict[str, float]) -> None:
    inflow, settled, exponent = (case[k] for k in ("inflow_m3s", "settled_head_m", "exponent"))

    def rise(_: float, head: np.ndarray) -> np.ndarray:
        out = inflow * (np.maximum(head, 0.0) / settled) ** exponent
        return np.asarray((inflow - out) / case["pond_area_m2"])

    def done(_: float, head: np.ndarray) -> float:
        return float(head[0] - settled * 0.99 ** (1 / exponent))

    done.terminal = True  # type: ignore[attr-defined]
    start = [case.get("start_head_m", 0.0)]
    run = solve_ivp(rise, (0, 5000), start, events=done, rtol=1e-9, atol=1e-11)
    assert fill_answer(case) == pytest.approx(run.t_events[0][0], rel=1e-5)


def test_filling_a_linear_pond_in_closed_form() -> None:
    # Q = k h: h = h_s (1 - e^(-t / tau)), so 1 % is left after tau ln 100
    found = fill_time(0.06, 0.2, 50.0, lambda head: 0.3 * head)
    assert found == pytest.approx(50 / 0.3 * math.log(100), rel=1e-8)


def test_a_small_race_pond_takes_of_the_order_of_ten_minutes() -> None:
    # common practice: 40 m2 of race behind a 1 ft flume, 0.15 m of dead depth, 60 L/s let in
    minutes = fill_answer(FILLS[1]) / 60
    assert 5 < minutes < 20


def test_a_full_pond_needs_no_time_and_impossible_ones_are_refused() -> None:
    assert fill_time(0.06, 0.2, 50.0, lambda head: 0.3 * head, start_head_m=0.2) == 0.0
    for inflow, area, remaining in ((0.0, 50.0, 0.01), (0.06, -1.0, 0.01), (0.06, 50.0, 0.0)):
        with pytest.raises(BadInput):
            fill_time(inflow, 0.2, area, lambda head: 0.3 * head, remaining=remaining)
