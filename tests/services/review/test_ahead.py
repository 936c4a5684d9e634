"""Times that lie ahead: stored for every kind, said in the receipt, in review and on the page.

A limit of 5 minutes between two clocks: common practice.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.hydraulics.structure.device import flag_words
from app.language.clock import iso
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.entries.ahead import times_ahead
from app.services.review import queue as review_queue
from tests.builders.check_gaugings import a_gauging
from tests.builders.survey_entries import a_run, an_entry
from tests.builders.web_record_files import HTML
from tests.conftest import a_reading, send

Site = Callable[..., Structure]
Somebody = Callable[..., Person]
SLIP = "in the time to come: clock or slip?"


def ahead_items(session: Session) -> dict[str, str]:
    return {
        str(item.link["entry_id"]): item.words
        for item in review_queue.queue(session)
        if item.kind == "ahead"
    }


def test_a_reading_ahead_is_stored_flagged_and_reviewed(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    now = datetime.now(UTC)
    right = a_reading(structure, person, at=now + timedelta(minutes=4))
    slipped = a_reading(structure, person, at=now + timedelta(days=365))
    gate = a_reading(structure, person, body_gate_opened_at="2030-11-25T00:00:00Z")
    receipts = send(session, person, right, slipped, gate)
    assert [r.state for r in receipts] == ["stored"] * 3
    said = ["; ".join(r.notes) for r in receipts]
    assert SLIP not in said[0]
    assert SLIP in said[1]
    assert "gate opened 2030" in said[2]
    query = select(FlowValue).where(col(FlowValue.current))
    flags = {v.entry_id: flag_words(v.flags) for v in session.exec(query)}
    assert [("time ahead: clock or slip" in flags[e["id"]]) for e in (right, slipped, gate)] == [
        False, True, True,
    ]  # fmt: skip
    assert set(ahead_items(session)) == {slipped["id"], gate["id"]}


def test_one_rule_for_every_kind(session: Session, a_site: Site, a_person: Somebody) -> None:
    structure, person = a_site(), a_person()
    ahead = iso(datetime.now(UTC) + timedelta(days=40))
    run, gauging = a_run(structure, person), a_gauging(structure, person, 0.21, 0.065)
    moved = {"gate": [{"at": iso(datetime.now(UTC)), "opening": "2 turns"}], "fit_from": ahead}
    opening = an_entry("opening", structure, person, moved | {"fit_words": "so said"})
    run["observed_at"] = gauging["body"]["ended_at"] = ahead
    receipts = send(session, person, run, opening, gauging)
    assert [(r.state, SLIP in "; ".join(r.notes)) for r in receipts] == [("stored", True)] * 3
    assert set(ahead_items(session)) == {run["id"], opening["id"], gauging["id"]}


def test_what_was_corrected_leaves_review(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    slipped = a_reading(structure, person, at=datetime.now(UTC) + timedelta(days=365))
    send(session, person, slipped)
    right = a_reading(structure, person, corrects=slipped["id"], reason="year")
    send(session, person, right)
    assert ahead_items(session) == {}


def test_the_page_says_it(
    session: Session, a_site: Site, a_person: Somebody, as_office: TestClient
) -> None:
    structure, person = a_site(), a_person()
    slipped = a_reading(structure, person, at=datetime.now(UTC) + timedelta(days=365))
    send(session, person, slipped)
    session.commit()
    for path in ("/readings/", "/entries/"):
        assert SLIP in as_office.get(path + slipped["id"], headers=HTML).text
    item = next(i for i in review_queue.queue(session) if i.kind == "ahead")
    session.rollback()
    assert "A time lies ahead of the office" in as_office.get("/review", headers=HTML).text
    form = {"key": item.key, "revision": "0", "action": "accept", "text": "phone's year was set"}
    assert as_office.post("/review", data=form).status_code == 303
    assert ahead_items(session) == {}


@pytest.mark.parametrize(
    ("body", "names"),
    [
        ({"read_at": ["2026-01-01T00:00:00Z", "2027-01-01T00:00:00+12:00"]}, ["repeat read"]),
        ({"heads": [{"at": "2026-06-01T00:00:00Z"}]}, ["step"]),
        ({"set_zero": {"from": "2026-06-01T00:00:00Z"}}, ["zero in force from"]),
        ({"clock": {"before": "2030-01-01T00:00:00Z"}}, []),
        ({"note": "2030-01-01T00:00:00Z", "at": "tomorrow", "ended_at": "2030-01-01"}, []),
    ],
)  # fmt: skip
def test_which_times_count(body: dict[str, object], names: list[str]) -> None:
    received = datetime(2026, 2, 1, tzinfo=UTC)
    assert list(times_ahead(received, body, received)) == names


def test_a_note_of_the_entry_table_stays_as_sent(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    slipped = a_reading(structure, person, at=datetime(2031, 1, 1, tzinfo=UTC))
    send(session, person, slipped)
    entry = session.get(Entry, slipped["id"])
    assert entry is not None
    assert entry.observed_at.year == 2031
