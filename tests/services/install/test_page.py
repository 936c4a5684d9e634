"""The office's page of a level run against a run worked by hand, and the answers it takes.

The run: three set-ups, invented figures reduced by hand both ways (derived); its misclosure limit
by USGS TM 3-A19 (Kenney 2010, read): 0.003 ft times the root of the set-ups.
"""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session

from app.demo import install as demo_install
from app.errors import BadInput
from app.records.people import Person
from app.records.sites import Structure
from app.services.install import page as survey_page
from app.services.surveys import runs as level_runs
from tests.conftest import BEGIN, iso, send

RUNS = json.loads(Path(demo_install.__file__).with_name("install.json").read_text("utf-8"))
FORM = {"valid_from": "2026-11-16T09:00", "reason": ""}
RUN_ID = "01890000-0000-7000-8000-0000000003{:02d}"


def a_run(structure: Structure, person: Person, which: int, **changes: Any) -> dict[str, Any]:
    at = BEGIN + timedelta(days=300 * which)
    return {
        "id": RUN_ID.format(which), "kind": "level_run", "site_id": structure.site_id,
        "structure_id": structure.id, "visit_id": None, "observed_at": iso(at),
        "utc_offset_min": 720, "by": person.id, "saved_at": iso(at), "corrects": None,
        "reason": None, "body": RUNS["tansy"]["runs"][which]["body"] | changes,
    }  # fmt: skip


@pytest.fixture
def levelled(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> tuple[Structure, Person]:
    structure, person = a_site(), a_person("Office", "office")
    receipts = send(session, person, *(a_run(structure, person, i) for i in range(3)))
    assert [r.state for r in receipts] == ["stored"] * 3, receipts
    return structure, person


def test_the_worked_run_says_what_was_worked_by_hand(
    session: Session, levelled: tuple[Structure, Person]
) -> None:
    view = level_runs.get_run(session, RUN_ID.format(2))
    said = dict(survey_page.figures(view))
    assert said["Mean crest"] == "99.2235 m, from 4 corners"
    assert said["Corner range"] == "3.0 mm, outside 2 mm"
    assert said["Crest above the race floor"] == "0.1525 m"
    assert said["Gauge zero minus crest"] == "-0.5 mm"
    assert said["Head by level"] == "0.2505 m"
    assert said["Sensor below the crest"] == "0.0205 m"
    assert said["Crest above the tail floor"] == "0.3355 m"
    assert said["Tailwater ratio"] == "4.6 %"
    assert view.run is not None
    assert view.run.misclosure_mm == pytest.approx(1.0)
    assert view.run.limit_mm == pytest.approx(1.58, abs=0.005)
    last = survey_page.book_table(view).rows[-1]
    assert (last["rl"], last["rl_rise_fall"]) == (pytest.approx(100.001), pytest.approx(100.001))


def test_a_zero_is_accepted_with_its_date_and_declined_with_a_reason(
    session: Session, levelled: tuple[Structure, Person]
) -> None:
    _, person = levelled
    with pytest.raises(BadInput) as refused:
        survey_page.decline(session, RUN_ID.format(2), FORM, person)
    assert refused.value.field == "reason"
    survey_page.decline(session, RUN_ID.format(2), FORM | {"reason": "level again"}, person)
    zero = survey_page.accept(session, RUN_ID.format(2), FORM, person)
    session.commit()
    assert zero.valid_from == datetime(2026, 11, 15, 21, 0, tzinfo=UTC)
    assert zero.offset_m == pytest.approx(-0.0005)
    view = level_runs.get_run(session, RUN_ID.format(2))
    assert [a.word for a in survey_page.answers(session, view)] == ["declined", "accepted"]


def test_corners_over_the_years_as_picture_and_words(
    session: Session, levelled: tuple[Structure, Person]
) -> None:
    structure, _ = levelled
    one = survey_page.levels(session, structure.site_id)[0]
    assert one.trend is not None
    assert "downstream right from -0.3 to -1.5 mm" in one.trend.description
    slopes = dict(one.history.trend_rows)
    assert slopes["downstream right"] < 0 < slopes["downstream left"]
    table = survey_page.site_table(session, structure.site_id)
    assert [row["setups"] for row in table.rows] == [2, 2, 3]


def test_one_run_makes_no_trend(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, person = a_site(), a_person("Office", "office")
    send(session, person, a_run(structure, person, 2))
    assert survey_page.levels(session, structure.site_id)[0].trend is None
