"""What stands, asked at every address that shows it; the page of an entry; the items of review."""

import csv
import io
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.people import Person
from app.records.sites import GaugeZero, Structure
from app.services.readings import list as readings
from tests.builders.check_gaugings import a_gauging
from tests.builders.survey_entries import a_run, an_entry
from tests.conftest import BEGIN, a_reading, iso, send, signed_in

HTML = {"accept": "text/html"}


def ids_of(client: TestClient, address: str, key: str) -> set[str]:
    """Return the ids of a list, which its CSV and its JSON agree about."""
    rows = client.get(f"{address}.json").json()["rows"]
    table = list(csv.DictReader(io.StringIO(client.get(f"{address}.csv").text)))
    assert [r[key] for r in table] == [r[key] for r in rows]
    return {row[key] for row in rows}


def test_every_address_agrees_about_a_reading_brought_back(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    first = a_reading(structure, ines, 0.2)
    fix = a_reading(structure, ines, 0.3, corrects=first["id"], reason="misread")
    send(session, ines, first, fix)
    place = f"/sites/{structure.site_id}"

    def agree(stands: dict[str, Any], other: dict[str, Any]) -> None:
        assert ids_of(as_office, f"{place}/history", "id") == {stands["id"]}
        assert ids_of(as_office, f"{place}/readings", "reading_id") == {stands["id"]}
        [daily] = as_office.get(f"{place}/daily-readings.json").json()["rows"]
        [listed] = as_office.get("/sites.json").json()["rows"]
        [again] = as_office.get(f"{place}/history.json").json()["rows"]
        assert listed["readings"] == daily["readings"] == 1
        assert listed["last_discharge_m3s"] == again["discharge_m3s"] == daily["mean_m3s"]
        pack = as_office.get("/pack").json()
        assert [r["id"] for r in pack["sites"][0]["recent"]] == [stands["id"]]
        assert [r["id"] for r in pack["sites"][0]["set_aside"]] == [other["id"]]
        page = as_office.get(f"{place}/readings", headers=HTML).text
        assert stands["id"] in page
        assert other["id"] not in page
        shown = as_office.get(f"/entries/{stands['id']}", headers=HTML).text
        assert "It stands." in shown
        assert "It stands." not in as_office.get(f"/entries/{other['id']}", headers=HTML).text

    agree(fix, first)
    page = f"/entries/{fix['id']}"
    assert as_office.post(f"{page}/withdrawals", headers=HTML, data={}).status_code == 422
    done = as_office.post(f"{page}/withdrawals", data={"reason": "it was right at first"})
    assert (done.status_code, done.headers["location"]) == (303, f"/readings/{fix['id']}")
    agree(first, fix)
    assert "Withdrawn</a> by" in as_office.get(f"/readings/{fix['id']}", headers=HTML).text
    links = as_office.get("/pack").json()["links"]
    drop = next(one for one in links if one["kind"] == "withdrawal")
    assert as_office.get(f"/entries/{drop['id']}", headers=HTML).status_code == 200
    as_office.post(f"/entries/{drop['id']}/withdrawals", data={"reason": "no, misread"})
    agree(fix, first)


def test_a_gauging_and_a_run_can_be_withdrawn_on_their_pages(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    gauging, run = a_gauging(structure, ines, 0.2, 0.06), a_run(structure, ines)
    send(session, ines, gauging, run)
    place = f"/sites/{structure.site_id}"
    assert ids_of(as_office, f"{place}/gaugings", "gauging_id") == {gauging["id"]}
    for entry, page, words in (
        (gauging, "/gaugings", "This gauging was withdrawn"),
        (run, "/level-runs", "This run was withdrawn"),
    ):
        address = f"{page}/{entry['id']}"
        assert f"/entries/{entry['id']}/withdrawals" in as_office.get(address, headers=HTML).text
        done = as_office.post(f"/entries/{entry['id']}/withdrawals", data={"reason": "practice"})
        assert done.headers["location"] == address
        after = as_office.get(address, headers=HTML).text
        assert words in after
        assert f"/entries/{entry['id']}/withdrawals" not in after
    assert ids_of(as_office, f"{place}/gaugings", "gauging_id") == set()
    pack = as_office.get("/pack").json()
    assert pack["sites"][0]["check_gaugings"] == []
    assert pack["survey"]["sites"][str(structure.site_id)]["runs"] == []


def test_crew_withdraw_only_their_own(
    app: Any, session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines, _ = a_site(), a_person(), a_person("Odo")
    entry = an_entry("photo", structure, ines, {"sha256": "0" * 64})
    send(session, ines, entry)
    page = f"/entries/{entry['id']}"
    odo = signed_in(app, "Odo")
    assert "Withdraw it" not in odo.get(page, headers=HTML).text
    assert odo.post(f"{page}/withdrawals", data={"reason": "mine now"}).status_code == 403
    mine = signed_in(app, "Ines")
    assert "Withdraw it" in mine.get(page, headers=HTML).text
    assert mine.post(f"{page}/withdrawals", data={"reason": "blurred"}).status_code == 303
    assert "counts no more" in mine.get(page, headers=HTML).text
    assert mine.get(f"/entries/{uuid.uuid4()}").status_code == 404


@pytest.fixture
def doubtful(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> dict[str, dict[str, Any]]:
    """Send one of each doubt; return the entry that review must name, by its word."""
    here, ines, odo = a_site("HERE"), a_person(), a_person("Odo")
    there = a_site("THERE")
    because = {"reason": "invented"}
    first = a_reading(here, ines)
    meddled = a_reading(here, odo, corrects=first["id"], **because)
    send(session, odo, meddled)
    absent = a_reading(here, ines, corrects=str(uuid.uuid4()), **because)
    gauging = a_gauging(here, ines, 0.2, 0.06) | {"corrects": first["id"]} | because
    elsewhere = a_reading(there, ines, corrects=first["id"], **because)
    run = a_run(here, ines, set_zero={"from": iso(BEGIN + timedelta(days=1)), "reason": "first"})
    stop = an_entry("install_stop", here, ines, {"stop": "S1"})
    rivals = [
        an_entry("install_stop", here, ines, {"stop": "S1"}, corrects=stop["id"], **because)
        for _ in range(2)
    ]
    ring = [a_reading(here, ines, **because) for _ in range(2)]
    ring[0]["corrects"], ring[1]["corrects"] = ring[1]["id"], ring[0]["id"]
    dropped = an_entry("withdrawal", here, ines, {}, corrects=run["id"], **because)
    sent = [first, absent, gauging, elsewhere, run, stop, *rivals, *ring]
    receipts = send(session, ines, *sent) + send(session, ines, dropped)
    assert [r.state for r in receipts] == ["stored"] * (len(sent) + 1)
    assert session.exec(select(GaugeZero).where(GaugeZero.run_entry_id == run["id"])).all()
    session.commit()  # lets go of the write lock: the server writes next
    return {
        "crew corrected an entry of somebody else": meddled,
        "a correction waits for what it corrects": absent,
        "a correction names an entry of another kind": gauging,
        "a correction names an entry of another site": elsewhere,
        "two corrections of one entry stand side by side": stop,
        "entries correct each other in a ring": min(ring, key=lambda e: str(e["id"])),
        "a gauge zero rests on a level run that stands no more": run,
    }


def test_review_names_every_doubt_and_each_can_be_settled(
    as_office: TestClient, session: Session, doubtful: dict[str, dict[str, Any]]
) -> None:
    rows = as_office.get("/review.json").json()["rows"]
    mine = {r["title"]: r for r in rows if r["kind"] in ("rival", "link", "zero")}
    assert set(mine) == set(doubtful)
    page = as_office.get("/review", headers=HTML)
    assert page.status_code == 200
    for entry in doubtful.values():
        assert str(entry["id"]) in page.text
    for title, entry in doubtful.items():
        one = mine[title]
        if one["kind"] == "zero":
            form = {"key": one["key"], "revision": "0", "action": "accept", "text": "seen"}
            assert as_office.post("/review", data=form).status_code == 303
            continue
        wrong = entry
        if one["kind"] == "rival" and entry["kind"] == "install_stop":
            found = as_office.get("/pack").json()["links"]
            wrong = next(n for n in found if n["corrects"] == entry["id"])
        done = as_office.post(f"/entries/{wrong['id']}/withdrawals", data={"reason": "settled"})
        assert done.status_code == 303
    left = as_office.get("/review.json").json()["rows"]
    assert [r["title"] for r in left if r["kind"] in ("rival", "link", "zero")] == []


def test_a_zero_is_not_taken_from_a_run_that_stands_no_more(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    run = a_run(structure, ines)
    drop = an_entry("withdrawal", structure, ines, {}, corrects=run["id"], reason="practice")
    send(session, ines, run, drop)
    form = {"valid_from": "2024-09-01T10:00", "reason": "spring"}
    answer = as_office.post(f"/level-runs/{run['id']}/accept", data=form, headers=HTML)
    assert answer.status_code == 422
    assert "withdrawn or replaced" in answer.text


def test_the_office_moves_a_reading_to_another_site(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    here, there, ines = a_site("HERE"), a_site("THERE"), a_person()
    entry = a_reading(here, ines)
    send(session, ines, entry)
    form = {
        "correction_id": str(uuid.uuid4()), "made_at": iso(BEGIN), "structure_id": str(there.id),
        "observed_at": "2024-07-31T12:00", "occasion": "during", "unit": "mm", "staff_1": "210",
        "tail_state": "not_seen", "reason": "wrong site opened",
    }  # fmt: skip
    assert as_office.post(f"/readings/{entry['id']}/corrections", data=form).status_code == 303
    span = readings.span_of("", "", 720)
    assert list(readings.standing(session, here.site_id, span)) == []
    moved = list(readings.standing(session, there.site_id, span))
    assert [r["id"] for r in moved] == [form["correction_id"]]


def test_a_reading_without_effect_is_not_called_replaced(
    as_office: TestClient, doubtful: dict[str, dict[str, Any]]
) -> None:
    meddled = doubtful["crew corrected an entry of somebody else"]
    page = as_office.get(f"/readings/{meddled['id']}", headers=HTML).text
    assert "does not count" in page
    assert "has replaced" not in page
