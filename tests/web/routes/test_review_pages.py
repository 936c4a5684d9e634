"""The queue as a page: counts that fit what they list, pages, several at once, undo."""

import html
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.audit import AuditEntry
from app.records.people import Person
from app.records.review import ReviewDecision
from app.records.sites import Structure
from app.services.review import page as review_page
from app.services.review import undo
from app.services.review.items import KINDS, mark_of
from tests.builders import many_sites
from tests.builders.review_items import a_spiked_bench, picked, spikes
from tests.builders.web_record_files import HTML
from tests.conftest import signed_in
from tests.markup import tight
from tests.services.review.test_bulk import statements


def shown(client: TestClient, query: str = "") -> str:
    answer = client.get(f"/review{query}", headers=HTML)
    assert answer.status_code == 200, answer.text[:500]
    return tight(answer.text)


def listed(client: TestClient, query: str) -> int:
    rows = client.get(f"/review.json{query}").json()["rows"]
    return len(rows)


@pytest.fixture
def six_sites(session: Session, a_person: Callable[..., Person]) -> None:
    """Make six sites with half a season each: more items than a page holds."""
    now = datetime.now(UTC)
    many_sites.template(session, a_person("Rudd", "office"), now, days=40, visits_every=7)
    many_sites.copies(session, 6)


def test_each_count_is_what_its_choice_lists(as_office: TestClient, six_sites: None) -> None:
    page = shown(as_office)
    links = re.findall(r'<a href="/review([^"]*)"[^>]*>[^<]*<b>(\d+)</b></a>', page)
    assert len(links) > 2
    for address, count in links:
        assert listed(as_office, html.unescape(address)) == int(count), address
    months = re.findall(r'<option value="(\d{4}-\d\d)">\1 \((\d+)\)', page)
    assert months
    for month, count in months:
        assert listed(as_office, f"?month={month}") == int(count)
        inside = shown(as_office, f"?month={month}&kind=fault")
        both = listed(as_office, f"?month={month}&kind=fault")
        assert (f"of {both} item" if both else "No item is like that") in inside
    for state, count in re.findall(r'<option value="(\w+)"[^>]*>\1 \((\d+)\)', page):
        assert listed(as_office, f"?state={state}") == int(count)


def test_pages_hold_every_item_once(as_office: TestClient, six_sites: None) -> None:
    whole = as_office.get("/review.json").json()["rows"]
    seen: list[str] = []
    for part in range(1, len(whole) // review_page.SIZE + 2):
        seen += re.findall(r'data-item="(\w+)"', shown(as_office, f"?part={part}"))
    assert seen == [mark_of(row["key"]) for row in whole]
    last = seen[-1]
    page = shown(as_office, f"?at={last}")  # the page of the item one stood on
    assert f'id="i-{last}"' in page
    assert shown(as_office, "?part=999") == shown(as_office, f"?part={part}")
    gone = shown(as_office, "?at=0123456789&row=2")
    assert re.findall(r'data-item="(\w+)"[^>]*data-current', gone) == [seen[2]]


def test_a_page_of_many_sites_takes_no_more_statements(
    session: Session, a_person: Callable[..., Person]
) -> None:
    now, person = datetime.now(UTC), a_person("Rudd", "office")
    many_sites.template(session, person, now, days=40, visits_every=7)

    def whole(session: Session) -> None:
        page = review_page.page_of(session, review_page.Asked())
        review_page.places(session, page.items)
        undo.last_act(session, person, now)

    few = statements(session, whole)
    many_sites.copies(session, 12)
    assert statements(session, whole) <= few + 13  # decisions of 400 items at a time; see test_bulk


def test_several_by_the_form_and_back_again(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    app: object,
) -> None:
    bench = a_spiked_bench(session, a_site, a_person)
    items = spikes(bench)
    ticks = {f"pick:{key}": str(revision) for key, revision in picked(items).items()}
    session.commit()
    form = {**ticks, "action": "accept", "kind": "fault", "month": "", "part": "1", "next": "end"}
    silent = as_office.post("/review", data=form, headers=HTML)
    assert silent.status_code == 422
    assert "4 items at once need a reason" in silent.text
    assert tight(silent.text).count(" checked") >= 4  # what was selected still is
    done = as_office.post("/review", data={**form, "text": "birds"})
    assert done.status_code == 303
    asked = parse_qs(urlsplit(done.headers["location"]).query)
    assert asked == {"kind": ["fault"], "at": ["end"], "done": ["4"]}
    page = shown(as_office, "?kind=fault&at=end&done=4")
    assert "Accepted: 4 faults of the series." in page
    assert "“birds”" in page
    (act_id,) = re.findall(r'name="answer" value="(\d+)"', page)
    assert (
        len(session.exec(select(AuditEntry).where(AuditEntry.action == "item accepted")).all()) == 4
    )
    session.commit()
    back = as_office.post("/review/undo", data={"answer": act_id, "kind": "fault"})
    assert back.status_code == 303
    assert listed(as_office, "?kind=fault") == 4
    twice = as_office.post("/review/undo", data={"answer": act_id}, headers=HTML)
    assert twice.status_code == 422
    assert "not your last answer any more" in twice.text


def test_what_somebody_else_answered_is_named_and_stays_selected(
    as_office: TestClient,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    app: object,
) -> None:
    bench = a_spiked_bench(session, a_site, a_person)
    ticks = {f"pick:{key}": "0" for key in picked(spikes(bench))}
    a_person("Office Two", "office")
    second = signed_in(app, "Office Two")  # type: ignore[arg-type]
    one = next(iter(ticks)).removeprefix("pick:")
    said = {"key": one, "revision": "0", "action": "return", "text": "wait"}
    assert second.post("/review", data=said).status_code == 303
    form = {**ticks, "action": "accept", "text": "birds"}
    part = as_office.post("/review", data=form, headers=HTML)
    assert part.status_code == 200
    page = tight(part.text)
    assert "3 items were answered. 1 item was left as it is:" in page
    assert "Office Two returned it while you looked at it, with the words “wait”" in page
    assert ">birds</textarea>" in page or not listed(as_office, "")
    none = as_office.post("/review", data=form, headers=HTML)
    assert none.status_code == 422
    assert "4 items were left as they are:" in tight(none.text)
    as_json = as_office.post("/review", data=form, headers={"accept": "application/json"})
    assert as_json.status_code == 422
    assert len(as_json.json()["more"]) == 3
    session.expire_all()
    assert len(session.exec(select(ReviewDecision)).all()) == 4


def test_empty_says_what_to_do(
    as_office: TestClient, a_site: Callable[..., Structure], session: Session
) -> None:
    assert "Make the first site" in shown(as_office)
    structure = a_site()
    session.commit()
    assert "Nothing waits: all that was found has an answer." in shown(as_office)
    assert "No item is like that." in shown(as_office, "?kind=drowned&month=2025-07")
    assert "Show all that is open" in shown(as_office, "?state=returned")
    assert "Show all that is open" in shown(as_office, f"?site={structure.site_id}")
    none = as_office.post("/review", data={"action": "accept", "text": ""}, headers=HTML)
    assert none.status_code == 422
    assert "none is selected" in none.text


def test_plurals_of_every_kind() -> None:
    now = datetime.now(UTC)

    def act(count: int, kind: str) -> undo.LastAct:
        rows = tuple(
            ReviewDecision(item_key=f"{kind}:{k}", revision=1, action="accept", by_id=1, at=now)
            for k in range(count)
        )
        return undo.LastAct(id=1, action="accept", at=now, text="", rows=rows, left=())

    for kind, (one, several) in KINDS.items():
        assert act(1, kind).words == f"Accepted: 1 {one}"
        assert act(2, kind).words == f"Accepted: 2 {several}"
    assert now - act(1, "fault").at < timedelta(seconds=1)
