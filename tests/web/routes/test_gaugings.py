"""Check gaugings in the office: the same numbers on the page, in the CSV and in the JSON."""

import csv
import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from app.services.gaugings.results import gauging_result
from tests.services.gaugings.test_results import AT, a_gauging, stored
from tests.vectors.gauging import gulp, section

HTML = {"accept": "text/html"}


@pytest.fixture
def gauged(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> tuple[Structure, str, str]:
    """Give a structure with a section and a gulp on the next day; their ids."""
    structure, ines = a_site(), a_person()
    first = a_gauging(structure, ines, section(), staff_m=(0.45, 0.451))
    second = a_gauging(
        structure,
        ines,
        gulp(),
        at=AT + timedelta(days=1),
        body_note='=HYPERLINK("x") <b>bold</b>, "quoted"',
    )
    stored(session, ines, first, second)
    return structure, first["id"], second["id"]


def test_list_page_csv_and_json_agree(
    session: Session, as_office: TestClient, gauged: tuple[Structure, str, str]
) -> None:
    structure, first, _ = gauged
    address = f"/sites/{structure.site_id}/gaugings"
    one = gauging_result(session, first)
    session.commit()
    page = as_office.get(address, headers=HTML)
    assert page.status_code == 200
    assert "velocity-area mid-section" in page.text
    assert one.word in page.text
    text = as_office.get(address + ".csv")
    assert text.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(text.text)))
    assert len(rows) == 2
    assert rows[0]["gauging_id"] == first
    assert float(rows[0]["discharge_m3s"]) == one.discharge_m3s
    assert float(rows[0]["rating_discharge_m3s"]) == one.rating.discharge_m3s
    assert float(rows[0]["e_n"]) == one.e_n
    assert rows[0]["verdict"] == one.word
    assert rows[0]["coverage_k"] == "2"
    listed = as_office.get(address + ".json").json()["rows"]
    assert listed[0]["discharge_m3s"] == one.discharge_m3s
    assert listed[0]["deviation_pct"] == one.deviation_pct


def test_words_in_a_note_stay_words(
    as_office: TestClient, gauged: tuple[Structure, str, str]
) -> None:
    structure, _, second = gauged
    page = as_office.get(f"/gaugings/{second}", headers=HTML).text
    assert "<b>bold</b>" not in page
    assert "&lt;b&gt;bold&lt;/b&gt;" in page
    text = as_office.get(f"/sites/{structure.site_id}/gaugings.csv").text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert rows[1]["remarks"].startswith("'=")  # runs in no spreadsheet


def test_page_of_one_shows_panels_parts_and_what_the_office_decided(
    as_crew: TestClient, gauged: tuple[Structure, str, str]
) -> None:
    _, first, second = gauged
    page = as_crew.get(f"/gaugings/{first}", headers=HTML).text
    for words in ("0.430", "15.9 %", "over 10 %", "number of verticals", "known to 12.0 % only"):
        assert words in page, words
    assert "style=" not in page
    trace = as_crew.get(f"/gaugings/{second}", headers=HTML).text
    assert "mixing not checked" in trace
    whole = as_crew.get(f"/gaugings/{first}.json").json()
    assert len(whole["gauging"]["panel_m3s"]) == 11
    assert whole["observed"]["verticals"][1]["distance_m"] == "0,2"


def test_range_and_structure_narrow_the_list(
    as_office: TestClient, gauged: tuple[Structure, str, str]
) -> None:
    structure, _, second = gauged
    address = f"/sites/{structure.site_id}/gaugings"
    day = (AT + timedelta(days=1, hours=12)).date()  # the site's clock is twelve hours ahead
    rows = as_office.get(f"{address}.json?from={day}").json()["rows"]
    assert [row["gauging_id"] for row in rows] == [second]
    assert as_office.get(f"{address}.json?structure=9999").json()["rows"] == []
    empty = as_office.get(f"{address}?from=2030-01-01", headers=HTML)
    assert "No check gauging in this range" in empty.text


def test_crew_may_look(as_crew: TestClient, gauged: tuple[Structure, str, str]) -> None:
    structure, first, _ = gauged
    for address in (
        f"/sites/{structure.site_id}/gaugings",
        f"/sites/{structure.site_id}/gaugings.csv",
        f"/gaugings/{first}",
        f"/gaugings/{first}.json",
    ):
        answer = as_crew.get(address)
        assert answer.status_code == 200
        assert first in answer.text, address
