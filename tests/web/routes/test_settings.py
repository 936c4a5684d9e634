"""The steward's pages of settings, and that what they set reaches the pages that go by it."""

from collections.abc import Callable

from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.sites import Structure

HTML = {"accept": "text/html"}


def test_all_settings_with_value_and_source(as_steward: TestClient) -> None:
    text = as_steward.get("/settings", headers=HTML).text
    assert "1 July" in text
    assert "built in: common practice in the south" in text
    assert "SILLBOOK_DATA" in text
    rows = as_steward.get("/settings.json").json()["rows"]
    assert {row["key"]: row["own"] for row in rows}["water_year"] is False


def test_a_value_is_set_with_a_reason_and_goes_back(as_steward: TestClient) -> None:
    typed = {"value": "10-01", "reason": "the season begins then", "revision": "0"}
    assert as_steward.post("/settings/water_year", data=typed, headers=HTML).status_code == 303
    text = as_steward.get("/settings", headers=HTML).text
    assert "1 October" in text
    assert "set by Steward One on" in text
    assert "the season begins then" in text
    assert "Built in: 1 July" in text
    late = as_steward.post("/settings/water_year", data=typed | {"value": "04-01"}, headers=HTML)
    assert late.status_code == 409
    assert 'value="1"' in late.text, "saving again goes on from the present one"
    typed = {"value": "", "reason": "as before", "revision": "1"}
    answer = as_steward.post("/settings/water_year/default", data=typed, headers=HTML)
    assert answer.status_code == 303
    page = as_steward.get("/settings/water_year", headers=HTML).text
    assert "1 July, built in" in page
    trail = as_steward.get("/audit", headers=HTML).text
    assert "set “The water year begins”: 1 October, before 1 July" in trail
    assert "set “The water year begins” back: 1 July, before 1 October" in trail


def test_every_fault_at_once_and_what_was_typed_stays(as_steward: TestClient) -> None:
    typed = {"value": "soon", "reason": "", "revision": "0"}
    answer = as_steward.post("/settings/drift_limit_m", data=typed, headers=HTML)
    assert answer.status_code == 422
    assert 'id="value-wrong"' in answer.text
    assert 'id="reason-wrong"' in answer.text
    assert 'value="soon"' in answer.text
    assert as_steward.get("/settings/colour", headers=HTML).status_code == 404
    assert as_steward.post("/settings/colour", data=typed, headers=HTML).status_code == 404


def test_what_is_set_stands_in_the_boxes_of_what_is_new(
    as_steward: TestClient, a_site: Callable[..., Structure], session: Session
) -> None:
    site_id = a_site().site_id
    session.commit()
    for key, value in (
        ("organisation", "Rill and Race (invented)"),
        ("utc_offset_min", "+12:00"),
        ("head_unit", "m"),
        ("head_uncertainty_m", "2,5"),
        ("visit_interval_days", "28"),
    ):
        typed = {"value": value, "reason": "as agreed", "revision": "0"}
        assert as_steward.post(f"/settings/{key}", data=typed, headers=HTML).status_code == 303
    site = as_steward.get("/sites/new", headers=HTML).text
    assert 'value="+12:00"' in site
    assert 'value="m" selected' in site
    assert 'value="2.5"' in as_steward.get(f"/sites/{site_id}/structures/new", headers=HTML).text
    assert 'value="28"' in as_steward.get(f"/sites/{site_id}/visits", headers=HTML).text
    assert "Rill and Race (invented)" in as_steward.get("/visits/round", headers=HTML).text
