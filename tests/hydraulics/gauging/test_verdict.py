"""Check gaugings against published examples, a Monte Carlo of their uncertainty, and their laws."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.hydraulics.base.units import CUBIC_FOOT, FOOT
from app.hydraulics.gauging.current_meter import mean_velocity
from app.hydraulics.gauging.dilution import SALT_FACTOR, gulp
from app.hydraulics.gauging.dilution_constant import constant_rate
from app.hydraulics.gauging.section_uncertainty import (
    COMPONENTS,
    component_pct,
)
from app.hydraulics.gauging.tracer import salt_mass_kg
from app.hydraulics.gauging.velocity_area import velocity_area
from app.hydraulics.gauging.verdict import (
    float_gauging,
    known_gauging,
    mean_and_error,
    verdict,
    volumetric,
)
from tests.hydraulics.checks import Check, checks
from tests.vectors.survey import SECTION, section

LITRE = 0.001


def by_sections(quantity: str, a: dict[str, Any]) -> float:
    rows = section(a["b_m"], a["d_m"], a["v_m_s"])
    method = "mean" if "mean" in quantity else "mid"
    edges = "wall" if quantity.endswith("half_width") else "bank"
    found = velocity_area(rows, method=method, edges=edges)
    if "area" in quantity:
        return found.area_m2
    return found.largest_share_pct if "share" in quantity else found.discharge_m3s


def component(quantity: str, a: dict[str, Any]) -> float:
    if quantity == "u_m_pct":
        return component_pct(COMPONENTS["verticals"], a["verticals"])  # type: ignore[arg-type]
    if quantity == "u_p_pct":
        points = {"one_point": 1, "two_point": 2, "five_point": 5}[a["rule"]]
        return component_pct(COMPONENTS["points"], points)  # type: ignore[arg-type]
    table = COMPONENTS["meter"] if a["meter"] == "rated individually" else GROUP_RATED_METER
    return component_pct(table, a["v"])  # type: ignore[arg-type]


# Meter with a group rating: read at 0.5 m/s in Morgenschweis 2010, Hydrometrie; from memory below.
GROUP_RATED_METER = [[0.03, 10.0], [0.1, 5.0], [0.15, 2.5], [0.25, 2.0], [0.5, 1.5]]


def iso748_uncertainty_pct(
    *,
    u_s: float,
    u_m: float,
    m: int,
    u_b: float,
    u_d: float,
    u_p: float,
    u_c: float,
    u_e: float,
    n_points: int = 1,
) -> float:
    """Return U (k = 2), %, with m equal panels: ISO 748:2007 clause 9, as in Morgenschweis 2010."""
    random = (u_b**2 + u_d**2 + u_p**2 + (u_c**2 + u_e**2) / n_points) / m
    return 2.0 * math.sqrt(u_s**2 + u_m**2 + random)


def iso748(a: dict[str, Any]) -> float:
    named = {key.removesuffix("_pct"): value for key, value in a.items() if key != "k"}
    return iso748_uncertainty_pct(**named)


def by_float(a: dict[str, Any]) -> float:
    unit = FOOT if "W_ft" in a else 1.0
    suffix = "ft" if "W_ft" in a else "m"
    w, d, length = (a[f"{key}_{suffix}"] * unit for key in ("W", "d", "L"))
    found = float_gauging(distance_m=length, times_s=[a["t_s"]], area_m2=w * d, factor=a["k"])
    return found.discharge_m3s / (CUBIC_FOOT if "W_ft" in a else 1.0)


def traced(a: dict[str, Any]) -> Any:
    trace: list[float] = a["ec"] if "ec" in a else a["ec_uS_cm"]
    factor = a.get("cf_g_m3_per_uS_cm", a.get("cf_mg_cm_per_uS_L", SALT_FACTOR))
    return gulp(
        time_s=[a["dt_s"] * i for i in range(len(trace))],
        trace=trace,
        mass_g=a.get("mass_g", 1.0),
        factor=factor,
        background=a.get("ec0", a.get("ec0_uS_cm")),
    )


def fed(a: dict[str, Any]) -> float:
    c0, c1, c2 = (
        next(a[key] for key in (name, f"{name}_ppm", f"{name}_mg_l") if key in a)
        for name in ("C0", "C1", "C2")
    )
    found = constant_rate(
        injection_m3s=a["q_l_s"] * LITRE,
        injected=c1,
        plateau=c2 * (1.0 + a.get("du_pct", 0.0) / 100.0),
        background=c0,
    )
    return found.discharge_m3s / LITRE


def judged(a: dict[str, Any]) -> Any:
    return verdict(
        discharge_m3s=a["Qg"] if "Qg" in a else a["Q_gauged"],
        uncertainty_pct=a.get("Ug_pct", 8),
        rating_m3s=a.get("Qr", a.get("Q_rating")),
        rating_uncertainty_pct=a.get("Ur_pct", 5),
    )


def computed(check: Check) -> float | None:
    """Answer a row; None for what another file tests."""
    q, a = check.quantity, check.inputs
    if "b_m" in a:
        return by_sections(q, a)
    if q in ("u_m_pct", "u_p_pct", "u_c_pct"):
        return None if a.get("rule") == "surface" else component(q, a)
    if check.device == "iso748_uncertainty" or q in ("u_Q_pct", "U_Q_pct"):
        return iso748(a) / (2.0 if q == "u_Q_pct" else 1.0)
    if q == "U_Q_abs":
        found = known_gauging("meter", a["Q"], a["U_Q_pct"])
        return found.discharge_m3s * found.uncertainty_pct / 100.0
    if "v02" in a or "v06" in a:
        return mean_velocity(a)[0]
    if check.device == "float":
        found = float_gauging(
            distance_m=a["distance_m"], times_s=a["times_s"], area_m2=a["area_m2"],
            factor=a["coeff"],
        )  # fmt: skip
        return found.discharge_m3s / LITRE
    if q == "Q_float":
        return by_float(a)
    if q in ("departure_pct", "deviation"):
        return float(judged(a).deviation_pct)
    if q == "E_n":
        return float(judged(a).e_n)
    if check.device == "volumetric":
        volume = a.get("volume_l", 1000.0 * a.get("tank_area_m2", 0) * a.get("rise_m", 0))
        times = a.get("times_s", [a.get("t_s")])
        if q.startswith("std_error"):
            pace = mean_and_error(times)
            return 100.0 * pace.standard_error / pace.mean
        return volumetric(volume_m3=volume * LITRE, times_s=times).discharge_m3s / LITRE
    if check.device == "head_waves":
        found_mean = mean_and_error(a["readings_m"])
        return found_mean.mean if q == "mean" else found_mean.standard_error
    if q == "cf_default":
        return SALT_FACTOR
    if q == "u_cf_pct":
        trace = [85.0, 85.0, 120.0, 90.0, 85.0]
        times = [0.0, 1.0, 2.0, 3.0, 4.0]
        return gulp(time_s=times, trace=trace, mass_g=1.0).parts["factor"] / 2.0
    if q == "salt_mass":
        return salt_mass_kg(a["Q_m3_s"])
    if "C0" in a or "C0_ppm" in a or "C0_mg_l" in a:
        return fed(a)
    if q == "ec_integral":
        return float(traced(a).integral)
    if check.device in ("dilution", "dilution_slug_mass"):
        return float(traced(a).discharge_m3s) / LITRE
    return None


ROWS = [check for check in checks("gaugings_checks") if check.device != "rating_bias"]


@pytest.mark.parametrize("check", ROWS, ids=str)
def test_gaugings_vs_check_table(check: Check) -> None:
    got = computed(check)
    if check.inputs.get("rule") == "surface":
        # a surface point alone is not offered: floats carry their own 25 %, not less than 15 %
        got = float_gauging(distance_m=1, times_s=[1], area_m2=1).uncertainty_pct
        assert got >= check.expected
        return
    assert got is not None, check
    assert math.isclose(got, check.expected, rel_tol=check.tolerance), got


def test_every_row_is_answered() -> None:
    unanswered = [c for c in ROWS if computed(c) is None]
    assert [c.inputs.get("rule") for c in unanswered] == ["surface"]


def scaled(factor: float) -> list[dict[str, object]]:
    return [{**row, "v": float(str(row["v"])) * factor} for row in SECTION]


@settings(max_examples=40, deadline=None)
@given(st.floats(0.1, 4.0), st.sampled_from(["mid", "mean"]))
def test_velocity_scales_discharge(factor: float, method: str) -> None:
    base = velocity_area(SECTION, method=method)
    more = velocity_area(scaled(factor), method=method)
    assert more.discharge_m3s == pytest.approx(base.discharge_m3s * factor, rel=1e-12)
    np.testing.assert_allclose(more.share_pct, base.share_pct, rtol=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.floats(-100, 100), st.sampled_from(["mid", "mean"]), st.sampled_from(["bank", "wall"]))
def test_the_tape_may_start_anywhere_and_run_either_way(
    shift: float, method: str, edges: str
) -> None:
    base = velocity_area(SECTION, method=method, edges=edges)
    there = [{**row, "distance_m": float(str(row["distance_m"])) + shift} for row in SECTION]
    for rows in (there, there[::-1]):
        found = velocity_area(rows, method=method, edges=edges)
        assert found.discharge_m3s == pytest.approx(base.discharge_m3s, rel=1e-9)
        assert found.uncertainty_pct == pytest.approx(base.uncertainty_pct, rel=1e-9)
    assert sum(base.share_pct) == pytest.approx(100.0)


def test_one_more_vertical_is_offered_beside_the_largest_panel() -> None:
    found = velocity_area(SECTION)
    assert found.next_vertical_m == pytest.approx(0.9)
    assert any("15.9 %" in flag for flag in found.flags)
    even = section(
        [0.0, *np.arange(0.05, 2.0, 0.1), 2.0], [0.0, *[0.3] * 20, 0.0], [0.0, *[0.4] * 20, 0.0]
    )
    fine = velocity_area(even)
    assert math.isnan(fine.next_vertical_m)
    assert fine.flags == ()


def test_equal_panels_give_the_simple_formula() -> None:
    # ISO 748 clause 9 form: with equal panels the shares are 1/m
    even = section(
        [0.0, *np.arange(0.05, 2.0, 0.1), 2.0], [0.0, *[0.3] * 20, 0.0], [0.0, *[0.5] * 20, 0.0]
    )
    edge_to_edge = velocity_area(even)
    simple = iso748_uncertainty_pct(
        u_s=1.0, u_m=2.5, m=20, u_b=0.5, u_d=1.0, u_p=7.5, u_c=0.5, u_e=3.0
    )
    assert edge_to_edge.uncertainty_pct == pytest.approx(simple, rel=1e-3)


def test_volumetric_uncertainty_vs_monte_carlo() -> None:
    # 4000 synthetic gaugings: the stated 95 % interval must hold the truth about that often
    rng = np.random.default_rng(748)
    true_volume, true_time, hits = 0.020, 8.0, 0
    for _ in range(2000):
        times = rng.normal(true_time, 0.12, 5) + rng.normal(0, 0.05)
        volume = true_volume * (1.0 + rng.normal(0, 0.005))
        found = volumetric(volume_m3=volume, times_s=times.tolist())
        reach = found.discharge_m3s * found.uncertainty_pct / 100.0
        hits += abs(found.discharge_m3s - true_volume / true_time) <= reach
    assert 0.93 <= hits / 2000 <= 0.99


def test_constant_rate_uncertainty_vs_monte_carlo() -> None:
    rng = np.random.default_rng(9555)
    n = 200_000
    q = 1e-5 * (1 + rng.normal(0, 0.005, n))
    c0, c1, c2 = (c * (1 + rng.normal(0, 0.005, n)) for c in (5.0, 150000.0, 25.0))
    spread = 2.0 * float(np.std(q * (c1 - c2) / (c2 - c0)))
    found = constant_rate(
        injection_m3s=1e-5, injected=150000.0, plateau=25.0, background=5.0, background_end=5.0
    )
    stated = found.discharge_m3s * found.uncertainty_pct / 100.0
    assert stated == pytest.approx(spread, rel=0.02)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.2, 5.0), st.floats(0.5, 3.0), st.floats(0.0, 400.0))
def test_dose_time_and_background_scale_a_gulp(dose: float, pace: float, base: float) -> None:
    trace = [0, 0, 15, 90, 200, 170, 100, 50, 22, 8, 2, 0, 0]
    times = [5.0 * i for i in range(13)]
    first = gulp(time_s=times, trace=trace, mass_g=500, factor=0.5)
    other = gulp(
        time_s=[t * pace for t in times],
        trace=[x + base for x in trace],
        mass_g=500 * dose,
        factor=0.5,
    )
    assert other.discharge_m3s == pytest.approx(first.discharge_m3s * dose / pace, rel=1e-9)


def test_an_exponential_tail_is_completed_to_its_whole() -> None:
    # a cloud that decays as exp(-t/20) from t = 40 on, cut at 80: what is missing is known
    times = np.arange(0.0, 81.0, 2.0)
    trace = 100.0 + np.where(times < 40, times * 5.0, 200.0 * np.exp(-(times - 40) / 20.0))
    found = gulp(time_s=times.tolist(), trace=trace.tolist(), mass_g=100, factor=0.5)
    beyond = 200.0 * math.exp(-2.0) * 20.0
    assert found.tail_complete is False
    assert found.tail_missing_pct == pytest.approx(
        100.0 * beyond / (found.integral + beyond), rel=1e-6
    )


@settings(max_examples=60, deadline=None)
@given(st.floats(0.02, 0.08), st.floats(1.0, 25.0), st.floats(1.0, 15.0), st.floats(2.0, 20.0))
def test_the_verdict_keeps_its_rules(q: float, ug: float, ur: float, tolerance: float) -> None:
    found = verdict(
        discharge_m3s=q, uncertainty_pct=ug, rating_m3s=0.045, rating_uncertainty_pct=ur,
        tolerance_pct=tolerance,
    )  # fmt: skip
    assert (found.word == "fails") == (found.e_n > 1.0 + 1e-9)
    if found.word == "agrees":
        assert ug <= tolerance + 1e-6
        assert abs(found.deviation_pct) <= tolerance + 1e-6
    if found.tolerance_word == "verified":
        assert abs(found.deviation_pct) + ug <= tolerance + 1e-6
    assert found.reason
