"""Every list of every kind asks one rule: each scenario sent through sync, each list looked at."""

import hashlib
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session, select

from app.records.entries import Entry, RefusedEntry
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.entries import kept_files
from app.services.entries.links import what_stands
from app.services.gaugings import results as gaugings
from app.services.gaugings import tables as gauging_tables
from app.services.install import as_built, openings
from app.services.install import stops as install_stops
from app.services.loggers import waiting as logger_waiting
from app.services.plans import make as planning
from app.services.readings import export as exports
from app.services.readings import history
from app.services.readings import list as readings
from app.services.rerating import act as rerate
from app.services.series import faults as series_faults
from app.services.series.flow import inputs_of
from app.services.sites.tables import site_list
from app.services.surveys import history as level_history
from app.services.surveys import photos
from app.services.surveys import runs as level_runs
from app.services.sync.pack import pack
from tests.builders.check_gaugings import a_gauging
from tests.builders.survey_entries import a_run, an_entry
from tests.conftest import BEGIN, a_reading, iso, send
from tests.services.entries.scenarios import (
    CREW,
    HERE,
    KIND,
    MATE,
    OFFICE,
    OTHER,
    SCENARIOS,
    THERE,
    Scenario,
)

NOW = datetime(2026, 11, 25, 3, 0, tzinfo=UTC)
OPEN = readings.span_of("", "", 720)
Places = dict[str, Structure]
People = dict[str, Person]
PLAN = {"name": "invented"}


def a_body(kind: str, k: int) -> dict[str, Any]:
    """Return a body of a kind; the k-th names itself so that lists keep it apart."""
    sha256 = hashlib.sha256(f"{kind} {k}".encode()).hexdigest()
    bodies: dict[str, dict[str, Any]] = {
        "visit": {"conditions": ["gate moved"], "observers": [f"observer {k}"]},
        "benchmark": {"name": f"BM{k}", "rl_m": 100.0 + k},
        "dimension_check": {"dimensions": [{"key": f"d{k}", "measured_m": [0.4]}]},
        "install_stop": {"stop": "S3", "widths": {"top_m": 0.4}},
        "opening": {"gate": [{"at": iso(BEGIN), "opening": f"{k} mm"}]},
        "photo": {"sha256": sha256},
        "logger_file": {"sha256": sha256, "size": 10},
        "plan": {"inputs": PLAN},
    }
    return bodies[kind]


def an_entry_of(kind: str, structure: Structure, person: Person, k: int, at: datetime) -> Any:
    if kind == "head_reading":
        return a_reading(structure, person, 0.2 + 0.001 * k, at=at)
    if kind == "check_gauging":
        return a_gauging(structure, person, 0.2, 0.06, at=at)
    if kind == "level_run":
        return a_run(structure, person, at)
    if kind == "withdrawal":
        return an_entry("withdrawal", structure, person, {}, at)
    return an_entry(kind, structure, person, a_body(kind, k), at)


def play(
    session: Session, scenario: Scenario, kind: str, places: Places, people: People, first: int
) -> dict[str, dict[str, Any]]:
    """Send the rows of a scenario one by one; return the entries by row."""
    other = "visit" if kind != "visit" else "photo"
    ids = {row.id: str(uuid.UUID(int=(first << 40) + ord(row.id))) for row in scenario.rows}
    ids |= {r.corrects: str(uuid.UUID(int=(first << 40) + ord(r.corrects)))
            for r in scenario.rows if r.corrects}  # fmt: skip
    sent = {}
    for place, row in enumerate(sorted(scenario.rows, key=lambda r: r.id)):
        at = BEGIN + timedelta(days=30, hours=place)
        what = {KIND: kind, OTHER: other}.get(row.kind, row.kind)
        entry = an_entry_of(what, places[row.site], people[row.by], first + place, at)
        entry |= {"id": ids[row.id], "corrects": ids.get(row.corrects or "")}
        entry |= {"reason": "put right"} if row.corrects else {}
        entry |= {"moves": True} if row.moves else {}
        sent[row.id] = entry
    for row in scenario.rows:
        [receipt] = send(session, people[row.by], sent[row.id])
        again = send(session, people[row.by], sent[row.id])[0]
        assert (receipt.state, again.state) in (("stored", "already_held"), ("refused", "refused"))
    return sent


def of_readings(session: Session, places: Places) -> list[set[str]]:
    """Return what each list of readings shows at two sites."""
    out: list[set[str]] = [set(), set(), set(), set()]
    for structure in places.values():
        site = session.get(Site, structure.site_id)
        assert site is not None
        out[0] |= {r["id"] for r in readings.standing(session, structure.site_id, OPEN)}
        out[1] |= {r["reading_id"] for r in exports.reading_rows(session, site, OPEN)}
        out[2] |= {r["id"] for r in history.history(session, structure.site_id, OPEN, None).rows}
        whole = readings.standing(session, structure.site_id, OPEN, with_corrected=True)
        rated = {r["entry_id"]: r["stands"] for r in rerate.look(session, site.id or 0, NOW).rows}
        assert rated == {}  # every reading was rated as it came
        row = next(r for r in site_list(session).rows if r["id"] == structure.site_id)
        assert row["readings"] == len(list(readings.standing(session, structure.site_id, OPEN)))
        out[3] |= {r["id"] for r in whole if not r["corrected_by"]} & out[0]
    return out


def of_gaugings(session: Session, places: Places) -> list[set[str]]:
    found = [g for s in places.values() for g in gaugings.gauging_results(session, s.site_id)]
    newest = gauging_tables.for_phone(session)
    phone = {g["id"] for s in places.values() for g in newest.get(s.site_id, [])}
    return [{g.entry.id for g in found}, phone]


def of_runs(session: Session, places: Places) -> list[set[str]]:
    runs = [v for s in places.values() for v in level_runs.runs(session, site_id=s.site_id)]
    books = [level_history.level_history(session, s.id or 0, s.site_id) for s in places.values()]
    counted = {v.entry.id for book in books for v in book.runs if level_history.standing(v)}
    alone = {v.entry.id for v in runs if level_runs.get_run(session, v.entry.id).stands}
    return [{v.entry.id for v in runs if v.stands}, counted, alone]


def of_visits(session: Session, places: Places) -> list[set[str]]:
    """Return the visits whose gate explains a step in the series."""
    out = set()
    for structure in places.values():
        times = series_faults.interventions(session, inputs_of(session, structure.id or 0))
        found = session.exec(
            select(Entry).where(Entry.kind == "visit", Entry.site_id == structure.site_id)
        )
        out |= {e.id for e in found if int(e.observed_at.timestamp()) in times}
    return [out]


def stops(session: Session, places: Places) -> list[set[str]]:
    found = [v for s in places.values() for v in install_stops.stops(session, s.id or 0)]
    return [{v.entry.id for v in found if v.stands}]


def opened(session: Session, places: Places) -> list[set[str]]:
    found = [v for s in places.values() for v in openings.openings(session, s.id or 0)]
    return [{v.entry.id for v in found if v.stands}]


def measured(session: Session, places: Places) -> list[set[str]]:
    found = [as_built.measured(session, s.id or 0) for s in places.values()]
    return [{m.entry.id for one in found for m in one.values()}]


def pictures(session: Session, places: Places) -> list[set[str]]:
    by_site = [p for s in places.values() for p in photos.photos(session, site_id=s.site_id)]
    mine = [p for s in places.values() for p in photos.photos(session, structure_id=s.id)]
    return [{p.entry.id for p in by_site}, {p.entry.id for p in mine}]


def marks(session: Session, places: Places) -> list[set[str]]:
    found = [b for s in places.values() for b in level_history.benchmarks(session, s.site_id)]
    return [{b.entry.id for b in found}]


def plans(session: Session, places: Places) -> list[set[str]]:
    found = [v for s in places.values() for v in planning.plans(session, s.site_id)]
    phone = [p for s in places.values() for p in planning.for_phone(session, s.site_id)]
    return [{v.plan.entry_id or "" for v in found}, {p["entry_id"] for p in phone}]


def files(session: Session, places: Places) -> list[set[str]]:
    here = {s.site_id for s in places.values()}
    told = [line for line in logger_waiting.kept_logger_files(session) if line.site_id in here]
    return [{line.entry_id or "" for line in told}]


LISTS: dict[str, Callable[[Session, Places], list[set[str]]]] = {
    "head_reading": of_readings,
    "check_gauging": of_gaugings,
    "level_run": of_runs,
    "visit": of_visits,
    "install_stop": stops,
    "opening": opened,
    "dimension_check": measured,
    "photo": pictures,
    "benchmark": marks,
    "plan": plans,
    "logger_file": files,
}
PACKED: dict[str, Callable[[dict[str, Any]], list[dict[str, Any]]]] = {
    "head_reading": lambda p: [r for s in p["sites"] for r in s["recent"]],
    "check_gauging": lambda p: [g for s in p["sites"] for g in s["check_gaugings"]],
    "level_run": lambda p: [r for s in p["survey"]["sites"].values() for r in s["runs"]],
    "benchmark": lambda p: [b for s in p["survey"]["sites"].values() for b in s["benchmarks"]],
    "install_stop": lambda p: [x for s in p["survey"]["structures"].values() for x in s["stops"]],
}


@pytest.mark.parametrize("kind", LISTS)
def test_every_list_of_a_kind_shows_what_stands_in_any_order(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    kind: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # what a plan says is not asked here, and working out 200 of them takes long
    monkeypatch.setattr(planning, "work_out", lambda _: {"candidates": []})
    monkeypatch.setattr(planning, "plan_inputs", lambda *_: AnyPlan())
    people = {CREW: a_person("Ines"), MATE: a_person("Odo"), OFFICE: a_person("Una", "office")}
    wrong, standing = [], set()
    # On PostgreSQL each kind meets a third of them, and three kinds all: the rule is not its own.
    postgres = session.get_bind().dialect.name == "postgresql"
    third = slice(list(LISTS).index(kind) % 3, None, 3) if postgres else slice(None)
    for number, scenario in enumerate(SCENARIOS[third]):
        turned = Scenario(scenario.name + ", turned", scenario.rows[::-1], scenario.stand)
        for way, one in enumerate((scenario, turned)):
            code = f"{'AB'[way]}{number}"
            places = {HERE: a_site(f"{code}H"), THERE: a_site(f"{code}T")}
            sent = play(session, one, kind, places, people, 16 * (2 * number + way) + 1)
            if kind == "logger_file":
                for entry in sent.values():
                    keep(session, people[OFFICE], entry)
            wanted = {sent[k]["id"] for k in one.stand if sent[k]["kind"] == kind}
            standing |= wanted
            for place, shown in enumerate(LISTS[kind](session, places)):
                if shown != wanted:
                    wrong.append((one.name, place, names(shown, sent), names(wanted, sent)))
    assert wrong == []
    if kind in PACKED:
        packed = {r["id"] for r in PACKED[kind](pack(session, people[CREW], NOW, demo=False))}
        assert packed == standing


class AnyPlan:
    """A question that is never worked out."""

    def __init__(self) -> None:
        self.name = "invented"
        self.asked: dict[str, str] = {}


def names(ids: set[str], sent: dict[str, dict[str, Any]]) -> str:
    return "".join(row for row, entry in sent.items() if entry["id"] in ids)


def keep(session: Session, person: Person, entry: dict[str, Any]) -> None:
    """Keep the bytes of a logger file; their hash is put in the place of the one it was sent by."""
    sha256 = entry["body"].get("sha256")
    if entry["kind"] == "logger_file":
        session.connection().execute(
            kept_files.KeptFile.__table__.insert(),  # type: ignore[attr-defined]
            {
                "sent_sha256": sha256, "sha256": sha256, "kind": "logger_file", "name": "a.csv",
                "media_type": "text/csv", "size": 1, "content": b"1", "by_id": person.id,
                "received_at": NOW,
            },
        )  # fmt: skip
        session.commit()


def test_what_crew_may_not_correct_is_kept_and_counts_for_nothing_whichever_comes_first(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines, odo = a_site(), a_person("Ines"), a_person("Odo")
    first = a_reading(structure, ines, 0.2)
    meddled = a_reading(structure, odo, 0.3, corrects=first["id"], reason="I know better")
    [held] = send(session, odo, meddled)
    assert held.state == "stored"
    assert "not here yet" in held.notes[0]
    send(session, ines, first)
    late = a_reading(structure, odo, 0.3, corrects=first["id"], reason="I know better")
    [kept] = send(session, odo, late)
    assert kept.state == "stored"
    assert "crew correct their own entries" in kept.notes[0]
    rows = list(readings.standing(session, structure.site_id, OPEN))
    assert [r["id"] for r in rows] == [first["id"]]
    assert len(session.exec(select(Entry)).all()) == 3
    assert not session.exec(select(RefusedEntry)).all()


def test_a_role_counts_as_it_was_when_the_entry_came(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines, una = a_site(), a_person("Ines"), a_person("Una", "office")
    first = a_reading(structure, ines, 0.2)
    second = a_reading(structure, una, 0.3, corrects=first["id"], reason="seen on the photo")
    send(session, una, second)
    send(session, ines, first)
    una.role = "crew"
    session.add(una)
    session.commit()
    rows = list(readings.standing(session, structure.site_id, OPEN))
    assert [r["id"] for r in rows] == [second["id"]]


def test_a_dimension_check_moved_to_another_flume_counts_only_there(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, ines = a_site(), a_person()
    second = Structure(site_id=flume.site_id, name="Second", family="parshall", dims=flume.dims)
    session.add(second)
    session.commit()
    body = {"dimensions": [{"key": "W", "measured_m": [0.305]}]}
    here = an_entry("dimension_check", flume, ines, body)
    there = an_entry(
        "dimension_check", second, ines, body, corrects=here["id"], reason="the other flume"
    )
    assert [r.state for r in send(session, ines, here, there)] == ["stored", "stored"]
    assert as_built.measured(session, flume.id or 0) == {}
    assert set(as_built.measured(session, second.id or 0)) == {"W"}


def test_the_list_of_sites_shows_the_reading_that_a_withdrawal_brought_back(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    old = a_reading(structure, ines, 0.10, at=BEGIN + timedelta(days=5))
    new = a_reading(structure, ines, 0.20)
    fix = a_reading(structure, ines, 0.25, corrects=new["id"], reason="misread")
    drop = an_entry("withdrawal", structure, ines, {}, corrects=fix["id"], reason="it was right")
    send(session, ines, old, new, fix, drop)
    row = site_list(session).rows[0]
    # 1 ft flume: 0.6909 h^1.522 (Bos 1989, ILRI Publ. 20, sec. 7.4; from memory).
    assert row["last_discharge_m3s"] == pytest.approx(0.6909 * 0.20**1.522, rel=1e-6)
    assert row["readings"] == 2
    packed = pack(session, ines, NOW, demo=False)["sites"][0]
    assert [r["id"] for r in packed["recent"]] == [new["id"], old["id"]]
    assert [r["id"] for r in packed["set_aside"]] == [fix["id"]]


def test_a_visit_is_cited_as_it_stands(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    visit = an_entry("visit", structure, ines, {"observers": ["Ned"]})
    named = an_entry(
        "visit", structure, ines, {"observers": ["Nell"]}, corrects=visit["id"], reason="name"
    )
    reading = a_reading(structure, ines, visit_id=visit["id"])
    send(session, ines, visit, named, reading)
    site = session.get(Site, structure.site_id)
    assert site is not None
    assert [r["visit_observers"] for r in exports.reading_rows(session, site, OPEN)] == [["Nell"]]


def test_three_hundred_sites_take_one_query_for_what_stands(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    ines = a_person()
    for k in range(30):
        structure = a_site(f"S{k}")
        first = a_reading(structure, ines)
        send(session, ines, first, a_reading(structure, ines, corrects=first["id"], reason="x"))
    asked: list[str] = []

    def note(*said: Any) -> None:
        asked.extend([said[2]] if said[2].startswith("SELECT") else [])

    sa.event.listen(session.get_bind(), "before_cursor_execute", note)
    assert len(what_stands(session).gone) == 30
    assert len(asked) == 1
    site_list(session)
    assert len(asked) == 6  # what stands, the newest, counts, names, sites
