"""Plans against published worked siting, uniform flow and the rules they cite; kept and chosen."""

import json
import math
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session, select

from app.errors import BadInput
from app.hydraulics.families.registry import DEVICES, build
from app.records.people import Person
from app.records.plans import Plan, PlanChoice
from app.records.sites import Rating, Structure
from app.services.plans import make as planning
from app.services.plans import page as plan_page
from app.services.plans.inputs import EMPTY, options, plan_inputs
from app.services.plans.tables import plan_table
from app.services.plans.work import work_out
from app.services.sync import pack
from tests.builders.plan_cases import PLAN
from tests.conftest import BEGIN, iso, send


def worked(**changes: str) -> dict[str, Any]:
    return work_out(plan_inputs(PLAN | changes))


def only(**changes: str) -> dict[str, Any]:
    """Return the result of a plan with the first candidate alone."""
    alone = {"candidate_2": "", "candidate_3": "", "dims_3": ""}
    found: dict[str, Any] = worked(**alone, **changes)
    return found


def test_crest_of_a_published_siting() -> None:
    """Utah State Univ. BIE 5300/6300 lecture 2 (2005), read: 0.61 m flume, 0.75 m3/s, St 0.66.

    hu 0.66 m; the floor not deeper than 0.66 x 0.66 = 0.436 m below the tailwater.
    """
    found = only(
        candidate_1="parshall|2ft", q_min_l_s="749", q_mid_l_s="749.5", q_max_l_s="750",
        tail_known="750 101", tail_floor_rl_m="100", floor_rl_m="100", bank_rl_m="103",
        weed_margin_mm="0",
    )["candidates"][0]  # fmt: skip
    flow = found["flows"][-1]
    assert flow["head_m"] == pytest.approx(0.66, abs=0.001)
    assert 101.0 - flow["crest_needed_m"] == pytest.approx(0.436, abs=0.001)
    assert found["crest_rl_m"] >= flow["crest_needed_m"]


def test_tail_by_uniform_flow_of_a_published_channel() -> None:
    """San Diego State Univ. CIVE 530 (read): b 5, y 0.8, S 0.0025, n 0.015 carry 9.548 m3/s."""
    result = only(
        candidate_1="full_width_weir|", dims_1="b=5", tail_known="", race_width_m="5",
        race_slope_m="0", bed_slope="0.0025", roughness="0.015", q_min_l_s="900",
        q_mid_l_s="1000", q_max_l_s="9548", tail_floor_rl_m="48.92", bank_rl_m="60",
    )  # fmt: skip
    assert result["tail_levels_m"][-1] - 48.92 == pytest.approx(0.8, abs=0.0005)
    assert "estimate" in result["tail_notes"][0]


def test_each_flow_is_judged_with_its_weed_margin() -> None:
    for one in worked()["candidates"]:
        for flow in one["flows"]:
            assert flow["submergence_weedy"] == pytest.approx(
                max(flow["tail_level_m"] + 0.05 - one["crest_rl_m"], 0.0) / flow["head_m"]
            )
            assert flow["submergence_weedy"] <= flow["modular_limit"] + 1e-9
            assert flow["upstream_level_m"] == pytest.approx(one["crest_rl_m"] + flow["head_m"])
            assert flow["freeboard_m"] == pytest.approx(49.72 - flow["upstream_level_m"])
        assert one["crest_needed_m"] == max(f["crest_needed_m"] for f in one["flows"])


def test_a_crest_is_set_to_five_millimetres_above_what_is_needed() -> None:
    one = worked()["candidates"][0]
    assert 0.0 <= one["crest_rl_m"] - one["crest_needed_m"] <= 0.005 + 1e-9
    assert math.isclose(one["crest_rl_m"] / 0.005, round(one["crest_rl_m"] / 0.005), abs_tol=1e-6)


def test_the_race_and_the_crest_fill_in_what_they_decide() -> None:
    one = worked()["candidates"][2]
    assert one["dims"]["B"] == pytest.approx(0.9)
    assert one["dims"]["B_m"] == pytest.approx(1.0)
    assert one["dims"]["p"] == pytest.approx(one["crest_above_floor_m"], abs=2e-4)


def test_a_crest_given_is_judged_as_given() -> None:
    low = only(crest_rl_m="48.93")["candidates"][0]
    assert low["crest_rl_m"] == 48.93
    assert low["flows"][-1]["verdict"] == "does not suit"
    assert any("drowns" in reason for reason in low["flows"][-1]["reasons"])
    assert low["verdict"] == "does not suit"


def test_fill_time_of_a_pond_by_volume() -> None:
    """Below the crest nothing flows out: at least volume over inflow (continuity)."""
    one = only(pond_area_m2="40")["candidates"][0]
    for flow in one["flows"]:
        below = 40.0 * one["crest_above_floor_m"] / flow["discharge_m3s"] / 60.0
        assert flow["fill_min"] > below
        assert flow["fill_min"] < below + 40.0 * flow["head_m"] / flow["discharge_m3s"] / 60.0 * 6


def test_straight_approach_is_five_widths_at_the_greatest_flow() -> None:
    """AS 3778.4.6:2007 cl. 6.2.2, read: five times the water-surface width, upstream."""
    result = only(straight_m="5")
    check = next(c for c in result["checks"] if c["key"] == "straight")
    depth = result["candidates"][0]["flows"][-1]["upstream_level_m"] - 48.92
    assert f"{5 * (0.9 + 2 * depth):.1f} m wanted" in check["detail"]
    assert check["answer"] == "no"
    assert result["candidates"][0]["verdict"] == "suits with care"


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [({"confined": "no"}, "does not suit"), ({"firm": "no"}, "does not suit"),
     ({"permission": ""}, "suits with care"), ({"confined": ""}, "suits with care")],
)  # fmt: skip
def test_what_was_seen_on_the_ground_counts(changes: dict[str, str], verdict: str) -> None:
    base = worked()["candidates"][1]["verdict"]
    assert base == "suits"
    assert worked(**changes)["candidates"][1]["verdict"] == verdict


def test_a_candidate_that_fails_leaves_the_others() -> None:
    result = worked(candidate_1="parshall|1in", dims_3="b=0.3")
    assert result["candidates"][0]["problem"]["field"] == "discharge_m3s"
    assert result["candidates"][2]["problem"]["field"] == "L"
    assert "flows" in result["candidates"][1]


def test_every_size_is_tried_and_the_best_kept() -> None:
    found = only(candidate_1="parshall|*")["candidates"]
    assert 1 <= len(found) <= 3
    assert all(f["verdict"] != "does not suit" for one in found for f in one["flows"])
    errors = [one["flows"][0]["discharge_uncertainty_pct"] for one in found]
    assert errors == sorted(errors)


@pytest.mark.parametrize("key", DEVICES)
def test_every_family_can_be_a_candidate(key: str) -> None:
    family = DEVICES[key]
    dims = ", ".join(f"{k}={v}" for k, v in family.example.items() if k != "size")
    size = family.example.get("size", "")
    if key in ("user_power", "user_table", "long_throat"):
        dims = "throat=rect, b=0.4, L=0.8" if key == "long_throat" else dims.replace("; ", ";")
    if key == "user_power":
        dims = "segments=1.2,1.62,0.035,0.06,0.6"
    if key == "user_table":
        dims = "table=0.02:0.001,0.1:0.02,0.4:0.2"
    one = only(candidate_1=f"{key}|{size}", dims_1=dims, q_min_l_s="2", q_max_l_s="20",
               q_mid_l_s="", bank_rl_m="60")["candidates"][0]  # fmt: skip
    assert "problem" not in one, one["problem"]
    assert json.dumps(one, allow_nan=False)


def test_options_come_from_the_registry() -> None:
    told = options()
    assert [group["name"] for group in told] == [family.name for family in DEVICES.values()]
    assert all(group["choices"] for group in told)


@pytest.mark.parametrize(
    ("field", "text"),
    [("name", ""), ("q_min_l_s", "x"), ("q_max_l_s", "5"), ("q_mid_l_s", "500"),
     ("floor_rl_m", ""), ("bank_rl_m", "40"), ("tail_known", "12 48.9 7"),
     ("tail_known", "12 forty"), ("candidate_1", "nosuch|1"), ("dims_3", "b 0.3"),
     ("confined", "perhaps"), ("weed_margin_mm", "-5"), ("roughness", "5")],
)  # fmt: skip
def test_bad_input_names_field_and_remedy(field: str, text: str) -> None:
    with pytest.raises(BadInput) as refused:
        worked(**{field: text})
    assert refused.value.field == field
    assert refused.value.rule
    assert refused.value.remedy


def test_nothing_known_of_the_tail_is_refused() -> None:
    with pytest.raises(BadInput) as refused:
        worked(tail_known="", bed_slope="")
    assert refused.value.field == "tail_known"


def test_a_plan_is_kept_and_never_changes(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    person = a_person()
    structure = a_site()
    assert person.id
    plan = planning.add_plan(session, structure.site_id, PLAN, person.id)
    session.commit()
    assert plan.inputs == EMPTY | PLAN
    with pytest.raises(sa.exc.DBAPIError, match="append-only"):
        session.execute(sa.update(Plan).values(name="other"))
    session.rollback()
    table = plan_table(session, structure.site_id)
    assert len(table.rows) == 9
    assert {(row["name"], row["flow"]) for row in table.rows} == {
        ("Winter race", flow) for flow in ("least", "middle", "greatest")
    }
    shown = plan_page.candidates(planning.get_plan(session, plan.id or 0))
    assert shown[0].drawing is not None
    assert "Race floor 48.920 m" in shown[0].drawing.description


def test_the_choice_becomes_the_intended_design(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    person = a_person("Office", "office")
    structure = a_site(rated=False, zeroed=False)
    assert person.id
    plan = planning.add_plan(session, structure.site_id, PLAN, person.id)
    form = {
        "candidate": "2", "structure_id": str(structure.id), "valid_from": "2026-11-01T08:00",
        "reason": "least head lost",
    }  # fmt: skip
    choice = planning.choose(session, plan.id or 0, form, person.id)
    session.commit()
    rating = session.get(Rating, choice.rating_id)
    assert rating is not None
    assert rating.reason.startswith("Intended: plan")
    assert build(rating.family, rating.dims).describe() == plan.result["candidates"][2]["described"]
    assert planning.intended(session, structure.id or 0) == (choice, plan)
    for bad in ({"candidate": "9"}, {"reason": ""}, {"structure_id": "77"}):
        with pytest.raises(BadInput):
            planning.choose(session, plan.id or 0, form | bad, person.id)


def test_the_choice_may_make_the_structure(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    person = a_person("Office", "office")
    site_id = a_site().site_id
    assert person.id
    plan = planning.add_plan(session, site_id, PLAN, person.id)
    form = {
        "candidate": "0", "structure_id": "new", "structure_name": "Second flume",
        "valid_from": "2026-11-01T08:00", "reason": "first choice",
    }  # fmt: skip
    choice = planning.choose(session, plan.id or 0, form, person.id)
    made = session.get(Structure, choice.structure_id)
    assert made is not None
    assert (made.name, made.family) == ("Second flume", "cutthroat")


def asked(structure: Structure, person: Person, **changes: Any) -> dict[str, Any]:
    return {
        "id": "01890000-0000-7000-8000-000000000001", "kind": "plan",
        "site_id": structure.site_id, "structure_id": None, "visit_id": None,
        "observed_at": iso(BEGIN), "utc_offset_min": 720, "by": person.id,
        "saved_at": iso(BEGIN + timedelta(minutes=1)), "corrects": None, "reason": None,
        "body": {"inputs": PLAN | changes},
    }  # fmt: skip


def test_a_plan_asked_on_a_phone_is_worked_out_once(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    person, structure = a_person(), a_site()
    entry = asked(structure, person)
    first = send(session, person, entry)[0]
    again = send(session, person, entry)[0]
    assert (first.state, again.state) == ("stored", "already_held")
    assert any("worked out" in note for note in first.notes)
    assert any("worked out" in note for note in again.notes), "a cut answer loses no word"
    plans = session.exec(select(Plan)).all()
    assert [p.entry_id for p in plans] == [entry["id"]]
    sent = pack.pack(session, person, BEGIN, demo=False)["sites"][0]["plans"]
    assert sent[0]["entry_id"] == entry["id"]
    assert len(json.dumps(sent)) < 120_000
    assert session.exec(select(PlanChoice)).all() == []


def test_a_plan_that_cannot_be_worked_out_is_stored_and_told(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    person, structure = a_person(), a_site()
    receipt = send(session, person, asked(structure, person, q_min_l_s="many"))[0]
    assert receipt.state == "stored"
    assert any("plan not worked out: q_min_l_s" in note for note in receipt.notes)
    assert session.exec(select(Plan)).all() == []
