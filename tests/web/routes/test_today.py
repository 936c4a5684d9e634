"""Today: every line counts what its list holds, the state of a look is in its address."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Rating, Site, Structure
from app.services.today import find
from tests.builders import many_sites
from tests.builders.record_files import STEP_S, calm, log_text
from tests.conftest import a_reading, send

HTML = {"accept": "text/html"}
PART = {"accept": "text/html", "hx-request": "true"}


def work(client: TestClient) -> dict[str, dict[str, Any]]:
    answer = client.get("/today/work.json")
    assert answer.status_code == 200
    return {row["key"]: row for row in answer.json()["rows"]}


def list_behind(client: TestClient, address: str) -> list[dict[str, Any]]:
    """Return the rows of the list that a line leads to."""
    parts = urlsplit(address)
    assert client.get(address, headers=HTML).status_code == 200, address
    answer = client.get(f"{parts.path}.json" + (f"?{parts.query}" if parts.query else ""))
    assert answer.status_code == 200, address
    rows: list[dict[str, Any]] = answer.json()["rows"]
    return rows


def test_the_first_page_by_role(as_office: TestClient, as_crew: TestClient) -> None:
    assert as_office.get("/").headers["location"] == "/today"
    assert as_crew.get("/").headers["location"] == "/field"
    assert as_crew.get("/today", headers=HTML).status_code == 403


def test_an_empty_database_says_what_to_do_first(as_steward: TestClient) -> None:
    text = as_steward.get("/today", headers=HTML).text
    assert 'href="/sites/new"' in text
    assert "Make a site" in text
    assert 'href="/people"' in text
    assert as_steward.get("/today.json").json()["rows"] == []
    assert work(as_steward) == {}


@pytest.fixture
def troubled(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Structure:
    """Give sites with something of nearly every kind that needs a person."""
    now = datetime.now(UTC)
    clerk, crew = a_person("Rudd", "office"), a_person("Ines")
    structure = a_site("TANSY")
    session.add(Site(code="BARE", name="Bare (invented)", utc_offset_min=720))
    a_site("NOZERO", zeroed=False)
    many_sites.template(session, clerk, now, days=40, visits_every=7)
    reading = a_reading(structure, crew, at=now - timedelta(days=100))
    send(session, crew, reading)
    send(session, crew, {**a_reading(structure, crew), "site_id": 9999})  # refused
    for reason in ("staff misread", "no, this one"):  # rivals
        again = a_reading(structure, crew, 0.22, at=now - timedelta(days=100))
        send(session, crew, {**again, "corrects": reading["id"], "reason": reason})
    send(session, crew, a_reading(structure, crew, at=now + timedelta(days=3)))  # ahead
    session.add(
        Rating(
            structure_id=structure.id, valid_from=now - timedelta(days=200), family="parshall",
            dims={"size": "2ft"}, reason="measured anew",
        )
    )  # fmt: skip
    session.commit()
    return structure


def test_every_line_counts_what_its_list_holds(
    as_office: TestClient, session: Session, troubled: Structure
) -> None:
    t_s = 1_700_000_000 // STEP_S * STEP_S + STEP_S * np.arange(500)
    upload = {"file": ("late.csv", log_text(t_s, calm(t_s)), "text/csv")}
    site_id = troubled.site_id
    as_office.post(f"/sites/{site_id}/loggers/files", files=upload, headers=HTML)
    lines = work(as_office)
    assert {"refused", "rival", "ahead", "stale", "takes", "zeros", "unfinished", "quiet"} <= set(
        lines
    ), sorted(lines)
    for key, line in lines.items():
        assert line["count"] == len(list_behind(as_office, line["address"])), key
    page = as_office.get("/today", headers=HTML).text
    for line in lines.values():
        assert line["title"] in page.replace("&#39;", "'")
    order = ["act now", "today", "soon", "when there is time"]
    said = [order.index(line["urgency"]) for line in lines.values()]
    assert said == sorted(said), "most pressing first"


def test_every_link_of_a_line_opens(as_office: TestClient, troubled: Structure) -> None:
    page = as_office.get("/today", headers=HTML).text
    block = page[page.index('class="work"') : page.index('id="sites"')]
    links = {x.replace("&amp;", "&") for x in re.findall(r'href="([^"]+)"', block)}
    assert len(links) > 8
    for link in links:
        assert as_office.get(link.split("#")[0], headers=HTML).status_code == 200, link


def test_a_stale_site_is_one_click_from_rating_again(
    as_office: TestClient, troubled: Structure
) -> None:
    page = as_office.get("/today", headers=HTML).text
    assert f'href="/sites/{troubled.site_id}/rate-again"' in page


def test_an_answer_takes_a_line_away(as_office: TestClient, troubled: Structure) -> None:
    item = next(r for r in list_behind(as_office, "/review?kind=refused"))
    form = {"key": item["key"], "action": "accept", "revision": "0", "text": ""}
    assert as_office.post("/review", data=form).status_code == 303
    assert "refused" not in work(as_office)


def test_levels_due_say_why(as_office: TestClient, session: Session, troubled: Structure) -> None:
    rows = {r["site_code"]: r for r in list_behind(as_office, "/today/levels")}
    assert rows["NOZERO"]["state"] == "no zero in force"
    assert rows["TANSY"]["state"] == "not proven"
    assert rows["TANSY"]["levelled_at"] is None
    assert next(iter(rows)) == "NOZERO", "worst first"


def test_search_filter_order_and_pages_are_in_the_address(
    as_office: TestClient, session: Session, a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:  # fmt: skip
    now, crew = datetime.now(UTC), a_person("Ines")
    for k in range(find.SITES_A_PAGE + 7):
        a_site(f"S{k:03d}")
    tansy = a_site("TANSY")
    send(
        session, crew,
        a_reading(tansy, crew, at=now - timedelta(days=2), tail_state="clearly_free"),
    )  # fmt: skip
    first, second = (as_office.get(f"/today?page={n}", headers=PART).text for n in (1, 2))
    assert f"1 to {find.SITES_A_PAGE} of {find.SITES_A_PAGE + 8} sites" in first
    assert "TANSY" in second
    assert "TANSY" not in first
    assert "<html" not in first, "a part has no frame"
    assert "<html" in as_office.get("/today?page=2", headers=HTML).text
    whole = as_office.get("/today", headers=PART | {"hx-history-restore-request": "true"}).text
    assert "<html" in whole, "Back gets the whole page"
    found = as_office.get("/today.json?find=tansy%20FLUME").json()["rows"]
    assert [row["code"] for row in found] == ["TANSY"]
    free = as_office.get("/today.json?state=free").json()["rows"]
    assert [row["code"] for row in free] == ["TANSY"]
    assert free[0]["discharge_m3s"] > 0
    assert free[0]["uncertainty_pct"] > 0
    nothing = as_office.get("/today.json?state=nothing").json()["rows"]
    assert len(nothing) == find.SITES_A_PAGE + 7
    assert as_office.get("/today.json?sort=discharge").json()["rows"][0]["code"] == "TANSY"
    assert as_office.get("/today.json?sort=age").json()["rows"][-1]["code"] == "TANSY"
    assert (
        'href="/today?state=nothing&amp;sort=age&amp;page=2"'
        in as_office.get("/today?state=nothing&sort=age", headers=HTML).text
    )
    csv = as_office.get("/today.csv?state=free").text.splitlines()
    assert len(csv) == 2


@pytest.mark.parametrize(
    "query", ["state=fine", "sort=colour", "page=0", "page=-1", "page=x", "page=1e9"]
)
def test_a_look_that_is_none_is_refused_with_the_page(as_office: TestClient, query: str) -> None:
    answer = as_office.get(f"/today?{query}", headers=HTML)
    assert answer.status_code == 422
    assert "Traceback" not in answer.text
