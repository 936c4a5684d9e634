"""The due list, the round sheet, a site's visits and their plan as pages and lists."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.database import utc_now
from app.records.people import Person
from app.records.sites import Structure
from tests.builders.survey_entries import an_entry
from tests.builders.web_record_files import HTML
from tests.conftest import a_reading, send

PLAN = {"interval_days": "14", "valid_from": "2026-01-01", "round": "Lower round (invented)",
        "access": "Key 4 (invented)", "to_do": "Clear the rack", "reason": "permit"}  # fmt: skip


def test_empty_states_say_what_to_do_first(as_office: TestClient, as_crew: TestClient) -> None:
    assert "/sites/new" in as_office.get("/visits", headers=HTML).text
    assert "/sites/new" not in as_crew.get("/visits", headers=HTML).text
    assert as_office.get("/visits/round", headers=HTML).status_code == 200
    assert as_office.get("/visits.json").json()["rows"] == []


def test_from_no_interval_to_a_sheet_in_the_hand(
    as_office: TestClient,
    as_crew: TestClient,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    session: Session,
) -> None:
    structure, ines = a_site(), a_person()
    path = f"/sites/{structure.site_id}"
    assert "no interval set" in as_crew.get("/visits", headers=HTML).text
    assert "Set an interval" in as_office.get("/visits", headers=HTML).text
    assert as_crew.post(f"{path}/visit-plans", data=PLAN).status_code == 403
    assert as_office.post(f"{path}/visit-plans", data=PLAN).status_code == 303
    at = utc_now() - timedelta(days=20)
    visit = an_entry("visit", structure, ines, {"conditions": ["silt"], "note": "muddy"}, at,
                     structure_id=None)  # fmt: skip
    mark = an_entry(
        "benchmark", structure, ines, {"name": "Bolt in the wall"}, at - timedelta(days=2)
    )
    reading = a_reading(structure, ines, 0.21, at=at + timedelta(minutes=9),
                        visit_id=visit["id"], body_occasion="as_found")  # fmt: skip
    assert not [r for r in send(session, ines, visit, mark, reading) if r.error]
    (row,) = as_crew.get("/visits.json").json()["rows"]
    assert (row["state"], row["days"], row["round"]) == ("overdue", -6, PLAN["round"])
    assert row["last_visit_id"] == visit["id"]
    sheet = as_crew.get("/visits/round", headers=HTML).text
    for words in ("Key 4 (invented)", "Clear the rack", "Bolt in the wall", "muddy",
                  "read as found, not as left", "overdue by 6 days", "1 site,",
                  "No hazards entered"):  # fmt: skip
        assert words in sheet, words
    assert "Bolt in the wall" not in as_crew.get("/visits/round?round=other", headers=HTML).text
    one = as_crew.get(f"/visits/{visit['id']}", headers=HTML).text
    assert "read as found, not as left" in one
    (held,) = as_crew.get(f"/visits/{visit['id']}/entries.json").json()["rows"]
    assert held["address"] == f"/readings/{reading['id']}"
    (line,) = as_crew.get(f"{path}/visits.json").json()["rows"]
    assert (line["head_reading_count"], line["hours"]) == (1, None)
    (plan,) = as_crew.get(f"{path}/visit-plans.json").json()["rows"]
    assert plan["interval_days"] == 14
    assert "1 visit." in as_crew.get(f"{path}/visits", headers=HTML).text
    assert as_crew.get(f"/entries/{visit['id']}").text.count(f"/visits/{visit['id']}") == 1
    withdrawn = as_office.post(f"/entries/{visit['id']}/withdrawals", data={"reason": "x"})
    assert withdrawn.headers["location"] == f"/visits/{visit['id']}"
    assert "does not count" in as_crew.get(f"/visits/{visit['id']}", headers=HTML).text
    assert as_crew.get(f"/visits/{reading['id']}").status_code == 404
    assert as_crew.get(f"/visits/{visit['id'][:-1]}0").status_code in (200, 404)


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("interval_days", "0"),
        ("interval_days", "1.5"),
        ("interval_days", "often"),
        ("interval_days", "900"),
        ("season_begins", "09-01"),
        ("season_ends", "13-01"),
        ("outside_days", "30"),
        ("person_id", "9999"),
        ("valid_from", "soon"),
        ("reason", ""),
    ],
)
def test_a_plan_that_cannot_be_is_refused_beside_its_box(
    as_office: TestClient, a_site: Callable[..., Structure], field: str, typed: str
) -> None:
    path = f"/sites/{a_site().site_id}/visit-plans"
    form = PLAN | {field: typed}
    if field == "season_ends":
        form["season_begins"] = "09-01"
    answer = as_office.post(path, data=form, headers=HTML)
    assert answer.status_code == 422
    assert 'aria-invalid="true"' in answer.text
    assert "Key 4 (invented)" in answer.text, "what was typed is kept"


def test_the_same_plan_twice_is_one(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    site = a_site().site_id
    for _ in range(2):
        assert as_office.post(f"/sites/{site}/visit-plans", data=PLAN).status_code == 303
    assert len(as_office.get(f"/sites/{site}/visit-plans.json").json()["rows"]) == 1
    trail = as_office.get(f"/sites/{site}/changes.json").json()["rows"]
    assert [x["action"] for x in trail].count("visits planned") == 1


def test_many_sites_are_paged_and_the_list_is_whole(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    for k in range(53):
        a_site(f"S{k:02d}")
    first, last = (as_office.get(f"/visits?page={k}", headers=HTML).text for k in (1, 2))
    assert (first.count("<tr>"), last.count("<tr>")) == (51, 4)
    assert "Page 2 of 2" in last
    assert len(as_office.get("/visits.json").json()["rows"]) == 53
    assert as_office.get("/visits?q=s07", headers=HTML).text.count("<tr>") == 2
