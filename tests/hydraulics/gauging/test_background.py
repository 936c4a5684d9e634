"""The background under a tracer cloud: before, after, drift, and how often the truth is held.

Sources: mass balance M = f Q int (C - C0) dt (ISO 9555-1, from memory; Morgenschweis 2010), its
integral by scipy; coverage by Monte Carlo over clouds made here, invented.
"""

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad, trapezoid

from app.hydraulics.gauging.dilution import Gulp, gulp
from app.hydraulics.gauging.dilution_constant import constant_rate
from app.hydraulics.gauging.verdict import verdict

MASS_G, FACTOR, BASE = 500.0, 0.5, 120.0


def cloud(t: Any) -> Any:
    x = np.maximum(t - 60.0, 0.0) / 60.0
    return x**2 * np.exp(-1.6 * x)


WHOLE = quad(cloud, 0.0, 4000.0, points=[60.0])[0]
AREA = 3285.0
TRUE = MASS_G / (FACTOR * AREA)
TIMES = np.arange(0.0, 601.0, 5.0)
CLOUD = AREA * cloud(TIMES) / WHOLE


def gauged(base: Any, noise: Any = 0.0, **typed: float) -> Gulp:
    return gulp(
        time_s=TIMES.tolist(), trace=(base + CLOUD + noise).tolist(), mass_g=MASS_G,
        factor=FACTOR, factor_uncertainty_pct=2.0, **typed,
    )  # fmt: skip


def off_pct(found: Gulp) -> float:
    return 100.0 * (found.discharge_m3s / TRUE - 1.0)


def drift_flags(found: Gulp) -> list[str]:
    return [flag for flag in found.flags if flag.startswith("background drifted")]


@pytest.mark.parametrize("typed", [False, True])
@pytest.mark.parametrize("drift_pct", [-3.0, -1.2, 0.4, 1.2, 3.0])
def test_a_straight_drift_moves_nothing_and_is_told(typed: bool, drift_pct: float) -> None:
    by = BASE * drift_pct / 100.0
    straight = BASE + by * TIMES / TIMES[-1]
    given = {"background": BASE, "background_end": BASE + by} if typed else {}
    found = gauged(straight, **given)
    assert abs(off_pct(found)) < 0.7
    assert found.background_end == pytest.approx(BASE + by, abs=0.05 * abs(by))
    # what a constant background would have done, by scipy's own trapezoids
    ignored = MASS_G / (FACTOR * float(trapezoid(straight + CLOUD - found.background, TIMES)))
    effect = 100.0 * (ignored / TRUE - 1.0)
    assert found.drift_effect_pct == pytest.approx(effect, abs=0.03 * abs(effect) + 0.1)
    (flag,) = drift_flags(found)
    assert "gauge again" in flag
    assert f"{found.drift_effect_pct:+.1f} %" in flag
    assert found.parts["drift"] > 0.5 * abs(effect)
    assert found.uncertainty_pct > gauged(np.full(len(TIMES), BASE)).uncertainty_pct


def test_a_drifting_background_no_longer_condemns_a_sound_rating() -> None:
    straight = BASE * (1.0 + 0.012 * TIMES / TIMES[-1])
    found = gauged(straight)
    said = verdict(
        discharge_m3s=found.discharge_m3s, uncertainty_pct=found.uncertainty_pct,
        rating_m3s=TRUE, rating_uncertainty_pct=3.0,
    )  # fmt: skip
    assert said.word != "fails"
    either = math.hypot(
        found.discharge_m3s * found.uncertainty_pct / 100.0, TRUE * 0.03
    )  # the widened uncertainty is the one that judges
    assert said.e_n == pytest.approx(abs(found.discharge_m3s - TRUE) / either)


def test_a_still_background_says_nothing_of_drift() -> None:
    found = gauged(np.full(len(TIMES), BASE))
    assert found.flags == ("mixing not checked: one probe",)
    assert found.parts["drift"] < 0.2
    assert found.background_after_from == "trace"


def test_an_end_that_is_not_level_is_said_and_widens() -> None:
    whole = gauged(np.full(len(TIMES), BASE))
    cut = gulp(
        time_s=TIMES[:70].tolist(), trace=(BASE + CLOUD[:70]).tolist(), mass_g=MASS_G,
        factor=FACTOR, factor_uncertainty_pct=2.0,
    )  # fmt: skip
    assert cut.background_after_from == "not read"
    assert any(flag.startswith("background after not read") for flag in cut.flags)
    assert cut.uncertainty_pct > whole.uncertainty_pct + 2.0
    before_only = gauged(np.full(len(TIMES), BASE), background=BASE)
    assert "background after not given: taken from the level end of the trace" in before_only.flags


@pytest.mark.parametrize("noise", [0.0, 0.2])
@pytest.mark.parametrize("drift_pct", [0.0, 1.2, 2.5])
@pytest.mark.parametrize("way", ["straight", "step", "bent"])
@pytest.mark.parametrize("typed", [False, True])
def test_the_stated_uncertainty_holds_the_truth(
    typed: bool, way: str, drift_pct: float, noise: float
) -> None:
    # 300 gaugings: drift random in size, dose, factor and mixing within what is stated for them
    rng = np.random.default_rng(9555)
    hits, trials = 0, 300
    for _ in range(trials):
        by = BASE * drift_pct / 100.0 * rng.normal()
        path = {
            "straight": TIMES / TIMES[-1],
            "step": (rng.uniform(0.0, TIMES[-1]) < TIMES).astype(float),
            "bent": (TIMES / TIMES[-1]) ** 2,
        }[way]
        given = {}
        if typed:
            read = rng.normal(0.0, noise, 2)
            given = {"background": BASE + read[0], "background_end": BASE + by * path[-1] + read[1]}
        found = gauged(BASE + by * path, rng.normal(0.0, noise, len(TIMES)), **given)
        dose, factor, mixing = 1.0 + rng.normal(0.0, [0.005, 0.01, 0.015])
        reach = found.uncertainty_pct / 100.0
        said = found.discharge_m3s * dose / factor * mixing
        hits += abs(said - TRUE) <= said * reach
    assert hits / trials >= 0.92  # 93 % less the scatter of 300 trials


def test_constant_rate_takes_the_background_between_both_readings() -> None:
    fed = {"injection_m3s": 1e-5, "injected": 150_000.0, "plateau": [25.0, 25.0, 25.0]}
    found = constant_rate(**fed, background=5.0, background_end=6.0)
    assert found.discharge_m3s == pytest.approx(1e-5 * (150_000 - 25) / (25 - 5.5))
    assert any(flag.startswith("background drifted from 5 to 6 (+20.0 %)") for flag in found.flags)
    still = constant_rate(**fed, background=5.0, background_end=5.0)
    assert not any("background" in flag for flag in still.flags)
    once = constant_rate(**fed, background=5.0)
    never = constant_rate(**fed)
    assert still.uncertainty_pct < once.uncertainty_pct < found.uncertainty_pct
    assert any(flag.startswith("background after not read") for flag in once.flags)
    assert any(flag.startswith("background not read") for flag in never.flags)
    assert never.uncertainty_pct > still.uncertainty_pct


def test_constant_rate_holds_the_truth_under_drift() -> None:
    rng = np.random.default_rng(18320)
    hits = 0
    for _ in range(3000):
        before, after = 5.0 + rng.normal(0.0, 0.7, 2)
        at = before + (after - before) * rng.uniform()
        plateau = at + 20.0
        read = [c * (1.0 + rng.normal(0.0, 0.005)) for c in (before, after, plateau, 150_000.0)]
        found = constant_rate(
            injection_m3s=1e-5 * (1.0 + rng.normal(0.0, 0.005)), injected=read[3],
            plateau=read[2], background=read[0], background_end=read[1],
        )  # fmt: skip
        true = 1e-5 * (150_000.0 - plateau) / 20.0
        hits += abs(found.discharge_m3s - true) <= found.discharge_m3s * found.uncertainty_pct / 100
    assert hits / 3000 >= 0.93
