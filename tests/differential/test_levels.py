"""The level book: reduced, closed and read alike; what it says of the crest; the two-peg test."""

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.levelling.benchmarks import moved_marks
from app.hydraulics.levelling.book import mark_name
from app.hydraulics.levelling.reduce import misclosure_limit_mm, reduce_run
from app.hydraulics.levelling.results import crest_results, results_of_run, two_peg
from tests.differential.harness import Phone, answered, drawn, same

MM = st.integers(-500, 4500).map(lambda mm: mm / 1000)
READING: st.SearchStrategy[Any] = st.one_of(
    MM,
    MM,
    MM,
    MM.map(lambda v: f"{v:.3f}"),
    MM.map(lambda v: f"{v:.3f}".replace(".", ",")),
    st.sampled_from(["", None, "x", "15.3x", 0, 9.9, 10.0, 10.001, 33, -10.5, "1,5", " "]),
)
POINT = st.sampled_from(["BM1", "BM1 (close)", "TP1", "TP2", "crest", "crest (Again)", "tail", " "])
LENGTH: st.SearchStrategy[Any] = st.one_of(
    st.floats(1.0, 80.0),
    st.integers(1, 300).map(lambda n: n / 4),
    st.sampled_from(["", None, "30", "far", 0, 301, "12,5"]),
)
RULE = st.sampled_from(["setups", "distance", "ordinary", "fixed"])


@st.composite
def sound(draw) -> list[dict[str, Any]]:
    """Rows of a run in order: it may close or stay open, in one row or two a turning point."""
    rows: list[dict[str, Any]] = []
    point = "BM1"
    lengths = draw(st.booleans())
    turns = draw(st.integers(1, 3))
    for turn in range(turns):
        rows.append({"point": point, "bs": draw(MM)})
        for k in range(draw(st.integers(0, 2))):
            rows.append({"point": draw(st.sampled_from(["crest", f"p{turn}{k}"])), "is": draw(MM)})
        point = "BM1 (close)" if turn == turns - 1 and draw(st.booleans()) else f"TP{turn + 1}"
        if turn < turns - 1 or draw(st.booleans()):
            rows.append({"point": point, "fs": draw(MM)})
    for number, row in enumerate(rows):
        if lengths:
            row["distance_m"] = draw(LENGTH if number % 7 == 6 else st.floats(1.0, 80.0))
    return rows


MESSY = st.lists(
    st.fixed_dictionaries(
        {"point": POINT},
        optional={
            "bs": READING,
            "is": READING,
            "fs": READING,
            "setup": st.sampled_from(["", 1, 2, "2"]),
            "distance_m": LENGTH,
            "fs_distance_m": LENGTH,
            "bs_distance_m": LENGTH,
        },
    ),
    max_size=5,
)


@st.composite
def spoilt(draw) -> list[dict[str, Any]]:
    """A sound run with one cell changed."""
    rows = draw(sound())
    row, key = draw(st.sampled_from(rows)), draw(st.sampled_from(["bs", "is", "fs", "distance_m"]))
    row[key] = draw(READING)
    row |= draw(st.sampled_from([{}, {}, {"point": ""}, {"point": "TP1"}, {"setup": "2"}]))
    return rows


RUN = st.fixed_dictionaries(
    {
        "rows": st.one_of(sound(), sound(), spoilt(), MESSY),
        "start_rl": st.sampled_from([100.0, 0, "50,5", "49.223", -3.25, "high", 1e16, "1.000"]),
    },
    optional={
        "close_rl": st.sampled_from([None, 100.0, 99.998, "100,002", "x", 0.0]),
        "unit": st.sampled_from(["m", "m", "ft", "yd"]),
        "rule": RULE,
        "distance_km": st.sampled_from([None, 0.09, 0.25, 0.0625, 0, -1.0]),
        "limit_mm": st.sampled_from([None, 0.5, 3.0, 0, -2.0]),
    },
)


@drawn
@given(run=RUN)
def test_a_run_is_reduced_or_refused_alike(phone: Phone, run: dict[str, Any]) -> None:
    office = answered(lambda: reduce_run(**run))
    same(phone.ask("sums_levels.reduceRun", run), office, str(run))


@drawn
@given(run=RUN, adjusted=st.booleans())
def test_points_have_the_same_levels(phone: Phone, run: dict[str, Any], adjusted: bool) -> None:
    office = answered(
        lambda: {
            name: level.as_dict()
            for name, level in reduce_run(**run).point_levels(adjusted).items()
        }
    )
    same(phone.ask("point_levels", {"run": run, "adjusted": adjusted}), office, str(run))


LEVEL = st.integers(-40, 400).map(lambda mm: 99.0 + mm / 1000)
MAYBE = st.one_of(st.none(), LEVEL)
OPTIONS = {
    "corner_tolerance_m": st.sampled_from([0.002, 0.0025, 0.01, 0, -0.1, 1e-7]),
    "exponent": st.sampled_from([1.5, 1.522, 2.5]),
    "low_head_m": st.sampled_from([0.1, 0.05, 0, -1.0]),
}


@drawn
@given(
    question=st.fixed_dictionaries(
        {"corners_m": st.lists(LEVEL, max_size=5)},
        optional={
            **OPTIONS,
            "floor_rl_m": MAYBE,
            "staff_mark_rl_m": MAYBE,
            "staff_mark_m": st.one_of(st.none(), MM),
            "sensor_rl_m": MAYBE,
            "water_rl_m": MAYBE,
            "tail_floor_rl_m": MAYBE,
            "tail_water_rl_m": MAYBE,
        },
    )
)
def test_the_crest_is_told_alike(phone: Phone, question: dict[str, Any]) -> None:
    office = answered(lambda: crest_results(**question))
    same(phone.ask("sums_crest.crestResults", question), office, str(question))


@drawn
@given(
    run=RUN,
    corners=st.one_of(
        st.lists(st.sampled_from(["crest", "p00", "p01", "TP1", "BM1", "moon"]), max_size=4),
        st.sampled_from(["crest", "moon"]),
    ),
    roles=st.dictionaries(
        st.sampled_from(["floor", "staff_mark", "water", "tail_water", "sensor", "roof"]),
        st.sampled_from(["crest", "TP1", "BM1 (close)", "moon", "p00"]),
        max_size=3,
    ),
    adjusted=st.booleans(),
    mark=st.one_of(st.none(), MM),
)
def test_a_run_says_the_same_of_the_crest(
    phone: Phone, run, corners, roles, adjusted, mark
) -> None:
    rest = {"roles": {"corners": corners, **roles}, "adjusted": adjusted, "staff_mark_m": mark}
    office = answered(lambda: results_of_run(reduce_run(**run), **rest))
    same(phone.ask("results_of_run", {"run": run, **rest}), office, f"{run} {rest}")


@drawn
@given(
    sights=st.lists(MM, min_size=4, max_size=4),
    distances=st.lists(st.one_of(st.floats(0.0, 60.0), st.just(20.0)), min_size=4, max_size=4),
    whole=st.booleans(),
)
def test_a_level_is_tried_alike(phone: Phone, sights, distances, whole) -> None:
    names = ("middle_a_m", "middle_b_m", "end_a_m", "end_b_m")
    lengths = ("end_distance_a_m", "end_distance_b_m", "middle_distance_a_m", "middle_distance_b_m")
    question = dict(zip(names, sights, strict=True))
    question |= dict(list(zip(lengths, distances, strict=True))[: 4 if whole else 2])
    same(
        phone.ask("sums_crest.twoPeg", question),
        answered(lambda: two_peg(**question)),
        str(question),
    )


@drawn
@given(
    rule=st.sampled_from(["setups", "distance", "ordinary", "fixed", "guess"]),
    setups=st.integers(1, 60),
    distance=st.one_of(st.none(), st.floats(-1, 5), st.just(float("nan"))),
    limit=st.one_of(st.none(), st.floats(-1, 20), st.just(0)),
)
def test_the_limit_of_a_misclosure(phone: Phone, rule, setups, distance, limit) -> None:
    question = {"rule": rule, "setups": setups, "distance_km": distance, "limit_mm": limit}
    office = answered(lambda: misclosure_limit_mm(**question))
    same(phone.ask("sums_levels.misclosureLimitMm", question), office, str(question))


# as a person can type it: of signs that nobody sees the two languages call other ones blank
WRITTEN = st.text(st.characters(exclude_categories=["Cc", "Cf", "Cs"]), max_size=12)


@drawn
@given(
    name=st.one_of(POINT, WRITTEN, st.sampled_from(["a (again) (close)", "(close)", "x(CHECK) "]))
)
def test_a_mark_keeps_its_name(phone: Phone, name: str) -> None:
    assert phone.ask("sums_levels.markName", name)["result"] == mark_name(name)


@drawn
@given(
    history=st.lists(
        st.dictionaries(
            st.sampled_from(["A", "B", "C", "D"]),
            st.one_of(LEVEL, st.integers(0, 12).map(lambda n: n / 2000)),
            max_size=4,
        ),
        max_size=4,
    ),
    tolerance=st.sampled_from([0.003, 0.001, 0.0]),
)
def test_the_same_marks_have_moved(phone: Phone, history, tolerance) -> None:
    question = {"history": history, "tolerance_m": tolerance}
    office = answered(lambda: moved_marks(**question))
    same(phone.ask("levels_marks.movedMarks", question), office, str(question))
