"""One workspace a site: every page of a site stands in it, behind exactly one tab."""

import re
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.paths import TEMPLATES
from app.records.database import utc_now
from app.records.entries import Entry
from app.records.files import KeptFile
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.entries.kinds import BODIES
from app.services.lists.workspace import age, site_head
from app.web.tabs import LEAVES, TAB_OF_KIND, TABS
from app.web.workspace import ENTRY
from tests.conftest import a_reading, iso, send
from tests.markup import tight
from tests.web.sweep import steward_of
from tests.web.test_guard import routes
from tests.web.test_lists import filled, things

HTML = {"accept": "text/html"}
NO_PAGES = (".csv", ".json", "/data/file")
PARTS = re.compile(r"\{(site_id|structure_id|entry_id|plan_id)\}")


def tabs_of(page: str) -> str:
    found = re.findall(r'<nav class="tabs".*?</nav>', page, re.S)
    assert len(found) == 1, f"{len(found)} rows of tabs"
    return str(found[0])


def current_tab(page: str) -> str:
    marked = re.findall(r"<a [^>]*aria-current=[^>]*>([^<]*)</a>", tabs_of(page))
    assert len(marked) == 1, f"{marked} are current"
    return str(marked[0]).strip()


def site_pages(app: FastAPI) -> list[str]:
    """Return the addresses of every page that names a site, a structure, an entry or a plan."""
    return sorted(
        {
            route.path
            for route in routes(app)
            if "GET" in (route.methods or ())
            and PARTS.search(route.path)
            and not route.path.endswith(NO_PAGES)
            and route.endpoint.__module__ != "app.web.moved"
            and not route.path.endswith("/which-flume/plan")  # goes on to the form of a plan
            and not route.path.endswith("/sheets/{what}")  # a sheet of paper, without tabs
        }
    )


def test_every_page_of_a_site_is_behind_one_tab(database_url: str, tmp_path: Path) -> None:
    app, client = steward_of(database_url, tmp_path)
    faults, seen, answered = [], Counter[str](), set()
    try:
        with Session(app.state.engine) as session:
            held = things(session, client)
            first_of = {entry.kind: entry.id for entry in session.exec(select(Entry))}
            held["/entries"] = list(first_of.values())
            held["sha256"] = [row.sha256 for row in session.exec(select(KeptFile).limit(2))]
        for stem in site_pages(app):
            for path in filled(stem, held):
                answer = client.get(path, headers=HTML)
                if answer.status_code in (404, 301, 422):
                    continue  # a rating of another structure, a picture that is no logger file
                assert answer.status_code == 200, (path, answer.status_code)
                answered.add(stem)
                try:
                    seen[current_tab(answer.text)] += 1
                except AssertionError as fault:
                    faults.append(f"{path}: {fault}")
                ways = re.search(r'<nav class="outline".*?</nav>', answer.text, re.S)
                for target in re.findall(r'href="#([^"]+)"', ways[0] if ways else ""):
                    if f'id="{target}"' not in answer.text:
                        faults.append(f"{path}: its outline names {target}, which is not there")
    finally:
        app.state.engine.dispose()
    assert not faults, "\n".join(faults)
    assert set(site_pages(app)) - answered == set()
    assert set(seen) >= {tab.words for tab in TABS if tab.leaves}


def test_the_table_names_templates_that_stand_in_the_workspace() -> None:
    """Both ways: each named template extends it, and each that extends it is named."""
    extends = '{% extends "workspace.html" %}'
    inside = {
        path.relative_to(TEMPLATES).as_posix()
        for path in TEMPLATES.rglob("*.html")
        if extends in path.read_text("utf-8")
    }
    assert inside == {*LEAVES, ENTRY}
    named = [t for tab in TABS for leaf in tab.leaves for t in (leaf.own, *leaf.within)]
    assert [t for t, count in Counter(named).items() if count > 1] == []
    assert set(TAB_OF_KIND) == set(BODIES), "every kind of entry has its tab"


def test_a_refused_form_stays_in_the_workspace(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    flume = a_site()
    for path, tab in (
        (f"/structures/{flume.id}/gauge-zeros", "Levels and zero"),
        (f"/structures/{flume.id}/ratings", "Gaugings and rating"),
        (f"/sites/{flume.site_id}", "Structure"),
        (f"/structures/{flume.id}/takes", "Takes"),
    ):
        answer = as_office.post(path, data={"kind": "?"}, headers=HTML)
        assert answer.status_code in (409, 422), path
        assert current_tab(answer.text) == tab


def test_pages_of_no_site_stand_outside(as_office: TestClient) -> None:
    for path in ("/sites", "/sites/new", "/audit", "/takes", "/about/numbers", "/review"):
        assert '<nav class="tabs"' not in as_office.get(path, headers=HTML).text, path


def test_crew_sees_no_tab_it_may_not_open(
    as_crew: TestClient, a_site: Callable[..., Structure]
) -> None:
    flume = a_site()
    for start in (f"/sites/{flume.site_id}", f"/structures/{flume.id}/record"):
        page = as_crew.get(start, headers=HTML).text
        rows = tabs_of(page) + "".join(re.findall(r'<nav class="leaves".*?</nav>', page, re.S))
        for href in re.findall(r'href="([^"]+)"', rows):
            answer = as_crew.get(href, headers=HTML)
            assert answer.status_code == 200, href
            assert tabs_of(answer.text), href


def test_the_switch_keeps_the_page_and_the_structure(
    as_office: TestClient, a_site: Callable[..., Structure], session: Session
) -> None:
    one = a_site()
    assert "structure-switch" not in as_office.get(f"/sites/{one.site_id}", headers=HTML).text
    other = Structure(site_id=one.site_id, name="Weir", family="parshall", dims={"size": "1ft"})
    session.add(other)
    session.commit()
    page = tight(as_office.get(f"/structures/{one.id}/takes", headers=HTML).text)
    switch = re.search(r'<nav class="structure-switch".*?</nav>', page)
    assert switch
    assert f'href="/structures/{one.id}/takes" aria-current="true"' in switch[0]
    assert f'href="/structures/{other.id}/takes">Weir' in switch[0]
    # a page of the whole site keeps the structure that the tabs beside it are of
    assert f'href="/sites/{one.site_id}/levels?structure={one.id}"' in page
    levels = f"/sites/{one.site_id}/levels?structure={other.id}"
    levels_page = as_office.get(levels, headers=HTML).text
    assert f'href="/structures/{other.id}/record"' in tabs_of(levels_page)
    for odd in ("99", "x", "", "9" * 30):
        answer = as_office.get(f"/sites/{one.site_id}/levels?structure={odd}", headers=HTML)
        assert f'href="/structures/{one.id}/record"' in tabs_of(answer.text)


def test_the_head_says_the_flow_now_or_what_is_missing_first(
    as_office: TestClient,
    as_crew: TestClient,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    session: Session,
) -> None:
    place = as_office.post(
        "/sites", data={"code": "NEW", "name": "New", "utc_offset": "+12:00", "head_unit": "mm"}
    ).headers["location"]

    def head(path: str, client: TestClient = as_office) -> str:
        page = tight(client.get(path, headers=HTML).text)
        found = re.search(r'<p class="state-now">.*?</p>', page)
        assert found
        return found[0]

    assert "No structure yet" in head(place)
    assert f'href="{place}/structures/new"' in head(place)
    assert "The office can add it" in head(place, as_crew)
    assert "structures/new" not in head(place, as_crew)
    bare = a_site("BARE", rated=False, zeroed=False)
    assert "No rating in force" in head(f"/structures/{bare.id}")
    no_zero = a_site("NOZERO", zeroed=False)
    assert "No gauge zero in force" in head(f"/structures/{no_zero.id}/record")
    ready = a_site("READY")
    assert "No reading yet" in head(f"/sites/{ready.site_id}", as_crew)
    ines = a_person("Nell")
    at = utc_now() - timedelta(days=3, hours=1)
    send(session, ines, a_reading(ready, ines, observed_at=iso(at)))
    said = head(f"/sites/{ready.site_id}")
    assert "3 days ago, staff reading" in said
    assert "L/s ±" in said
    assert "No reading" not in said


def test_a_withdrawn_reading_is_not_the_state_now(
    a_site: Callable[..., Structure], a_person: Callable[..., Person], session: Session
) -> None:
    flume, ines = a_site(), a_person()
    at = utc_now() - timedelta(hours=5)
    gone = a_reading(flume, ines, observed_at=iso(at))
    kept = a_reading(flume, ines, observed_at=iso(at - timedelta(days=1)))
    wrong = {
        **a_reading(flume, ines, observed_at=iso(at)),
        "kind": "withdrawal",
        "corrects": gone["id"],
        "reason": "another flume",
        "body": {},
    }
    send(session, ines, kept, gone, wrong)
    site = session.get(Site, flume.site_id)
    assert site
    last = site_head(session, site, None, utc_now()).last
    assert last is not None
    assert last.age == "1 day ago"


@pytest.mark.parametrize(
    ("since", "said"),
    [
        (timedelta(seconds=5), "just now"),
        (timedelta(minutes=1), "1 min ago"),
        (timedelta(minutes=59, seconds=59), "59 min ago"),
        (timedelta(hours=2), "2 h ago"),
        (timedelta(days=1, hours=5), "1 day ago"),
        (timedelta(days=300), "300 days ago"),
        (timedelta(days=800), "2 years ago"),
        (timedelta(hours=-3), "ahead of now"),
    ],
)
def test_an_age_in_words(since: timedelta, said: str) -> None:
    now = datetime(2026, 3, 1, tzinfo=UTC)
    assert age(now - since, now) == said


def test_the_head_takes_as_many_statements_for_twelve_structures(
    a_site: Callable[..., Structure], session: Session, a_person: Callable[..., Person]
) -> None:
    ines = a_person()
    small, large = a_site("SMALL"), a_site("LARGE")
    send(session, ines, a_reading(small, ines), a_reading(large, ines))
    for k in range(11):
        session.add(
            Structure(site_id=large.site_id, name=f"F{k}", family="parshall", dims={"size": "1ft"})
        )
    session.commit()
    asked: list[str] = []

    def note(*said: Any) -> None:
        asked.append(said[2])

    sa.event.listen(session.get_bind(), "before_cursor_execute", note)
    counts = []
    for site_id in (small.site_id, large.site_id):
        site = session.get(Site, site_id)
        assert site
        asked.clear()
        site_head(session, site, None, utc_now())
        counts.append(len([text for text in asked if text.startswith("SELECT")]))
    assert counts[0] == counts[1]
    assert counts[0] <= 6, asked  # structures, what stands, last read, last logged, rating, zero
