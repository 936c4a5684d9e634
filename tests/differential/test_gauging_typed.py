"""Check gaugings as typed on the phone, through to the verdict, against the office's own road."""

from datetime import UTC, datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.services.gaugings.work import worked
from tests.differential.harness import Phone, answered, drawn, same

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
# blanks, commas, signs, figures with two meanings and none: as boxes hand them on, trimmed
ODD = ["", "0", "-1", "x", "1,5", "1.250", "1,500", "12 000", "1e-3", "−0.2", ".5", "5.", "1e16"]


def texts(low: float, high: float, places: int = 2) -> st.SearchStrategy[str]:
    sound = st.floats(low, high).map(lambda v: f"{v:.{places}f}")
    return st.one_of(
        sound, sound, sound, sound.map(lambda t: t.replace(".", ",")), st.sampled_from(ODD)
    )


def maybe(text: st.SearchStrategy[str]) -> st.SearchStrategy[str | None]:
    return st.one_of(st.none(), text)


PCT = texts(0.0, 20.0, 1)
POINT = st.one_of(
    st.builds(lambda v: {"velocity_ms": v, "counts": None, "seconds": None}, texts(0.0, 2.0)),
    st.builds(
        lambda c, s: {"velocity_ms": None, "counts": c, "seconds": s},
        texts(0, 200, 0),
        maybe(texts(20, 70, 0)),
    ),
)
POINTS = st.sampled_from([("v06",), ("v06",), ("v02", "v08"), ("v02", "v06", "v08"), ()]).flatmap(
    lambda keys: st.fixed_dictionaries(dict.fromkeys(keys, POINT))
)


@st.composite
def section(draw) -> dict[str, Any]:
    count = draw(st.integers(2, 7))
    verticals = [
        {
            "distance_m": draw(st.sampled_from([f"{0.3 * i:.1f}"] * 9 + ODD)),
            "depth_m": "0" if i in (0, count - 1) else draw(texts(0.05, 1.0)),
            "points": {} if i in (0, count - 1) and draw(st.booleans()) else draw(POINTS),
        }
        for i in range(count)
    ]
    return {
        "method": "velocity_area",
        "section": draw(st.sampled_from(["mid", "mean"])),
        "edges": [draw(st.sampled_from(["bank", "wall"])) for _ in range(2)],
        "meter_pieces": draw(
            st.sampled_from(
                [[], [["0", "0,25", "0.02"], ["1.5", "0.26", "0.005"]], [["0", "", "0"]]]
            )
        ),
        "verticals": verticals,
        "components": draw(
            st.sampled_from(
                [
                    None,
                    {"systematic_pct": "2"},
                    {"meter": [["0.1", "5"], ["0,5", "1,5"]]},
                    {"systematic_pct": [["1", "2"]]},
                    {"exposure": "3"},
                    {"luck_pct": "1"},
                ]
            )
        ),
    }


FILLS = st.fixed_dictionaries(
    {
        "method": st.just("volumetric"),
        "fills": st.lists(
            st.fixed_dictionaries({"volume_l": texts(5, 80, 1), "time_s": texts(2, 60, 1)}),
            max_size=6,
        ),
        "volume_uncertainty_pct": maybe(PCT),
        "timer_uncertainty_s": maybe(texts(0, 1, 1)),
    }
)
FLOATS = st.fixed_dictionaries(
    {
        "method": st.just("float"),
        "distance_m": texts(2, 30, 1),
        "width_m": texts(0.2, 3),
        "times_s": st.lists(texts(5, 60, 1), max_size=4),
        "depths_m": st.lists(texts(0.1, 0.8), max_size=3),
        "factor": maybe(texts(0.7, 1.0)),
        "uncertainty_pct": maybe(PCT),
    }
)
CONSTANT = st.fixed_dictionaries(
    {
        "method": st.just("dilution_constant"),
        "injection_ml_s": texts(5, 50, 1),
        "injected": texts(5000, 200000, 0),
        "plateau": st.lists(texts(15, 40, 1), max_size=5),
        "background": maybe(texts(0, 10, 1)),
        "background_end": maybe(texts(0, 10, 1)),
        "unit": st.just("mg/L"),
        "injection_uncertainty_pct": maybe(PCT),
        "concentration_uncertainty_pct": maybe(PCT),
    }
)
TRACE = [
    120,
    120,
    121,
    119,
    120,
    135,
    210,
    320,
    290,
    220,
    170,
    142,
    128,
    122,
    120,
    120,
    121,
    120,
    119,
]


@st.composite
def gulp(draw) -> dict[str, Any]:
    kept = draw(st.integers(3, len(TRACE)))
    trace = [each + draw(st.sampled_from([0, 0, 0, 1, -1])) for each in TRACE[:kept]]
    points = draw(
        st.lists(
            st.fixed_dictionaries(
                {"concentration_mg_l": texts(0, 60, 0), "conductivity_us_cm": texts(80, 200, 0)}
            ),
            max_size=4,
        )
    )
    return {
        "method": "dilution_gulp",
        "mass_g": draw(st.sampled_from([None, "500", "1,500", "0", "2 000"])),
        "volume_l": draw(st.sampled_from([None, "5", "2,5"])),
        "concentration_g_l": draw(st.sampled_from([None, "200", "1.250"])),
        "time_s": [5.0 * i for i in range(kept)],
        "conductivity_us_cm": [float(each) for each in trace],
        "second_us_cm": draw(st.sampled_from([None, [float(each) - 2 for each in trace]])),
        "trace_text": "",
        "trace_from": "typed",
        "file_name": None,
        "background_us_cm": draw(maybe(texts(118, 122, 1))),
        "background_end_us_cm": draw(maybe(texts(118, 126, 1))),
        "calibration": draw(st.sampled_from([[], points])),
        "factor_mg_l_per_us_cm": draw(maybe(texts(0.4, 0.6))),
        "factor_uncertainty_pct": draw(maybe(PCT)),
        "dose_uncertainty_pct": draw(maybe(PCT)),
    }


OWN_TABLE: st.SearchStrategy[dict[str, Any]] = st.fixed_dictionaries(
    {
        "method": st.just("portable"),
        "device": st.none(),
        "heads_mm": st.just([]),
        "head_uncertainty_mm": st.none(),
        "free_seen": st.booleans(),
        "described": st.just("a plate"),
        "discharge_l_s": maybe(texts(0, 40, 1)),
        "uncertainty_pct": maybe(PCT),
    }
)


@drawn
@given(observed=st.one_of(section(), section(), FILLS, FLOATS, CONSTANT, gulp(), OWN_TABLE))
def test_a_gauging_as_typed(phone: Phone, observed: dict[str, Any]) -> None:
    office = answered(lambda: worked(observed))
    same(phone.ask("gauging_methods.worked", observed), office, str(observed), 1e-7)
