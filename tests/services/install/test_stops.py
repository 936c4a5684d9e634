"""Install stops: change since the last stop, stop or go, sums; openings of the gate.

Statics and hydrostatics are worked by hand for an invented box; widths 1 mm and corners 2 mm are
common practice.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import Session

from app.language.trade import CORNERS
from app.records.people import Person
from app.records.sites import Structure
from app.services.install import stops as install_stops
from app.services.install.hold_points import CAUTIONS, STOPS
from app.services.install.openings import openings
from tests.builders.survey_entries import an_entry
from tests.conftest import BEGIN, iso, send
from tests.vectors.harness import cases

AT = BEGIN + timedelta(days=100)


@pytest.fixture
def crew(a_person: Callable[..., Person]) -> Person:
    return a_person("Crew")


@pytest.fixture
def structure(a_site: Callable[..., Structure]) -> Structure:
    return a_site(zeroed=False)


Record = Callable[..., install_stops.StopView]


@pytest.fixture
def record(session: Session, crew: Person, structure: Structure) -> Record:
    """Send one stop and return how the server sees it; each an hour after the last."""
    count = 0

    def build(stop: str, **body: Any) -> install_stops.StopView:
        nonlocal count
        count += 1
        at = AT + timedelta(hours=count)
        entry = an_entry("install_stop", structure, crew, {"stop": stop, **body}, at)
        receipt = send(session, crew, entry)[0]
        assert receipt.state == "stored", receipt.error
        return install_stops.stops(session, structure.id or 0)[-1]

    return build


def corners(backsight: float, *readings: float) -> dict[str, Any]:
    return {
        "reference": "BM1",
        "reference_rl_m": 100.0,
        "backsight_m": backsight,
        "readings_m": dict(zip(CORNERS, readings, strict=True)),
    }


SET = corners(1.342, 2.118, 2.119, 2.117, 2.118)


def test_the_box_that_lifts_stops_the_pour(record: Record) -> None:
    assert record("S2", corners=SET).word == "go"
    # another height of instrument, nothing moved
    assert (
        record("S5", moment="before", corners=corners(1.4, 2.176, 2.177, 2.175, 2.176)).word == "go"
    )
    lifted = record("S5", moment="after", corners=corners(1.4, 2.172, 2.173, 2.171, 2.172))
    assert lifted.word == "stop"
    assert lifted.corner_check is not None
    assert lifted.corner_check.change_m.tolist() == pytest.approx([0.004] * 4)
    assert "4.0 mm" in lifted.corner_check.reason


def test_what_is_moved_on_purpose_before_it_is_set_is_no_movement(record: Record) -> None:
    record("S2", corners=corners(1.342, 2.100, 2.119, 2.117, 2.118))
    assert record("S2", corners=SET).word == "go"


def test_out_of_level_stops_at_once(record: Record) -> None:
    view = record("S2", corners=corners(1.342, 2.118, 2.119, 2.117, 2.120))
    assert (view.word, view.reasons[0][1]) == (
        "stop",
        "corners out of level by 3.0 mm, allowed 2 mm",
    )


def test_bowed_walls_stop_the_backfill(record: Record) -> None:
    widths = {"top_m": 0.4, "middle_m": 0.4, "bottom_m": 0.4}
    record("S2", widths=widths)
    assert record("S6", widths=widths | {"middle_m": 0.3995}).word == "go"
    creeping = record("S8", widths=widths | {"middle_m": 0.3987})
    assert creeping.word == "stop"  # 0.8 mm since the last stop, 1.3 mm in all
    assert record("S8", widths=widths | {"middle_m": None}).word == "unknown"


def test_uplift_of_the_empty_and_the_wet_concrete_case(record: Record) -> None:
    """Archimedes: 2.4 x 0.9 x 0.5 m of water 10.591182 kN; 0.15 m of wet concrete 7.626 kN."""
    view = record(
        "S4",
        box={
            "length_m": 2.4,
            "width_m": 0.9,
            "water_depth_m": 0.5,
            "concrete_depth_m": 0.15,
            "mass_kg": 120,
        },
    )
    assert view.water is not None
    assert view.wet_concrete is not None
    assert view.water.uplift_kn == pytest.approx(10.591182)
    assert view.water.factor == pytest.approx(0.1111, abs=1e-4)
    assert view.wet_concrete.net_kn == pytest.approx(6.449, abs=1e-3)
    assert view.concrete_to_hold_m3 == pytest.approx(1.0695652)
    assert view.ballast_to_hold_kg == pytest.approx(1230)
    assert view.word == "stop"


def test_lift_concrete_creep_and_common_practice(record: Record) -> None:
    view = record(
        "S5",
        lift_m=0.6,
        base_height_m=0.9,
        concrete={"parts_m3": {"slab": 0.6, "walls": 0.5}, "void_m3": 0.1},
        creep={
            "verticals_m": [0.6] * 4,
            "horizontals_m": [2.4],
            "head_m": 0.45,
            "soil": "fine sand",
        },
        tail={"fall_m": 0.05, "scour": "none"},
    )
    assert view.lift is not None
    assert view.lift.force_kn_per_m == pytest.approx(4.2364728)
    assert view.concrete is not None
    assert view.concrete.order_m3 == pytest.approx(1.1)
    assert view.creep is not None
    assert view.creep.ratio == pytest.approx(7.1111, abs=1e-4)
    assert [(n.near, n.provenance) for n in view.practice] == [(False, "common practice")] * 2
    assert view.word == "go"


def test_an_answer_no_stops_and_nothing_recorded_is_only_noted(record: Record) -> None:
    assert record("S1", seen={"firm": "yes"}, note="rain").word == "noted"
    view = record("S1", seen={"drained": "no"})
    assert view.reasons == (("stop", "Drained, water led round: no"),)


def test_a_sum_that_cannot_be_made_is_said_and_nothing_is_lost(record: Record) -> None:
    view = record("S1", concrete={"parts_m3": {"slab": 0.1}, "void_m3": 0.2})
    assert view.word == "unknown"
    assert "concrete has a volume" in view.reasons[0][1]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"stop": "S10"}, "body.stop"),
        ({"stop": "S2", "corners": {"backsight_m": 1.0}}, "body.corners.reference_rl_m"),
        ({"stop": "S2", "lift_m": "0.3"}, "body.lift_m"),
        ({"stop": "S2", "mood": "good"}, "body.mood"),
    ],
)
def test_what_cannot_be_is_refused_by_name(
    session: Session, crew: Person, structure: Structure, body: dict[str, Any], field: str
) -> None:
    receipt = send(session, crew, an_entry("install_stop", structure, crew, body))[0]
    assert receipt.state == "refused"
    assert receipt.error is not None
    assert receipt.error.field == field


def test_every_stop_has_its_cautions() -> None:
    for stop in STOPS:
        assert set(stop.cautions) <= set(CAUTIONS)
        assert stop.cautions


def test_an_opening_is_rated_and_its_steadiness_told(
    session: Session, crew: Person, a_site: Callable[..., Structure]
) -> None:
    structure = a_site("OPEN", zero_offset_m=-0.0005, pond_area_m2=20.0)
    heads = [0.150, 0.205, 0.2105, 0.2105, 0.211, 0.2105, 0.2105]
    minutes = [1, 5, 20, 22, 24, 26, 28]
    body = {
        "gate": [{"at": iso(AT), "opening": "2 turns"}],
        "heads": [
            {"at": iso(AT + timedelta(minutes=m)), "staff_m": h, "tail_staff_m": None}
            for m, h in zip(minutes, heads, strict=True)
        ],
        "seeps": {"toe": "muddy", "joint": "none"},
        "sensor": {"at": iso(AT), "staff_m": 0.2105, "before_m": 0.2, "after_m": 0.21},
        "clock": {"right": iso(AT), "before": iso(AT + timedelta(seconds=90)), "after": iso(AT)},
        "fit_from": iso(AT + timedelta(hours=1)),
        "fit_words": "toe seeps",
    }
    receipt = send(session, crew, an_entry("opening", structure, crew, body, AT))[0]
    assert receipt.state == "stored", receipt.error
    [view] = openings(session, structure.id or 0)
    assert view.steady is not None
    assert view.steady.word == "steady"
    assert view.heads[-1].head_m == pytest.approx(0.21)
    # 1 ft Parshall, Q = 0.6909 h^1.522 (Bos 1989; from memory)
    assert view.heads[-1].discharge_m3s == pytest.approx(0.6909 * 0.21**1.522, rel=2e-3)
    assert view.heads[-1].flow == "assumed free"
    assert view.sensor_after_m == pytest.approx(0.0)
    assert view.sensor_before_m == pytest.approx(-0.01)
    assert (view.clock_before_s, view.clock_after_s) == (90.0, 0.0)


def test_an_opening_without_a_zero_is_kept_and_not_rated(
    session: Session, crew: Person, structure: Structure
) -> None:
    body = {"heads": [{"at": iso(AT), "staff_m": 0.2}]}
    send(session, crew, an_entry("opening", structure, crew, body, AT))
    [view] = openings(session, structure.id or 0)
    assert view.heads[0].flow == "not rated: no gauge zero"
    assert view.heads[0].discharge_m3s is None
    assert view.sensor_after_m is None


def test_heads_of_an_opening_have_the_words_of_the_phone(
    session: Session, crew: Person, a_site: Callable[..., Structure]
) -> None:
    structure = a_site("WORDS", zero_offset_m=-0.001)
    told = cases("opening_vectors")
    heads = [
        {"at": iso(AT), "staff_m": one["head_m"] + 0.001, "dry": one["dry"], "as_typed": "x"}
        for one in (case["args"] for case in told)
    ]
    receipt = send(session, crew, an_entry("opening", structure, crew, {"heads": heads}, AT))[0]
    assert receipt.state == "stored", receipt.error
    [view] = openings(session, structure.id or 0)
    assert [h.flow for h in view.heads] == [case["result"] for case in told]
    for head in view.heads:
        assert (head.discharge_m3s is None) == (head.flow == "not rated")
