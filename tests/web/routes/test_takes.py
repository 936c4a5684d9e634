"""Limits and the use against them, as pages and lists."""

import json
from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.sites import Structure
from tests.builders.web_record_files import HTML, a_file, imported


@pytest.fixture
def path(as_office: TestClient, a_site: Callable[..., Structure], session: Session) -> str:
    structure = a_site()
    session.commit()
    imported(as_office, structure.site_id, structure.id or 0, a_file(40))
    return f"/structures/{structure.id}/takes"


SEASON = {
    "kind": "season", "amount": "1000", "valid_from": "2024-07-01",
    "season_begins": "07-01", "season_ends": "06-30", "note": "permit 7 (invented)",
}  # fmt: skip


def test_a_limit_its_use_and_the_alerts(
    as_office: TestClient, as_crew: TestClient, path: str
) -> None:
    assert "No limits yet" in as_crew.get("/takes", headers=HTML).text
    assert as_crew.post(path, data=SEASON).status_code == 403
    assert as_office.post(path, data=SEASON).status_code == 303
    page = as_crew.get(path, headers=HTML).text
    assert 'data-word="over"' in page  # forty days at some 70 L/s are far more than 1000 m3
    assert "permit 7 (invented)" in page
    assert "2024-08" in page  # the calendar
    assert 'data-word="over"' in as_crew.get("/takes", headers=HTML).text
    (row,) = as_crew.get(f"{path}.json").json()["rows"]
    assert row["verdict"] == "over"
    assert row["low"] > 1000
    (alert,) = as_crew.get("/takes.json").json()["rows"]
    assert alert["limit_id"] == row["limit_id"]
    calendar = as_crew.get(f"{path}/calendar.json").json()
    assert len(calendar["days"]) == 365
    assert "Every period of" in as_crew.get(f"{path}?limit={row['limit_id']}", headers=HTML).text
    end = {"last_day": "2024-12-31", "reason": "permit ended"}
    assert as_office.post(f"{path}/{row['limit_id']}/end", data=end).status_code == 303
    assert "permit ended" in as_office.get(path, headers=HTML).text
    again = as_office.post(f"{path}/{row['limit_id']}/end", data=end, headers=HTML)
    assert again.status_code == 422


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("kind", "weekly"),
        ("amount", ""),
        ("amount", "lots"),
        ("amount", "-4"),
        ("valid_from", ""),
        ("valid_to", "2020-01-01"),
        ("season_begins", "13-40"),
        ("window_min", "60"),
    ],
)
def test_an_impossible_limit_is_refused_and_kept_in_the_form(
    as_office: TestClient, path: str, field: str, typed: str
) -> None:
    answer = as_office.post(path, data={**SEASON, field: typed}, headers=HTML)
    assert answer.status_code == 422
    assert "permit 7 (invented)" in answer.text
    assert json.loads(as_office.get(f"{path}.json").text)["rows"] == []


def test_the_race_capacity_is_stated_listed_and_asked_for(
    as_office: TestClient, as_crew: TestClient, path: str
) -> None:
    base = path.removesuffix("/takes")
    assert "Not stated." in as_crew.get(path, headers=HTML).text
    form = {"kind": "head", "amount": "450", "unit": "mm", "valid_from": "2025-01-01"}
    refused = as_office.post(f"{base}/race-capacity", data=form, headers=HTML)
    assert refused.status_code == 422
    assert 'value="450"' in refused.text
    assert as_crew.post(f"{base}/race-capacity", data=form).status_code == 403
    stated = as_office.post(f"{base}/race-capacity", data={**form, "reason": "bank surveyed"})
    assert stated.status_code == 303
    (row,) = as_crew.get(f"{base}/race-capacity.json").json()["rows"]
    assert (row["head_m"], row["discharge_m3s"], row["reason"]) == (0.45, None, "bank surveyed")
    assert "0.45" in as_crew.get(f"{base}/race-capacity.csv").text
    assert "450 mm over the crest" in as_crew.get(path, headers=HTML).text
