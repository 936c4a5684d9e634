"""Review: answers to items, months on their way, two people at once, and the mark on the phone."""

from collections.abc import Callable
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.people import Person
from app.records.review import ReviewDecision
from app.records.sites import Structure
from tests.builders.web_record_files import HTML, a_file, imported, uploaded
from tests.conftest import BEGIN, a_reading, send, signed_in
from tests.markup import tight


@pytest.fixture
def record(as_office: TestClient, a_site: Callable[..., Structure], session: Session) -> Structure:
    structure = a_site()
    session.commit()
    imported(as_office, structure.site_id, structure.id or 0, a_file(70, peak_at=3000))
    return structure


@pytest.fixture
def second(app: FastAPI, a_person: Callable[..., Person]) -> TestClient:
    a_person("Office Two", "office")
    return signed_in(app, "Office Two")


def spike(client: TestClient) -> dict[str, Any]:
    rows = client.get("/review.json").json()["rows"]
    found: dict[str, Any] = next(row for row in rows if row["title"] == "spike")
    return found


def test_the_queue_takes_words_and_answers(as_office: TestClient, record: Structure) -> None:
    item = spike(as_office)
    page = as_office.get("/review", headers=HTML).text
    assert "<kbd>j</kbd>" in page
    assert "Accept and set aside" in page
    form = {"key": item["key"], "revision": "0", "text": "", "next": "0123456789"}
    silent = as_office.post("/review", data={**form, "action": "return"}, headers=HTML)
    assert silent.status_code == 422
    said = {**form, "text": "looks like a bird", "action": "comment"}
    going = as_office.post("/review", data=said).headers["location"]
    assert "at=0123456789" in going  # the item to go on with
    assert "looks like a bird" in as_office.get("/review", headers=HTML).text
    before = as_office.get(f"/structures/{record.id}/daily.csv").text
    aside = {**form, "revision": "1", "action": "accept with correction", "text": "a bird"}
    assert as_office.post("/review", data=aside).status_code == 303
    assert as_office.get(f"/structures/{record.id}/daily.csv").text != before
    assert "a bird" in as_office.get(f"/structures/{record.id}/layers", headers=HTML).text


def test_two_people_at_once(
    as_office: TestClient, second: TestClient, record: Structure, session: Session
) -> None:
    form = {"key": spike(as_office)["key"], "revision": "0", "text": "mine"}
    assert as_office.post("/review", data={**form, "action": "accept"}).status_code == 303
    late = second.post("/review", data={**form, "text": "theirs", "action": "return"}, headers=HTML)
    assert late.status_code == 409
    assert "Office One" in late.text  # sees the first one's answer
    assert "mine" in late.text
    assert ">theirs</textarea>" in tight(late.text)  # and has lost nothing
    assert [row.text for row in session.exec(select(ReviewDecision))] == ["mine"]
    session.commit()


def test_months_go_to_approved_and_open_again_with_a_reason(
    as_office: TestClient,
    second: TestClient,
    as_crew: TestClient,
    record: Structure,
    session: Session,
) -> None:
    crew = session.exec(select(Person).where(Person.name == "Crew One")).one()
    send(session, crew, a_reading(record, crew, 0.25, at=BEGIN.replace(month=9, day=20)))
    session.commit()

    def reviewed() -> bool:
        recent = as_crew.get("/pack").json()["sites"][0]["recent"]
        return bool(recent[0]["reviewed"])

    path = f"/structures/{record.id}/months"
    september = f"{path}/2024-09"
    assert not reviewed()
    assert as_office.post(september, data={"to": "reviewed", "revision": "0"}).status_code == 303
    assert reviewed()
    late = second.post(september, data={"to": "reviewed", "revision": "0"}, headers=HTML)
    assert late.status_code == 409
    blocked = as_office.post(september, data={"to": "approved", "revision": "1"}, headers=HTML)
    open_items = [
        row
        for row in as_office.get("/review.json").json()["rows"]
        if row["from_at"] >= "2024-08-31"
    ]
    assert (blocked.status_code == 422) == bool(open_items)
    for row in open_items:
        form = {"key": row["key"], "revision": "0", "action": "accept", "text": "seen"}
        assert as_office.post("/review", data=form).status_code == 303
    if open_items:
        done = as_office.post(september, data={"to": "approved", "revision": "1"})
        assert done.status_code == 303
    page = as_office.get(path, headers=HTML).text
    assert 'data-state="approved"' in page
    assert "Office One" in page
    layer = {
        "shape": "offset", "quantity": "head", "from": "2024-09-05T00:00",
        "to": "2024-09-06T00:00", "amount": "0.004", "reason": "late thought",
    }  # fmt: skip
    refused = as_office.post(f"/structures/{record.id}/layers", data=layer, headers=HTML)
    assert refused.status_code == 422
    assert "Open the month again with a reason" in refused.text
    no_reason = as_office.post(september, data={"to": "draft", "revision": "2"}, headers=HTML)
    assert no_reason.status_code == 422
    again = {"to": "draft", "revision": "2", "reason": "the staff was misread"}
    assert as_office.post(september, data=again).status_code == 303
    assert not reviewed()
    assert "the staff was misread" in as_office.get("/audit", headers=HTML).text


def test_the_lists_hold_what_the_page_shows_under_the_same_filter(
    as_office: TestClient, record: Structure
) -> None:
    uploaded(as_office, record.site_id, a_file(2))  # an item of today
    whole = as_office.get("/review.json").json()["rows"]
    inside = as_office.get("/review.json?month=2024-09").json()["rows"]
    assert 0 < len(inside) < len(whole)
    assert all(row["from_at"] < "2024-10" and row["to_at"] >= "2024-08-31" for row in inside)
    lines = as_office.get("/review.csv?month=2024-09").text.strip().split("\r\n")
    assert len(lines) == 1 + len(inside)
    page = as_office.get("/review?month=2024-09", headers=HTML).text
    assert page.count("data-item") == len(inside)
    assert "/review.csv?month=2024-09" in page
    assert as_office.get("/review.json?month=soon").status_code == 422
    assert as_office.get("/review.csv?state=none").status_code == 422
