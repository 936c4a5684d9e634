"""The pages of a tested rating and its tables: the same figures on page, CSV and JSON."""

import csv
import html
import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Rating, Structure
from app.services.fits import tests as rating_tests
from tests.builders.check_gaugings import FLOAT, a_gauging, gauge
from tests.conftest import BEGIN, a_reading, send

HTML = {"accept": "text/html"}
HEADS = [0.1, 0.15, 0.2, 0.25, 0.3]
FLOWS = [0.0207, 0.0391, 0.0595, 0.0842, 0.1098]


@pytest.fixture
def structure(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Structure:
    structure, ines = a_site(), a_person()
    gauge(session, structure, ines, HEADS, FLOWS)
    send(
        session,
        ines,
        a_gauging(structure, ines, 0.2, 0.06, at=BEGIN + timedelta(days=90), observed=FLOAT),
        a_reading(structure, ines, 0.2, at=BEGIN + timedelta(days=91)),
        a_reading(structure, ines, 0.22, at=BEGIN + timedelta(days=99)),
    )
    return structure


def test_page_csv_json_and_chart_agree(
    session: Session, as_office: TestClient, structure: Structure
) -> None:
    base = f"/structures/{structure.id}"
    found = rating_tests.rating_tested(session, structure.id or 0, BEGIN + timedelta(days=100))
    session.commit()
    page = as_office.get(f"{base}/rating-tests", headers=HTML)
    assert page.status_code == 200
    text = html.unescape(page.text)
    assert found.tests is not None
    assert found.tests.bias.words in text
    assert "an indication only" in text
    rows = list(csv.DictReader(io.StringIO(as_office.get(f"{base}/tested-gaugings.csv").text)))
    listed = as_office.get(f"{base}/tested-gaugings.json").json()["rows"]
    chart = as_office.get(f"{base}/rating-tests/charts.json").json()
    assert len(rows) == len(listed) == len(found.points) == 6
    for row, said, point in zip(rows, listed, found.points, strict=True):
        assert float(row["deviation_pct"]) == said["deviation_pct"] == point.one.deviation_pct
        assert row["verdict"] == point.one.word
    by_time = [p["y"] for p in chart["time"]["points"]]
    assert by_time == [row["deviation_pct"] for row in listed]
    assert {p["href"] for p in chart["curve"]["points"]} == {
        f"/gaugings/{row['gauging_id']}" for row in listed
    }
    assert chart["curve"]["y"]["label"] == "Discharge, L/s"


def test_the_view_lives_in_the_address(as_office: TestClient, structure: Structure) -> None:
    base = f"/structures/{structure.id}"
    page = as_office.get(f"{base}/rating-tests?scale=log&rating=1&every=yes&from=2024-07-15")
    assert page.status_code == 200
    assert 'aria-current="true">logarithmic' in page.text
    log = as_office.get(f"{base}/rating-tests/charts.json?scale=log&from=2024-07-15").json()
    axis = log["curve"]["x"]
    assert axis["log"]
    assert axis["low"] > 0
    assert set(axis["ticks"]) >= {50.0, 100.0, 200.0}
    assert len(log["time"]["points"]) == 5  # the first gauging lies before that day


def test_seasons_and_ratings_as_lists(as_office: TestClient, structure: Structure) -> None:
    base = f"/structures/{structure.id}"
    seasons = as_office.get(f"{base}/seasons.json").json()["rows"]
    assert sum(row["gaugings"] for row in seasons if row["year"] == "all years") == 5
    [side] = as_office.get(f"{base}/ratings-compared.json").json()["rows"]
    assert side["change_m3"] == 0.0
    assert side["volume_m3"] > 0
    assert as_office.get(f"{base}/ratings-compared.csv").text.startswith("rating_id,")
    assert as_office.get(f"{base}/seasons.csv").text.startswith("season,year,")


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("from=soon", "a day between 1990 and 2100"),
        ("from=2026-02-01&to=2026-01-01", "the last day lies before the first"),
        ("rating=77", "no such rating"),
    ],
)
def test_a_bad_view_names_its_field_and_shows_the_page(
    as_office: TestClient, structure: Structure, query: str, words: str
) -> None:
    page = as_office.get(f"/structures/{structure.id}/rating-tests?{query}", headers=HTML)
    assert page.status_code == 422
    assert words in page.text
    assert "What the gaugings say together" in page.text
    if query.startswith("from="):
        assert f'value="{query[5:].partition("&")[0]}"' in page.text  # what was typed stays
    for name in (
        "tested-gaugings.csv",
        "rating-tests/charts.json",
        "seasons.json",
        "ratings-compared.csv",
    ):
        answer = as_office.get(f"/structures/{structure.id}/{name}?{query}")
        assert answer.status_code == 422
        assert set(answer.json()) >= {"field", "value", "rule", "remedy"}


def test_pages_without_rating_or_gauging(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    bare, quiet = a_site("BARE", rated=False), a_site("QUIET")
    page = as_office.get(f"/structures/{bare.id}/rating-tests", headers=HTML)
    assert page.status_code == 200
    assert "no rating yet" in page.text
    page = as_office.get(f"/structures/{quiet.id}/rating-tests", headers=HTML)
    assert "No check gauging" in page.text
    assert as_office.get("/structures/999/rating-tests", headers=HTML).status_code == 404
    assert as_office.get(f"/structures/{bare.id}/rating-tests/charts.json").status_code == 200
    assert as_office.get(f"/structures/{bare.id}/fits", headers=HTML).status_code == 200


def test_rating_table_and_card(as_crew: TestClient, structure: Structure) -> None:
    base = f"/structures/{structure.id}/ratings/1"
    answer = as_crew.get(f"{base}/table.csv?step=5")
    assert answer.headers["content-type"].startswith("text/csv")
    assert "rating-1-TANSY-5mm.csv" in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert list(rows[0])[:5] == ["head_m", "discharge_m3s", "uncertainty_pct", "flow", "flags"]
    assert len(as_crew.get(f"{base}/table.json?step=1").json()["rows"]) == 760
    page = html.unescape(as_crew.get(f"{base}/card?step=5", headers=HTML).text)
    for words in ("Rating", "In force", "Free flow only", "Limits:", "Sources:", "no certificate"):
        assert words in page
    assert as_crew.get(f"{base}/card?step=3", headers=HTML).status_code == 422
    assert as_crew.get(f"{base}/table.csv?step=3").status_code == 422
    assert as_crew.get(f"/structures/{structure.id}/ratings/9/card").status_code == 404


def test_a_rating_that_cannot_be_built_says_so_on_its_card(
    session: Session, as_crew: TestClient, structure: Structure
) -> None:
    session.add(
        Rating(
            structure_id=structure.id or 0,
            valid_from=BEGIN + timedelta(days=400),
            family="gone",
            dims={},
            reason="from another release",
        )
    )
    session.commit()
    for path in ("ratings/2/card", "ratings/2/table.csv"):
        answer = as_crew.get(f"/structures/{structure.id}/{path}", headers=HTML)
        assert answer.status_code == 422, path
        assert "gone" in answer.text
    assert as_crew.get(f"/structures/{structure.id}/rating-tests", headers=HTML).status_code == 200
    assert (
        as_crew.get(f"/structures/{structure.id}/rating-tests?every=yes", headers=HTML).status_code
        == 200
    )
