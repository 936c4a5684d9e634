"""Sums and stops of an install: the phone's words for a stop against the office's."""

from functools import partial
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.install import checks, groundwork
from app.services.install.hold_points import STOP_OF
from app.services.install.stops import corner_levels, since_set, stop_view
from tests.builders.rows import entry_row
from tests.differential.harness import Phone, answered, drawn, same

NAN = float("nan")
SIZE = st.one_of(st.floats(0.05, 5.0), st.integers(1, 40).map(lambda n: n / 8))
ANY = st.one_of(SIZE, SIZE, st.sampled_from([0.0, -1.0, NAN]))
BOX = {
    "length_m": ANY,
    "width_m": ANY,
    "depth_m": ANY,
    "mass_kg": st.one_of(st.floats(0, 5000), ANY),
}
SUMS = {
    "sums_install.concreteVolume": (
        groundwork.concrete_volume_m3,
        st.fixed_dictionaries(
            {
                "parts_m3": st.dictionaries(
                    st.sampled_from(["slab", "walls", "wings"]),
                    st.one_of(SIZE, st.sampled_from([0.0, -0.1, 0.0115])),
                )
            },
            optional={
                "void_m3": st.sampled_from([0.0, 0.2, 3.0]),
                "allowance": st.sampled_from([0.0, 0.1]),
            },
        ),
    ),
    "sums_install.uplift": (
        groundwork.uplift,
        st.fixed_dictionaries(
            BOX,
            optional={
                "density_kg_m3": st.sampled_from([1000.0, 2400.0, 0.0]),
                "hold_down_kn": st.sampled_from([0.0, 10.0, -1.0]),
                "target": st.sampled_from([1.25, 1.0]),
            },
        ),
    ),
    "sums_install.wetConcreteUplift": (
        partial(groundwork.uplift, density_kg_m3=groundwork.CONCRETE_KG_M3),
        st.fixed_dictionaries(BOX, optional={"hold_down_kn": st.sampled_from([0.0, 10.0, -1.0])}),
    ),
    "sums_install.concreteToHold": (
        groundwork.concrete_to_hold_m3,
        st.fixed_dictionaries(
            {**BOX, "mass_kg": st.floats(0, 5000)},
            optional={"target": st.sampled_from([1.25, 1.3])},
        ),
    ),
    "sums_install.ballastToHold": (
        groundwork.ballast_to_hold_kg,
        st.fixed_dictionaries(
            {**BOX, "mass_kg": st.floats(0, 5000)},
            optional={"target": st.sampled_from([1.25, 1.3])},
        ),
    ),
    "sums_install.liftPressure": (groundwork.lift_pressure, st.fixed_dictionaries({"lift_m": ANY})),
    "sums_install.weightedCreep": (
        groundwork.weighted_creep,
        st.fixed_dictionaries(
            {
                "verticals_m": st.lists(SIZE, max_size=3),
                "horizontals_m": st.lists(SIZE, max_size=3),
                "head_m": ANY,
            },
            optional={"soil": st.sampled_from([None, "peat", *groundwork.CREEP_RATIOS])},
        ),
    ),
    "sums_install.practiceNotes": (
        checks.practice_notes,
        st.fixed_dictionaries(
            {},
            optional={
                name: st.one_of(
                    st.none(), st.sampled_from([0.06, 0.16, 0.1, 0.0, 0.3, 5.0, 15.0]), SIZE
                )
                for name in ("crest_above_floor_m", "tail_fall_m", "lift_fraction", "fill_time_min")
            },
        ),
    ),
}


@drawn
@given(
    asked=st.sampled_from(sorted(SUMS)).flatmap(
        lambda name: st.tuples(st.just(name), SUMS[name][1])
    )
)
def test_a_sum(phone: Phone, asked: tuple[str, dict[str, Any]]) -> None:
    name, question = asked
    office = answered(lambda: SUMS[name][0](**question))
    got = phone.ask(name, question)
    if name.endswith("ToHold"):  # a size that is not known gives no figure
        got = {key: None if value != value else value for key, value in got.items()}
    same(got, office, str(asked))


ROW = st.lists(
    st.one_of(st.none(), st.integers(-8, 8).map(lambda n: 99.0 + n / 4000), st.just(99.0)),
    min_size=3,
    max_size=4,
)


@drawn
@given(
    rows=st.one_of(
        st.lists(
            st.lists(
                st.one_of(st.none(), st.integers(-8, 8).map(lambda n: 0.4 + n / 4000)),
                min_size=3,
                max_size=3,
            ),
            max_size=4,
        ),
        st.lists(ROW, max_size=3),
    ),
    limit=st.sampled_from([0.001, 0.002, 0.0015]),
    tolerance=st.sampled_from([0.002, 0.0025]),
)
def test_stop_or_go(phone: Phone, rows, limit, tolerance) -> None:
    known = [[NAN if value is None else value for value in row] for row in rows]
    office = answered(lambda: checks.width_stop(known, limit_m=limit))
    got = phone.ask("sums_install.widthStop", {"widths_m": rows, "limit_m": limit})
    same(got, office, str(rows))
    office = answered(lambda: checks.corner_stop(known, tolerance_m=tolerance, lift_m=limit))
    question = {"corners_m": rows, "tolerance_m": tolerance, "lift_m": limit}
    same(phone.ask("sums_install.cornerStop", question), office, str(question))


MM = st.integers(-6, 6)


@st.composite
def stop_body(draw) -> dict[str, Any]:
    key = draw(st.sampled_from(sorted(STOP_OF)))
    level = st.builds(lambda mm: 2.118 + mm / 2000, MM)
    corners = draw(
        st.one_of(
            st.none(),
            st.fixed_dictionaries(
                {
                    "reference": st.just("BM1"),
                    "reference_rl_m": st.just(100.0),
                    "backsight_m": st.sampled_from([1.342, 1.4]),
                    "readings_m": st.dictionaries(
                        st.sampled_from(["corner_ul", "corner_ur", "corner_dl", "corner_dr"]), level
                    ),
                }
            ),
        )
    )
    wide = st.one_of(st.none(), st.builds(lambda mm: 0.4 + mm / 4000, MM))
    widths = st.fixed_dictionaries(dict.fromkeys(("top_m", "middle_m", "bottom_m"), wide))
    box = st.fixed_dictionaries(
        {
            "length_m": SIZE,
            "width_m": SIZE,
            "mass_kg": st.floats(0, 5000),
            "hold_down_kn": st.sampled_from([0.0, 12.0]),
            "target": st.sampled_from([1.25, 1.3]),
            "water_depth_m": st.one_of(st.none(), st.just(0.0), SIZE),
            "concrete_depth_m": st.one_of(st.none(), SIZE),
        }
    )
    concrete = st.fixed_dictionaries(
        {
            "parts_m3": st.dictionaries(st.sampled_from(["slab_m3", "walls_m3"]), SIZE, min_size=1),
            "void_m3": st.sampled_from([0.0, 0.3]),
        }
    )
    creep = st.fixed_dictionaries(
        {
            "verticals_m": st.lists(SIZE, max_size=2),
            "horizontals_m": st.lists(SIZE, max_size=2),
            "head_m": st.one_of(SIZE, st.just(0.0)),
            "soil": st.sampled_from([None, "fine gravel", "soft clay"]),
        }
    )
    asks = [name for name, _ in STOP_OF[key].asks]
    return {
        "stop": key,
        "moment": "",
        "corners": corners,
        "corner_tolerance_m": draw(st.sampled_from([0.002, 0.003])),
        "widths": draw(st.one_of(st.none(), widths)),
        "width_limit_m": draw(st.sampled_from([0.001, 0.0005])),
        "seen": draw(
            st.dictionaries(st.sampled_from(asks), st.sampled_from(["yes", "no"]), max_size=2)
        ),
        "lift_m": draw(st.one_of(st.none(), SIZE)),
        "base_height_m": draw(st.one_of(st.none(), SIZE)),
        "box": draw(st.one_of(st.none(), box)),
        "concrete": draw(st.one_of(st.none(), concrete)),
        "creep": draw(st.one_of(st.none(), creep)),
        "tail": draw(
            st.one_of(st.none(), st.fixed_dictionaries({"fall_m": st.one_of(st.none(), SIZE)}))
        ),
    }


@drawn
@given(bodies=st.lists(stop_body(), min_size=1, max_size=4))
def test_a_stop_has_the_offices_word(phone: Phone, bodies: list[dict[str, Any]]) -> None:
    body, earlier = bodies[-1], bodies[:-1]
    stop = STOP_OF[body["stop"]]
    office = stop_view(entry_row("install_stop", body), earlier)
    told = {"key": stop.key, "asks": [{"key": key, "text": text} for key, text in stop.asks]}
    got = phone.ask("install_entry.checkStop", body, earlier, told)["result"]
    where = str(bodies)
    assert got["word"] == office.word, where
    assert got["reasons"] == [list(each) for each in office.reasons], where
    wanted = {
        "corners": office.corners_m,
        "water": office.water,
        "wet": office.wet_concrete,
        "hold_m3": office.concrete_to_hold_m3,
        "ballast_kg": office.ballast_to_hold_kg,
        "lift": office.lift,
        "concrete": office.concrete,
        "creep": office.creep,
        "practice": list(office.practice),
    }
    same({key: got[key] for key in wanted}, answered(lambda: wanted)["result"], where)


@drawn
@given(bodies=st.lists(stop_body(), max_size=4))
def test_rows_since_the_setting(phone: Phone, bodies: list[dict[str, Any]]) -> None:
    for part in ("corners", "widths"):
        office = answered(partial(since_set, bodies, part))
        same(
            phone.ask("sums_install.sinceSet", {"bodies": bodies, "part": part}),
            office,
            str(bodies),
        )
    for body in bodies:
        same(phone.ask("sums_install.cornerLevels", body)["result"], corner_levels(body), str(body))
