"""Tracers in figures: a gulp, its background, a constant rate, the calibration, salt to bring."""

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.gauging import background, dilution, dilution_constant, tracer
from tests.differential.harness import Phone, answered, drawn, same
from tests.differential.test_gauging_sums import ANY, INF, NAN, PCT, POSITIVE


@st.composite
def cloud(draw) -> dict[str, Any]:
    """A trace: quiet, a cloud that rises and dies away, an end that is level, drifts or is cut."""
    before, rise, fall, after = (draw(st.integers(0, n)) for n in (7, 4, 8, 9))
    base = draw(st.sampled_from([120.0, 85.0, 2.0, 0.0, 1000.0]))
    top = draw(st.sampled_from([200.0, 10.0, 3.0, 50.5]))
    shape = [0.0] * before + [(k + 1) / (rise + 1) for k in range(rise)] + [1.0]
    shape += [0.6 ** (k + 1) for k in range(fall)] + [0.0] * after
    drift = draw(st.sampled_from([0.0, 0.0, 0.5, 4.0, -4.0, 40.0]))
    jitter = st.sampled_from([0.0, 0.25, -0.25, 0.5, -1.0]) if draw(st.booleans()) else st.just(0.0)
    count = max(len(shape) - 1, 1)
    trace = [base + top * s + drift * i / count + draw(jitter) for i, s in enumerate(shape)]
    if draw(st.booleans()):
        trace = [round(value) for value in trace]
    step = draw(st.sampled_from([5.0, 1.0, 0.5]))
    times = [step * i for i in range(len(trace))]
    fault = draw(st.integers(0, 30))
    if fault == 0:
        trace = trace[:-1]
    elif fault == 1 and len(times) > 2:
        times[2] = times[1]
    elif fault == 2:
        trace[0] = draw(st.sampled_from([NAN, INF]))
    return {"time_s": times, "trace": trace}


GULP = st.fixed_dictionaries(
    {},
    optional={
        "kind": st.sampled_from(["conductivity", "concentration", "colour"]),
        "mass_g": st.sampled_from([500.0, 200.0, 0.0, None, NAN]),
        "volume_l": st.sampled_from([5.0, None, -1.0]),
        "concentration_mg_l": st.sampled_from([200000.0, None, 0.0]),
        "factor": st.sampled_from([0.5, None, -1.0]),
        "factor_uncertainty_pct": st.sampled_from([1.0, None, 0.0]),
        "background": st.sampled_from([None, None, 120.0, 84.5, 0.0, 2.0, 400.0]),
        "background_end": st.sampled_from([None, None, 120.0, 121.5, 85.0, 1.0, 500.0]),
        "dose_uncertainty_pct": st.sampled_from([1.0, 0.0, 2.5]),
    },
)


@drawn
@given(trace=cloud(), more=GULP, second=st.one_of(st.none(), st.floats(0.7, 1.4)))
def test_a_gulp(phone: Phone, trace, more, second) -> None:
    question = {"mass_g": 500.0, **trace, **more}
    if second is not None:
        low = min(trace["trace"], default=0.0)
        question["second_trace"] = [low + (each - low) * second for each in trace["trace"]]
    office = answered(lambda: dilution.gulp(**question))
    same(phone.ask("sums_gaugings.gulp", question), office, str(question), 1e-7)


@drawn
@given(
    trace=cloud(),
    before=st.sampled_from([None, 120.0, 85.0, 0.0]),
    after=st.sampled_from([None, 120.0, 86.0, 0.0]),
)
def test_a_background(phone: Phone, trace, before, after) -> None:
    times, values = trace["time_s"], trace["trace"]

    def office() -> dict[str, Any]:
        found = background.above_background("trace", np.array(times), values, before, after)
        return dict(vars(found))

    got = phone.ask("sums_background.aboveBackground", "trace", times, values, before, after)
    same(got, answered(office), str(trace), 1e-7)


@drawn
@given(
    question=st.fixed_dictionaries(
        {
            "injection_m3s": st.sampled_from([1e-5, 2e-5, 0.0, -1.0, NAN]),
            "injected": st.one_of(st.sampled_from([150000.0, 2e6, 20.0]), POSITIVE),
            "plateau": st.one_of(
                POSITIVE,
                st.lists(POSITIVE, max_size=5),
                st.lists(st.sampled_from([24.0, 24.25, 25.0, 25.125]), max_size=5),
            ),
        },
        optional={
            "background": st.sampled_from([None, 5.0, 0.0, 2.125, -1.0, 24.0, 1e-5]),
            "background_end": st.sampled_from([None, 5.0, 0.0, 4.5, -1.0, 30.0]),
            "injection_uncertainty_pct": PCT,
            "concentration_uncertainty_pct": PCT,
        },
    )
)
def test_a_constant_rate(phone: Phone, question: dict[str, Any]) -> None:
    office = answered(lambda: dilution_constant.constant_rate(**question))
    same(phone.ask("sums_gaugings.constantRate", question), office, str(question), 1e-7)


@drawn
@given(
    salt=st.lists(st.integers(0, 100).map(float), max_size=6),
    slope=st.sampled_from([0.5, 0.486, -0.3, 0.0]),
    jitter=st.lists(st.integers(-3, 3), min_size=6, max_size=6),
    uneven=st.integers(0, 8),
)
def test_a_calibration(phone: Phone, salt, slope, jitter, uneven) -> None:
    ec = [80.0 + c / (slope or 1e9) + j for c, j in zip(salt, jitter, strict=False)]
    question = {"concentration_mg_l": salt, "conductivity_us_cm": ec[1:] if uneven == 0 else ec}
    office = answered(lambda: tracer.calibration_factor(**question))
    same(phone.ask("sums_gaugings.calibrationFactor", question), office, str(question), 1e-6)


@drawn
@given(discharge=ANY)
def test_salt_to_have_ready(phone: Phone, discharge: float) -> None:
    question = {"discharge_m3s": discharge}
    office = answered(lambda: tracer.salt_mass_kg(discharge))
    same(phone.ask("sums_gaugings.saltMassKg", question), office, str(question))
