"""The pages of rating again: the banner with one click, the look, the act, lists, progress."""

import csv
import io
import json
import re
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.database import reading_session
from app.records.people import Person
from app.records.sites import Structure
from app.services.rerating import act as rerate
from app.services.rerating import trial
from app.services.review import approval
from app.web.progress import LINES
from tests.builders.web_record_files import HTML, a_file, imported
from tests.conftest import signed_in
from tests.markup import tight

NEW = {"family": "parshall", "dim.size": "2ft", "valid_from": "2024-08-11T00:00"}


@pytest.fixture
def flume(as_office: TestClient, a_site: Callable[..., Structure]) -> Structure:
    """Give a flume with forty days of a logger from 1 August 2024 and no head reading."""
    structure = a_site()
    imported(as_office, structure.site_id, structure.id or 0, a_file())
    return structure


def rate_anew(client: TestClient, flume: Structure) -> str:
    """Add a rating back from 11 August; return the address it sends to."""
    form = NEW | {"reason": "the throat was measured"}
    answer = client.post(f"/structures/{flume.id}/ratings", data=form)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def days(client: TestClient, flume: Structure) -> dict[str, dict[str, str]]:
    text = client.get(f"/structures/{flume.id}/daily.csv").text
    return {row["day"]: row for row in csv.DictReader(io.StringIO(text))}


def token_of(text: str) -> str:
    found = re.search(r'name="token" value="(\w+)"', text)
    assert found is not None, text[:3000]
    return found[1]


def test_the_record_follows_by_one_click_from_each_of_its_pages(
    as_office: TestClient, flume: Structure
) -> None:
    pages = [f"/sites/{flume.site_id}", f"/sites/{flume.site_id}/readings"]
    pages += [
        f"/structures/{flume.id}/{name}"
        for name in ("record", "daily", "takes", "layers", "months", "record/table")
    ]
    for path in pages:
        assert "Out of date" not in as_office.get(path, headers=HTML).text, path
    before = days(as_office, flume)
    again = rate_anew(as_office, flume)
    for path in pages:
        text = as_office.get(path, headers=HTML).text
        assert "Out of date" in text, path
        assert f'href="{again}"' in text, path
    marked = days(as_office, flume)
    assert marked["2024-08-20"]["mean_m3s"] == before["2024-08-20"]["mean_m3s"]
    assert marked["2024-08-20"]["stale"] == "another rating is in force"
    look = as_office.get(again, headers=HTML).text
    assert "Nothing would change" not in look
    done = as_office.post(
        again, data={"token": token_of(look), "reason": "the throat was measured"}, headers=HTML
    )
    assert done.status_code == 200
    assert "before and after" in done.text
    after = days(as_office, flume)
    # 2 ft over 1 ft at about 250 mm: 1.429 h^1.55 / 0.6909 h^1.522 (Bos 1989, ILRI Publ. 20,
    # sec. 7.4; the 1 ft row from memory) = 1.99
    ratio = float(after["2024-08-20"]["mean_m3s"]) / float(before["2024-08-20"]["mean_m3s"])
    assert ratio == pytest.approx(1.429 / 0.6909 * 0.25**0.028, rel=0.002)
    assert after["2024-08-05"] == before["2024-08-05"]
    assert after["2024-08-20"]["stale"] == ""
    assert after["2024-08-20"]["rating_ids"] != before["2024-08-20"]["rating_ids"]
    for path in pages:
        assert "Out of date" not in as_office.get(path, headers=HTML).text, path
    assert "Nothing would change" in as_office.get(again, headers=HTML).text


def test_every_list_of_the_look_is_csv_and_json(as_office: TestClient, flume: Structure) -> None:
    form = {"kind": "season", "amount": "9000", "valid_from": "2024-07-01"}
    as_office.post(f"/structures/{flume.id}/takes", data=form)
    again = rate_anew(as_office, flume)
    for name, count in (("", 0), ("/months", 2), ("/takes", 1)):
        rows = as_office.get(f"{again}{name}.json").json()["rows"]
        assert len(rows) == count, name
        lines = list(csv.DictReader(io.StringIO(as_office.get(f"{again}{name}.csv").text)))
        assert len(lines) == count
        assert not lines or set(lines[0]) == set(rows[0])
    for listed in ("daily", "series", "takes", "totals"):
        rows = as_office.get(f"/structures/{flume.id}/{listed}.json").json()["rows"]
        assert {row["stale"] for row in rows} == {"another rating is in force"}, listed


def test_crew_are_told_and_cannot_act(
    app: FastAPI, as_office: TestClient, flume: Structure, a_person: Callable[..., Person]
) -> None:
    again = rate_anew(as_office, flume)
    a_person("Wen", "crew")
    crew = signed_in(app, "Wen")
    text = crew.get(f"/structures/{flume.id}/daily", headers=HTML).text
    assert "Out of date" in text
    assert "The office can rate the site again" in text
    assert f'href="{again}"' not in text
    for path in (again, f"{again}/months.csv", f"{again}/takes.json"):
        assert crew.get(path).status_code == 403


def test_with_progress_the_answer_comes_last(as_office: TestClient, flume: Structure) -> None:
    again = rate_anew(as_office, flume)
    token = token_of(as_office.get(again, headers=HTML).text)
    accept = {"accept": LINES}
    refused = as_office.post(again, data={"token": token, "reason": " "}, headers=accept)
    assert json.loads(refused.text.splitlines()[-1])["error"]["field"] == "reason"
    answer = as_office.post(again, data={"token": token, "reason": "measured"}, headers=accept)
    last = json.loads(answer.text.splitlines()[-1])
    assert "before and after" in last["html"]
    assert "Nothing would change" in as_office.get(again, headers=HTML).text


def test_an_approved_month_is_left_with_the_way_to_open_it(
    as_office: TestClient, flume: Structure, session: Session, a_person: Callable[..., Person]
) -> None:
    rudd = a_person("Rudd", "office")
    now = rudd.created_at
    for revision, step in enumerate(("reviewed", "approved")):
        approval.move(session, flume.id or 0, "2024-08", step, rudd, now, revision=revision)
    session.commit()
    again = rate_anew(as_office, flume)
    look = as_office.get(again, headers=HTML).text
    way = f"/structures/{flume.id}/months#m-2024-08"
    assert "Approved, so left" in look
    assert way in look
    as_office.post(again, data={"token": token_of(look), "reason": "measured"}, headers=HTML)
    left = as_office.get(again, headers=HTML).text
    assert "but for the approved months" in left
    assert 'name="token"' not in left
    text = as_office.get(f"/structures/{flume.id}/record", headers=HTML).text
    assert way in text
    assert (
        f'class="button" href="{again}"' not in text
    )  # the act would do nothing: it is not offered
    queue = as_office.get("/review", headers=HTML).text
    assert "Open the month again" in queue
    assert way in queue
    assert "Line out of date<b>1</b>" in tight(queue)


def test_review_leads_from_a_draft_month_to_the_act(
    as_office: TestClient, flume: Structure
) -> None:
    again = rate_anew(as_office, flume)
    text = as_office.get("/review", headers=HTML).text
    assert "2 months, 2024-08 to 2024-09, no longer follow what is in force" in text
    assert f'<a href="{again}">Rate again</a>' in tight(text)
    assert "approved months out of date" not in text


def test_takes_of_all_sites_say_that_they_rest_on_old_figures(
    as_office: TestClient, flume: Structure
) -> None:
    form = {"kind": "season", "amount": "9000", "valid_from": "2024-07-01"}
    as_office.post(f"/structures/{flume.id}/takes", data=form)
    again = rate_anew(as_office, flume)
    text = as_office.get("/takes", headers=HTML).text
    assert f'href="{again}"' in text
    assert "out of date" in text


def test_nobody_waits_for_a_look(app: FastAPI, as_office: TestClient, flume: Structure) -> None:
    """While the record is made again on copies, an entry of a phone is stored."""
    rate_anew(as_office, flume)
    engine = app.state.engine
    with (
        reading_session(engine) as looking,
        trial.on_copies(looking, [flume.id or 0]),
        Session(engine) as writing,
    ):
        writing.add(Person(name="Meanwhile", role="crew", password_hash="-"))
        writing.commit()
    with reading_session(engine) as session:
        found = rerate.look(session, flume.site_id, datetime.now(UTC))
        assert found.does_anything
