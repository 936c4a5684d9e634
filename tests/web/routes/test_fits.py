"""The page of a fit: nothing typed is lost, nothing is stored before it was looked at."""

import html
from collections.abc import Callable

import numpy as np
import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.people import Person
from app.records.sites import Rating, Structure
from app.services.fits.candidates import OUT, WHY
from tests.builders.check_gaugings import gauge
from tests.conftest import a_reading, send
from tests.markup import tight
from tests.web.routes.test_readings import form_of

HTML = {"accept": "text/html"}
HEADS = [float(h) for h in np.round(np.linspace(0.09, 0.42, 12), 3)]
FLOWS = [
    0.72 * h**1.53 * float(f)
    for h, f in zip(
        HEADS,
        np.exp(np.random.default_rng(3).normal(0, 0.01, 12)),
        strict=True,
    )
]


@pytest.fixture
def ids(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> list[str]:
    structure, ines = a_site(), a_person()
    ids = gauge(session, structure, ines, HEADS, FLOWS)
    send(session, ines, a_reading(structure, ines, 0.25, tail_state="clearly_free"))
    return ids


def ratings(session: Session) -> int:
    count = len(session.exec(select(Rating)).all())
    session.commit()
    return count


def filled(**changes: str) -> dict[str, str]:
    return {
        "asked": "yes",
        "valid_from": "2024-07-02T00:00",
        "rating_pct": "4",
        "modular_limit": "",
        "reason": "two seasons <of> gaugings",
        **changes,
    }


def test_the_road_from_gaugings_to_a_rating(
    session: Session, as_office: TestClient, ids: list[str]
) -> None:
    page = as_office.get("/structures/1/fits", headers=HTML)
    assert page.status_code == 200
    assert "Make it a rating" in page.text
    form = form_of(page.text)
    assert float(form["rating_pct"]) > 0
    look = as_office.post("/structures/1/fits", data=filled(do="look"), headers=HTML)
    assert look.status_code == 200
    assert "Nothing is stored yet" in look.text
    assert "two seasons <of> gaugings" in html.unescape(look.text)
    assert ratings(session) == 1
    hidden = form_of(look.text)
    back = as_office.post("/structures/1/fits", data={**hidden, "do": "back"}, headers=HTML)
    assert form_of(back.text)["reason"] == "two seasons <of> gaugings"
    stored = as_office.post("/structures/1/fits", data={**hidden, "do": "store"})
    assert stored.status_code == 303
    assert stored.headers["location"] == "/sites/1/rate-again"
    assert ratings(session) == 2
    again = as_office.get("/sites/1/rate-again", headers=HTML)
    assert "With another value</dt><dd>1</dd>" in tight(again.text)
    assert as_office.get("/structures/1/standing?every=yes", headers=HTML).status_code == 200


def test_a_date_before_another_rating_says_when_that_takes_over(
    as_office: TestClient, ids: list[str]
) -> None:
    early = filled(do="look", valid_from="2024-06-01T00:00")
    look = as_office.post("/structures/1/fits", data=early, headers=HTML)
    assert "only until 2024-07-01 12:00" in look.text
    assert "No reading of the site would get another value" in look.text


def test_a_refusal_keeps_all_that_was_typed(
    session: Session, as_office: TestClient, ids: list[str]
) -> None:
    typed = filled(
        do="store", valid_from="soon", rating_pct="3,5", prior_exponent="1,5", prior_sd="0,1"
    ) | {OUT + ids[2]: "yes", WHY + ids[2]: "stock in the race"}
    answer = as_office.post("/structures/1/fits", data=typed, headers=HTML)
    assert answer.status_code == 422
    assert "a date with a time" in answer.text
    back = form_of(answer.text)
    for key in (
        "valid_from",
        "rating_pct",
        "prior_exponent",
        "prior_sd",
        OUT + ids[2],
        WHY + ids[2],
    ):
        assert back[key] == typed[key]
    assert back["reason"] == typed["reason"]
    assert ratings(session) == 1


def test_a_gauging_left_out_without_a_reason(as_office: TestClient, ids: list[str]) -> None:
    answer = as_office.get(f"/structures/1/fits?asked=yes&{OUT}{ids[0]}=yes", headers=HTML)
    assert answer.status_code == 422
    assert "left out only for a reason" in answer.text
    assert form_of(answer.text)[OUT + ids[0]] == "yes"
    assert "Make it a rating" not in answer.text


def test_too_few_offer_theory(as_office: TestClient, ids: list[str]) -> None:
    few = "/structures/1/fits?asked=yes&to=2024-08-10"  # four gaugings
    answer = as_office.get(few, headers=HTML)
    assert answer.status_code == 422
    text = html.unescape(answer.text)
    assert "at least 6 are needed" in text
    assert "prior_exponent=1.522" in text
    steadied = as_office.get(few + "&prior_exponent=1.522&prior_sd=0.05", headers=HTML)
    assert steadied.status_code == 200


def test_lists_and_chart(as_office: TestClient, ids: list[str]) -> None:
    query = f"asked=yes&{OUT}{ids[0]}=yes&{WHY}{ids[0]}=weed"
    rows = as_office.get(f"/structures/1/fits.json?{query}").json()["rows"]
    assert [row["used"] for row in rows] == [False] + [True] * 11
    assert rows[0]["why_not"] == "weed"
    bands = as_office.get(f"/structures/1/fit-bands.json?{query}").json()["rows"]
    assert all(0 < row["mean_pct"] < row["single_pct"] for row in bands)
    chart = as_office.get(f"/structures/1/fits/charts.json?{query}&scale=log").json()["fit"]
    assert [band["name"] for band in chart["bands"]] == ["a single gauging, 95 %", "the mean, 95 %"]
    marks = [point["mark"] for point in chart["points"]]
    assert marks.count("not counted") == 1
    assert as_office.get(f"/structures/1/fits.csv?{query}").text.startswith("gauging_id,")
    assert as_office.get(f"/structures/1/fit-bands.csv?{query}").text.startswith("head_m,")


def test_crew_may_not_fit(as_crew: TestClient, ids: list[str]) -> None:
    assert as_crew.get("/structures/1/fits").status_code == 403
    assert as_crew.post("/structures/1/fits", data=filled(do="store")).status_code == 403
    page = as_crew.get("/structures/1/standing", headers=HTML)
    assert page.status_code == 200
    assert "Fit a rating" not in page.text
