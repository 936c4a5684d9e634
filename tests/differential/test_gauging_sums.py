"""Check gaugings in figures: section, meter, vessel, float, head meanwhile, verdict."""

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.gauging import verdict as gaugings
from app.hydraulics.gauging.current_meter import mean_velocity, meter_velocity
from app.hydraulics.gauging.section_uncertainty import COMPONENTS, component_pct
from app.hydraulics.gauging.velocity_area import velocity_area
from tests.differential.harness import Phone, answered, drawn, same

NAN, INF = float("nan"), float("inf")


def eighths(low: int, high: int) -> st.SearchStrategy[float]:
    """Give figures that hit ties of rounding exactly."""
    return st.integers(low * 8, high * 8).map(lambda n: n / 8)


POSITIVE = st.one_of(st.floats(1e-3, 500.0), eighths(1, 60))
ANY = st.one_of(POSITIVE, st.sampled_from([0.0, -1.0, NAN, INF, -INF, 1e-12, 1e12]))
PCT = st.one_of(st.floats(0.1, 60.0), eighths(1, 40))


@drawn
@given(
    times=st.lists(st.one_of(POSITIVE, POSITIVE, ANY), max_size=7),
    volume=st.one_of(ANY, st.lists(POSITIVE, max_size=7)),
    same_count=st.booleans(),
    more=st.fixed_dictionaries(
        {}, optional={"volume_uncertainty_pct": PCT, "timer_uncertainty_s": st.floats(0.0, 1.0)}
    ),
)
def test_fills(phone: Phone, times, volume, same_count, more) -> None:
    if same_count and isinstance(volume, list):
        volume = (volume * 7)[: len(times)]
    question = {"volume_m3": volume, "times_s": times, **more}
    office = answered(lambda: gaugings.volumetric(**question))
    same(phone.ask("sums_gaugings.volumetric", question), office, str(question), 1e-7)


@drawn
@given(
    question=st.fixed_dictionaries(
        {
            "distance_m": ANY,
            "times_s": st.lists(st.one_of(POSITIVE, ANY), max_size=5),
            "area_m2": ANY,
        },
        optional={
            "factor": st.sampled_from([0.85, 0.9, 1.0, 0.0, 1.01, -1.0, NAN]),
            "uncertainty_pct": PCT,
        },
    )
)
def test_floats(phone: Phone, question: dict[str, Any]) -> None:
    office = answered(lambda: gaugings.float_gauging(**question))
    same(phone.ask("sums_gaugings.floatGauging", question), office, str(question))


@drawn
@given(discharge=ANY, pct=ANY)
def test_a_known_discharge(phone: Phone, discharge: float, pct: float) -> None:
    question = {"method": "plate", "discharge_m3s": discharge, "uncertainty_pct": pct}
    office = answered(lambda: gaugings.known_gauging(**question))
    same(phone.ask("sums_gaugings.knownGauging", question), office, str(question))


@drawn
@given(
    heads=st.lists(st.one_of(eighths(1, 3), st.floats(0.01, 2.0), ANY), max_size=6),
    times=st.one_of(
        st.none(),
        st.lists(st.integers(0, 50).map(float), max_size=6),
        st.lists(st.integers(0, 50).map(float), max_size=6, unique=True).map(sorted),
    ),
    limit=st.sampled_from([2.0, 0.0, 12.5, 1e-7]),
)
def test_the_head_meanwhile(phone: Phone, heads, times, limit) -> None:
    question = {"heads_m": heads, "times_s": times, "limit_pct": limit}
    office = answered(lambda: gaugings.mean_head(**question))
    same(phone.ask("sums_gaugings.meanHead", question), office, str(question))


@drawn
@given(values=st.lists(st.one_of(st.floats(-1e3, 1e3), ANY), max_size=6))
def test_a_mean_and_its_error(phone: Phone, values: list[float]) -> None:
    office = answered(lambda: gaugings.mean_and_error(values))
    got = phone.ask("sums_statistics.meanAndError", values)
    # an error of nothing but rounding is no figure: both are nought to the twelfth of the values
    if "result" in got and (got["result"]["standard_error"] or 0) < 1e-12 * max(map(abs, values)):
        got["result"]["standard_error"] = office["result"]["standard_error"]
    same(got, office, str(values), 1e-7)


@drawn
@given(
    discharge=st.one_of(st.floats(1e-3, 2.0), eighths(0, 2), ANY),
    pct=st.one_of(PCT, ANY),
    rating=st.one_of(st.none(), st.floats(1e-3, 2.0), eighths(0, 2), ANY),
    near=st.booleans(),
    ratio=st.one_of(
        st.floats(0.7, 1.3), eighths(0, 2), st.integers(80, 120).map(lambda n: n / 100)
    ),
    rating_pct=st.one_of(st.none(), PCT, st.just(0.0)),
    tolerance=st.sampled_from([10.0, 5.0, 12.5, 2.25, 7.123456, 1e-5]),
    indication=st.booleans(),
)
def test_the_verdict(
    phone: Phone, discharge, pct, rating, near, ratio, rating_pct, tolerance, indication
) -> None:
    if near and rating and discharge:
        rating = discharge * ratio
    question = {
        "discharge_m3s": discharge,
        "uncertainty_pct": pct,
        "rating_m3s": rating,
        "rating_uncertainty_pct": rating_pct,
        "tolerance_pct": tolerance,
        "indication_only": indication,
    }
    office = answered(lambda: gaugings.verdict(**question))
    same(phone.ask("sums_gaugings.verdict", question), office, str(question), 1e-6)


SPEED = st.one_of(st.floats(-0.2, 2.0), eighths(0, 2), st.just(0.0))
FIGURE: st.SearchStrategy[Any] = st.one_of(
    SPEED, SPEED, st.sampled_from(["", None, "0,25", "1.251", "x", 1e16, "0.3"])
)
COLUMNS = st.sampled_from([("v",), ("v06",), ("v02", "v08"), ("v02", "v06", "v08"), (), ("v02",)])


@st.composite
def vertical(draw, distance: Any) -> dict[str, Any]:
    depth = draw(st.one_of(st.floats(0.0, 1.2), eighths(0, 1), st.sampled_from([0.0, "0,3"])))
    row: dict[str, Any] = {"distance_m": distance, "depth_m": depth}
    for key in draw(COLUMNS):
        row[key] = draw(st.one_of(SPEED, SPEED, SPEED, FIGURE))
    if draw(st.integers(0, 6)) == 0:
        row["points"] = draw(st.sampled_from([1, 2, 5, 0, "3", "x", 0.5, None, ""]))
    if draw(st.integers(0, 12)) == 0:
        row[draw(st.sampled_from(["distance_m", "depth_m"]))] = draw(FIGURE)
    return row


@st.composite
def section(draw) -> list[dict[str, Any]]:
    count = draw(st.integers(1, 9))
    if draw(st.booleans()):
        places = [0.25 * i for i in range(count)]
    else:
        places = sorted(draw(st.lists(st.floats(-5, 20), min_size=count, max_size=count)))
    if draw(st.integers(0, 4)) == 0:
        places = places[::-1]
    return [draw(vertical(place)) for place in places]


@drawn
@given(
    verticals=section(),
    method=st.sampled_from(["mid", "mean", "best"]),
    edges=st.sampled_from(
        ["bank", "wall", ["bank", "wall"], ["wall", "bank"], "soft", [], ["wall"]]
    ),
    components=st.sampled_from(
        [
            None,
            {},
            {"systematic_pct": 2.5},
            {"exposure": [[0.1, 6]]},
            {"luck_pct": 1},
            {"meter": [[0.1, 5.0], [0.5, 1.5]], "points": [[1, 8]]},
        ]
    ),
)
def test_a_section(phone: Phone, verticals, method, edges, components) -> None:
    question = {"verticals": verticals, "method": method, "edges": edges, "components": components}
    office = answered(lambda: velocity_area(**question))
    got = phone.ask("sums_gaugings.velocityArea", question)
    same(got, office, str(question))


@drawn
@given(row=st.dictionaries(st.sampled_from(["v", "v02", "v06", "v08", "points"]), FIGURE))
def test_the_velocity_of_a_vertical(phone: Phone, row: dict[str, Any]) -> None:
    office = answered(lambda: mean_velocity(row))
    same(phone.ask("mean_velocity", row), office, str(row))


@drawn
@given(
    counts=st.one_of(st.integers(-2, 400), st.floats(0, 400)),
    seconds=st.one_of(st.integers(0, 120), st.floats(0.01, 200), st.sampled_from([NAN, -5.0])),
    pieces=st.lists(
        st.tuples(
            st.sampled_from([0.0, 0.5, 1.0, 1.0, 2.0]), st.floats(0.1, 0.4), st.floats(-0.01, 0.05)
        ).map(list),
        max_size=4,
    ),
)
def test_a_meter(phone: Phone, counts, seconds, pieces) -> None:
    question = {"counts": counts, "seconds": seconds, "pieces": pieces}
    office = answered(lambda: meter_velocity(**question))
    same(phone.ask("sums_gaugings.meterVelocity", question), office, str(question))


TABLES = [table for table in COMPONENTS.values() if isinstance(table, list)]


@drawn
@given(table=st.sampled_from(TABLES), value=st.one_of(st.floats(-1, 60), st.integers(0, 50)))
def test_a_component(phone: Phone, table, value) -> None:
    same(
        phone.ask("sums_velocity_area.componentPct", table, value)["result"],
        component_pct(table, value),
    )
