"""The water upstream of a candidate, against scipy's integration of the same equation."""

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from app.errors import BadInput
from app.services.plans.inputs import plan_inputs
from app.services.plans.sections import surveyed
from app.services.plans.work import work_out
from tests.builders.plan_cases import PLAN

ONE = PLAN | {"candidate_2": "", "candidate_3": "", "dims_3": ""}


def worked(**changes: str) -> dict[str, Any]:
    found: dict[str, Any] = work_out(plan_inputs(ONE | changes))["candidates"][0]
    return found


def manning(y: float, b: float = 0.9, m: float = 1.0) -> tuple[float, float, float]:
    return y * (b + m * y), b + 2 * m * y, b + 2 * y * np.sqrt(1 + m * m)


def test_levels_are_those_of_the_differential_equation() -> None:
    """dy/dx = (S0 - Sf) / (1 - Fr^2), Manning's n, integrated by scipy's DOP853."""
    one = worked()
    flow, place = one["flows"][-1], one["upstream"]["sections"]
    q, slope, n = flow["discharge_m3s"], 0.003, 0.035

    def rate(x: float, y: np.ndarray) -> list[float]:
        area, top, wet = manning(float(y[0]))
        friction = (n * q / area) ** 2 * (wet / area) ** (4 / 3)
        return [-(slope - friction) / (1.0 - q * q * top / (9.80665 * area**3))]

    places = np.array([p["chainage_m"] for p in place])
    start = flow["upstream_level_m"] - 48.92
    found = solve_ivp(rate, (0, places[-1]), [start], t_eval=places, method="DOP853", rtol=1e-10)
    levels = 48.92 + slope * places + found.y[0]
    assert [p["levels_m"][-1] for p in place] == pytest.approx(levels, abs=0.0005)


def test_the_pond_ends_where_the_rise_is_a_hundredth_and_the_direct_step_agrees() -> None:
    one = worked(tail_known="", tail_floor_rl_m="")
    upstream, q = one["upstream"], one["flows"][-1]["discharge_m3s"]

    def over(y: float) -> float:
        area, _, wet = manning(y)
        return float(area ** (5 / 3) / wet ** (2 / 3) * np.sqrt(0.003) / 0.035 - q)

    normal = brentq(over, 1e-3, 3.0)
    end = upstream["sections"][-1]
    assert end["levels_m"][-1] - end["bed_rl_m"] == pytest.approx(1.01 * normal, rel=1e-3)
    length = upstream["flows"][-1]["length_m"]
    assert upstream["check"]["curve"] == "M1"
    assert upstream["check"]["length_m"] == pytest.approx(length, rel=0.01)
    assert one["flows"][-1]["fill_min"] == upstream["flows"][-1]["fill_min"]
    held = upstream["flows"][-1]["volume_m3"] / q / 60.0
    assert held < upstream["flows"][-1]["fill_min"] < 10 * held


def test_surveyed_sections_carry_levels_banks_and_names() -> None:
    text = "80 49.15 49.9\n30 48.99 49.4 0,9 lower gate\n400 50.2"
    upstream = worked(sections=text)["upstream"]
    assert [s["name"] for s in upstream["sections"]] == ["the spot", "lower gate", "", ""]
    gate = upstream["sections"][1]
    assert gate["freeboard_m"] == pytest.approx(49.4 - gate["levels_m"][-1])
    assert upstream["flows"][-1]["freeboard_at_m"] == pytest.approx(30.0)
    assert upstream["sections"][-1]["freeboard_m"] is None
    short = worked(sections="30 48.99")["upstream"]["flows"][-1]
    assert short["beyond_survey"]
    assert short["length_m"] is None
    assert short["fill_min"] is None


def test_what_is_not_known_is_said() -> None:
    assert "not worked out" in worked(race_width_m="")["upstream"]["problem"]
    assert "bed slope" in worked(bed_slope="")["upstream"]["problem"]
    given = worked(pond_area_m2="40")
    assert given["flows"][-1]["fill_min"] != given["upstream"]["flows"][-1]["fill_min"]


@pytest.mark.parametrize("text", ["30", "gate 30 49", "30 49 48", "30 49\n30 49.1", "-3 49", "x"])
def test_sections_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(BadInput) as refused:
        surveyed("sections", text)
    assert refused.value.field == "sections"
