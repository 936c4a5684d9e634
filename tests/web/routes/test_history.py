"""History pages and the export: range in the address, honest words, refused when signed out."""

import csv
import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import BEGIN, a_reading, send

HTML = {"accept": "text/html"}
LISTS = ("history", "daily-readings", "flow-words", "readings")


@pytest.fixture
def filled(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Structure:
    structure, ines = a_site(), a_person()
    send(
        session,
        ines,
        a_reading(structure, ines, 0.20, at=BEGIN + timedelta(days=10)),
        a_reading(structure, ines, 0.30, tail_staff_m=0.26, at=BEGIN + timedelta(days=40)),
        a_reading(structure, ines, 0.30, tail_staff_m=0.31, at=BEGIN + timedelta(days=40, hours=1)),
    )
    return structure


def test_the_page_shows_readings_days_and_words(as_crew: TestClient, filled: Structure) -> None:
    page = as_crew.get(f"/sites/{filled.site_id}/readings", headers=HTML).text
    for words in (
        "assumed free",
        "submerged, corrected",
        "tailwater above head",
        "not determined",
        "not a continuous record",
        "UTC+12:00",
    ):
        assert words in page, words
    assert "style=" not in page


def test_the_range_lies_in_the_address(as_office: TestClient, filled: Structure) -> None:
    path = f"/sites/{filled.site_id}/readings"
    page = as_office.get(f"{path}?from=2024-07-01&to=2024-07-31", headers=HTML).text
    assert 'value="2024-07-31"' in page
    assert "submerged, corrected" not in page
    empty = as_office.get(f"{path}?from=2030-01-01&to=2030-01-31", headers=HTML)
    assert "No readings in this range" in empty.text


def test_an_impossible_range_keeps_what_was_typed(as_office: TestClient, filled: Structure) -> None:
    path = f"/sites/{filled.site_id}/readings?from=2024-08-01&to=2024-07-01"
    answer = as_office.get(path, headers=HTML)
    assert answer.status_code == 422
    assert 'value="2024-08-01"' in answer.text
    assert "Swap the two" in answer.text


@pytest.mark.parametrize("name", LISTS)
def test_every_list_is_csv_and_json(as_office: TestClient, filled: Structure, name: str) -> None:
    path = f"/sites/{filled.site_id}/{name}"
    rows = list(csv.DictReader(io.StringIO(as_office.get(f"{path}.csv").text), strict=True))
    answer = as_office.get(f"{path}.json")
    assert len(rows) == len(answer.json()["rows"]) > 0
    assert answer.headers["cache-control"] == "no-store"


def test_the_page_and_the_export_agree(as_office: TestClient, filled: Structure) -> None:
    site = filled.site_id
    shown = as_office.get(f"/sites/{site}/history.json").json()["rows"]
    exported = as_office.get(f"/sites/{site}/readings.csv?from=2024-07-01&to=2024-12-31")
    assert (
        'filename="readings-TANSY-2024-07-01-2024-12-31.csv"'
        in exported.headers["content-disposition"]
    )
    rows = list(csv.DictReader(io.StringIO(exported.text, newline=""), strict=True))
    assert [r["reading_id"] for r in rows] == [r["id"] for r in shown]
    figures = [None if r["discharge_m3s"] == "" else float(r["discharge_m3s"]) for r in rows]
    assert figures == [r["discharge_m3s"] for r in shown]


def test_the_chart_has_a_mark_for_what_was_not_determined(
    as_office: TestClient, filled: Structure
) -> None:
    chart = as_office.get(f"/sites/{filled.site_id}/history/chart.json").json()
    assert chart["marks"]["discharge_m3s"][2] is None
    assert chart["marks"]["flow"][2] == "not rated"
    assert "tailwater above head" in chart["marks"]["flags"][2]


def test_rating_again_by_the_pages(as_office: TestClient, filled: Structure) -> None:
    typed = {"family": "parshall", "dim.size": "2ft", "valid_from": "2024-07-02T00:00"}
    path = f"/structures/{filled.id}/ratings"
    as_office.post(path, data=typed | {"reason": "measured"})
    again = f"/sites/{filled.site_id}/rate-again"
    look = as_office.get(again, headers=HTML).text
    assert "3" in look
    token = look.split('name="token" value="')[1].split('"')[0]
    assert len(as_office.get(f"{again}.json").json()["rows"]) == 3
    refused = as_office.post(again, data={"token": token, "reason": ""}, headers=HTML)
    assert refused.status_code == 422
    done = as_office.post(again, data={"token": token, "reason": "measured"}, headers=HTML)
    assert "before and after" in done.text
    assert "Nothing would change" in as_office.get(again, headers=HTML).text
    stale = as_office.post(again, data={"token": token, "reason": "again"}, headers=HTML)
    assert stale.status_code == 422
