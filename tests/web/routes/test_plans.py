"""Pages of planning, as-built, commissioning and levels: who may do what, and no page fails."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.people import Person
from app.records.plans import FitSheet, Plan, PlanChoice
from app.records.sites import GaugeZero, Rating, Structure
from tests.builders.plan_cases import PLAN
from tests.conftest import send
from tests.services.install.test_page import RUN_ID, a_run


@pytest.fixture
def structure(session: Session, a_site: Callable[..., Structure]) -> Structure:
    made = a_site(family="long_throat_rect", dims={"b": 0.4, "L": 0.8, "p": 0.1, "B": 0.8})
    session.commit()
    return made


def make_plan(client: TestClient, structure: Structure) -> str:
    answer = client.post(f"/sites/{structure.site_id}/plans", data=PLAN)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def test_a_plan_from_form_to_choice(
    as_office: TestClient, session: Session, structure: Structure
) -> None:
    assert as_office.get(f"/sites/{structure.site_id}/plans/new").status_code == 200
    place = make_plan(as_office, structure)
    shown = as_office.get(place)
    assert shown.status_code == 200
    assert shown.text.count('<svg class="drawing"') == 3
    assert "style=" not in shown.text
    assert "not a design" in shown.text
    form = {"candidate": "2", "structure_id": str(structure.id), "valid_from": "2026-11-01T08:00"}
    refused = as_office.post(f"{place}/choose", data=form | {"reason": ""})
    assert refused.status_code == 422
    assert as_office.post(f"{place}/choose", data=form | {"reason": "fits"}).status_code == 303
    assert len(session.exec(select(PlanChoice)).all()) == 1
    session.commit()
    assert "Chosen" in as_office.get(place).text
    assert "intended design of plan" in as_office.get(f"/structures/{structure.id}/as-built").text
    again = as_office.get(f"/sites/{structure.site_id}/plans/new?like={place.split('/')[-1]}")
    assert PLAN["flow_source"] in again.text


def test_the_water_upstream_stands_on_the_page_and_in_its_lists(
    as_office: TestClient, structure: Structure
) -> None:
    text = "30 48.99 49.4 0,9 lower gate\n80 49.15 49.9"
    form = PLAN | {"sections": text}
    place = as_office.post(f"/sites/{structure.site_id}/plans", data=form).headers["location"]
    shown = as_office.get(place).text
    assert "lower gate" in shown
    assert "beyond the survey" in shown
    candidates = as_office.get(f"{place}.json").json()["result"]["candidates"]
    levels = as_office.get(f"{place}/sections.json").json()["rows"]
    ponds = as_office.get(f"{place}/ponds.json").json()["rows"]
    assert len(levels) == len(ponds) == 3 * len(candidates)
    one = candidates[0]["upstream"]
    assert levels[1]["level_greatest_m"] == one["sections"][1]["levels_m"][2]
    assert ponds[2]["beyond_survey"] is one["flows"][2]["beyond_survey"] is True
    wrong = as_office.post(f"/sites/{structure.site_id}/plans", data=PLAN | {"sections": "30"})
    assert wrong.status_code == 422
    assert 'id="sections-wrong"' in wrong.text
    plain = as_office.get(make_plan(as_office, structure)).text
    assert "by the direct step" in plain


def test_what_was_typed_comes_back_with_the_error(
    as_office: TestClient, session: Session, structure: Structure
) -> None:
    answer = as_office.post(f"/sites/{structure.site_id}/plans", data=PLAN | {"bank_rl_m": "low"})
    assert answer.status_code == 422
    assert 'aria-invalid="true"' in answer.text
    assert PLAN["flow_source"] in answer.text
    assert session.exec(select(Plan)).all() == []


def test_crew_may_plan_and_sign_but_not_choose_or_rate(
    as_crew: TestClient, session: Session, structure: Structure
) -> None:
    place = make_plan(as_crew, structure)
    assert "Choose this" not in as_crew.get(place).text
    assert as_crew.post(f"{place}/choose", data={}).status_code == 403
    for path in ("as-built", "as-built/rating"):
        assert as_crew.post(f"/structures/{structure.id}/{path}", data={}).status_code == 403
    signed = as_crew.post(
        f"/structures/{structure.id}/commissioning",
        data={"fit_from": "2026-11-01T10:00", "signed_name": "Ines", "words": "watch the toe"},
    )
    assert signed.status_code == 303
    assert len(session.exec(select(FitSheet)).all()) == 1


def test_as_built_is_entered_and_rated(
    as_office: TestClient, session: Session, structure: Structure
) -> None:
    base = f"/structures/{structure.id}/as-built"
    form = {"at": "2026-11-24T10:00", "m.b.1": "401.5", "m.b.2": "401", "instrument": "rule"}
    assert as_office.post(base, data=form).status_code == 303
    shown = as_office.get(base).text
    assert "401.2" in shown or "401.3" in shown
    assert "ISO 4359" in shown
    rated = as_office.post(f"{base}/rating", data={"valid_from": "2026-11-24T12:00", "reason": "x"})
    assert rated.status_code == 303
    session.commit()
    newest = session.exec(select(Rating).where(Rating.structure_id == structure.id)).all()[-1]
    assert newest.dims["b"] == pytest.approx(0.40125)
    session.commit()
    assert as_office.post(base, data={"at": "2026-11-24T10:00"}).status_code == 422


def test_levels_are_shown_and_answered(
    as_office: TestClient,
    session: Session,
    structure: Structure,
    a_person: Callable[..., Person],
) -> None:
    person = a_person("Tamsin")
    send(session, person, *(a_run(structure, person, i) for i in range(3)))
    session.commit()
    run = f"/level-runs/{RUN_ID.format(2)}"
    assert "99.2235 m" in as_office.get(run).text
    form = {"valid_from": "2026-11-16T09:00", "reason": ""}
    assert as_office.post(f"{run}/decline", data=form).status_code == 422
    assert as_office.post(f"{run}/accept", data=form).status_code == 303
    zeros = session.exec(select(GaugeZero).where(GaugeZero.run_entry_id == RUN_ID.format(2))).all()
    assert len(zeros) == 1


PAGES = (
    "/sites/{site}/plans", "/sites/{site}/levels", "/structures/{structure}/as-built",
    "/structures/{structure}/install", "/structures/{structure}/commissioning",
)  # fmt: skip
LISTS = (*PAGES, "/sites/{site}/benchmarks")


@pytest.mark.parametrize("path", PAGES)
def test_pages_open_for_everyone(as_crew: TestClient, structure: Structure, path: str) -> None:
    page = as_crew.get(path.format(site=structure.site_id, structure=structure.id))
    assert page.status_code == 200
    assert "style=" not in page.text


@pytest.mark.parametrize("path", LISTS)
def test_lists_are_csv_and_json(as_crew: TestClient, structure: Structure, path: str) -> None:
    base = path.format(site=structure.site_id, structure=structure.id)
    lines = as_crew.get(f"{base}.csv").text.splitlines()
    told: dict[str, Any] = as_crew.get(f"{base}.json").json()
    assert lines[0].split(",") == list(told["columns"])
    assert len(lines) - 1 == len(told["rows"])


def test_a_plan_whole_as_json(as_office: TestClient, structure: Structure) -> None:
    place = make_plan(as_office, structure)
    told = json.loads(as_office.get(f"{place}.json").text)
    assert told["result"]["candidates"][0]["sources"]
    assert told["inputs"]["race_width_m"] == "0,9"
