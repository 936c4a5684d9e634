"""The page of one reading, and correcting it on the road that every observation takes."""

import html
import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.readings.page import explain
from tests.conftest import BEGIN, a_reading, send

HTML = {"accept": "text/html"}


def form_of(page: str) -> dict[str, str]:
    """Return what a browser would send back of a form untouched."""
    fields = {}
    for tag in re.findall(r"<input[^>]*>", page):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name and value and ('type="checkbox"' not in tag or " checked" in tag):
            fields[name[1]] = html.unescape(value[1])
    for name, body in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', page, re.S):
        chosen = re.search(r'value="([^"]*)" selected', body)
        fields[name] = chosen[1] if chosen else ""
    for name, body in re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>', page, re.S):
        fields[name] = html.unescape(body.strip())
    return fields


@pytest.fixture
def reading(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> str:
    structure, ines = a_site(zero_offset_m=0.002), a_person()
    at = BEGIN + timedelta(days=30)
    entry = a_reading(
        structure,
        ines,
        [0.299, 0.301, 0.300],
        tail_staff_m=0.26,
        at=at,
        body_entered={"unit": "mm", "text": ["299", "301", "300"]},
        body_note="weed <below>",
        body_conditions=["weed"],
        body_preview={
            "discharge_m3s": 0.095,
            "uncertainty_pct": 7.0,
            "flow": "submerged, corrected",
            "flags": [],
            "rating_id": 1,
            "table_hash": None,
        },
    )
    send(session, ines, entry)
    return str(entry["id"])


def test_the_page_explains_every_step(as_crew: TestClient, reading: str) -> None:
    page = as_crew.get(f"/readings/{reading}", headers=HTML).text
    for words in (
        "0.2990, 0.3010, 0.3000 m",
        "0.3000 m + 0.0020 m",
        "0.3020 m",
        "Submergence ratio",
        "0.87 is above 0.62",  # the lower published onset: Skogerboe et al. 1967, from memory
        "Factor for drowned flow",
        "device 3.0 %",
        "as stored",
        "from memory",
        "weed &lt;below&gt;",
        "The phone differs by",
        "Ines",
    ):
        assert words in page, words


def test_the_recomputation_notices_a_value_that_does_not_fit(
    session: Session, reading: str
) -> None:
    assert explain(session, reading).reproduced
    value = session.exec(select(FlowValue)).one()
    value.discharge_m3s = 0.123
    session.add(value)
    session.commit()
    found = explain(session, reading)
    assert found.reproduced is False
    assert "but stored is 0.123" in found.reproduction


def test_the_office_corrects_and_the_first_stays(
    as_office: TestClient, session: Session, reading: str
) -> None:
    form = form_of(as_office.get(f"/readings/{reading}/correct", headers=HTML).text)
    assert (form["staff_1"], form["tail_staff"], form["condition_weed"]) == ("299", "260", "yes")
    before = session.get(Entry, reading)
    assert before is not None
    kept = dict(before.body)
    session.commit()  # a session that looked holds SQLite's one write lock
    refused = as_office.post(f"/readings/{reading}/corrections", data=form, headers=HTML)
    assert refused.status_code == 422
    assert 'value="299"' in refused.text
    sent = form | {"reason": "tail staff misread", "tail_staff": "160"}
    answer = as_office.post(f"/readings/{reading}/corrections", data=sent, headers=HTML)
    assert answer.status_code == 303
    again = as_office.post(f"/readings/{reading}/corrections", data=sent, headers=HTML)
    assert again.headers["location"] == answer.headers["location"]  # sent twice, stored once
    session.expire_all()
    entries = {e.id: e for e in session.exec(select(Entry))}
    assert len(entries) == 2
    assert entries[reading].body == kept
    new = entries[answer.headers["location"].rsplit("/", 1)[1]]
    assert (new.corrects_id, new.reason) == (reading, "tail staff misread")
    assert new.body["tailwater"]["staff_m"] == 0.16
    assert new.body["staff_m"] == [0.299, 0.301, 0.3]
    assert new.observed_at == entries[reading].observed_at
    old_page = as_office.get(f"/readings/{reading}", headers=HTML).text
    assert "A correction has replaced this reading" in old_page
    assert "tail staff misread" in old_page


def test_crew_correct_their_own_only(
    as_crew: TestClient, session: Session, a_site: Callable[..., Structure], reading: str
) -> None:
    assert as_crew.get(f"/readings/{reading}/correct", headers=HTML).status_code == 403
    assert "Correct this reading" not in as_crew.get(f"/readings/{reading}", headers=HTML).text
    crew = session.exec(select(Person).where(Person.name == "Crew One")).one()
    mine = a_reading(a_site("MINE"), crew)
    send(session, crew, mine)
    form = form_of(as_crew.get(f"/readings/{mine['id']}/correct", headers=HTML).text)
    sent = form | {"reason": "wrong", "staff_1": "0,2"}
    path = f"/readings/{mine['id']}/corrections"
    assert as_crew.post(path, data=sent).status_code == 303
    assert as_crew.post(f"/readings/{reading}/corrections", data=sent).status_code == 403


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("staff_1", "wet"),
        ("staff_1", "999999"),
        ("observed_at", "yesterday"),
        ("tail_state", "maybe"),
        ("tail_staff", ""),
        ("occasion", "never"),
        ("structure_id", "99"),
        ("unit", "ft"),
        ("correction_id", "no id"),
        ("made_at", "noon"),
    ],
)
def test_an_impossible_correction_is_refused_and_stores_nothing(
    as_office: TestClient, session: Session, reading: str, field: str, typed: str
) -> None:
    form = form_of(as_office.get(f"/readings/{reading}/correct", headers=HTML).text)
    sent = form | {"reason": "x", field: typed}
    answer = as_office.post(f"/readings/{reading}/corrections", data=sent, headers=HTML)
    assert answer.status_code == 422
    assert len(session.exec(select(Entry)).all()) == 1


def test_a_corrected_time_takes_its_repeats_along(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    at = BEGIN + timedelta(days=30)
    times = ["2024-07-31T00:00:00.000Z", "2024-07-31T00:01:00.000Z"]
    entry = a_reading(structure, ines, [0.2, 0.201], at=at, body_read_at=times)
    send(session, ines, entry)
    path = f"/readings/{entry['id']}"
    form = form_of(as_office.get(f"{path}/correct", headers=HTML).text)
    assert form["observed_at"] == "2024-07-31T12:00"
    sent = form | {"reason": "clock an hour fast", "observed_at": "2024-07-31T11:00"}
    answer = as_office.post(f"{path}/corrections", data=sent)
    new = session.get(Entry, answer.headers["location"].rsplit("/", 1)[1])
    assert new is not None
    assert new.observed_at == at - timedelta(hours=1)
    assert new.body["read_at"] == ["2024-07-30T23:00:00.000Z", "2024-07-30T23:01:00.000Z"]


def test_a_withdrawn_rival_leaves_one_standing(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person("Ines")
    first = a_reading(structure, ines, 0.31)
    rivals = [
        a_reading(structure, ines, head, corrects=first["id"], reason="misread")
        for head in (0.21, 0.22)
    ]
    send(session, ines, first, *rivals)
    site = structure.site_id
    session.commit()
    address = f"/sites/{site}/readings.json"
    rows = as_office.get(address).json()["rows"]
    assert [r["rival"] for r in rows] == [True, True]
    assert "rival" in as_office.get("/review", headers={"accept": "text/html"}).text
    page = f"/readings/{rivals[0]['id']}"
    without = as_office.post(f"{page}/withdrawals", headers={"accept": "text/html"}, data={})
    assert without.status_code == 422
    done = as_office.post(f"{page}/withdrawals", data={"reason": "the second one is right"})
    assert done.status_code == 303
    rows = as_office.get(address).json()["rows"]
    assert [(r["reading_id"], r["rival"]) for r in rows] == [(rivals[1]["id"], False)]
    shown = as_office.get(page, headers={"accept": "text/html"}).text
    assert "the second one is right" in shown
    # Withdrawing the other one too brings the first reading back, as it was seen.
    as_office.post(f"/readings/{rivals[1]['id']}/withdrawals", data={"reason": "neither"})
    rows = as_office.get(address).json()["rows"]
    assert [r["reading_id"] for r in rows] == [first["id"]]


def test_the_barest_reading_shows_on_every_page(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person("Ines")
    bare = a_reading(structure, ines)
    bare["body"] = {"staff_m": [0.21]}  # all the rest left to its defaults
    [receipt] = send(session, ines, bare)
    assert receipt.state == "stored"
    site = structure.site_id
    session.commit()
    for path in (
        f"/readings/{bare['id']}",
        f"/readings/{bare['id']}/correct",
        f"/sites/{site}/readings",
        f"/sites/{site}/readings.csv",
        f"/sites/{site}/readings.json",
        f"/structures/{structure.id}/layers",
        f"/structures/{structure.id}/rating-tests",
        "/review",
        "/pack",
    ):
        assert as_office.get(path, headers=HTML).status_code == 200, path
