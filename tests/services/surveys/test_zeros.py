"""Stored level runs: reduced, setting gauge zeros once, never losing an observation.

The worked run is invented; its results are plain arithmetic by hand. The closure rule is Kenney
2010, Levels at gaging stations, USGS Techniques and Methods 3-A19.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from app.errors import BadInput, NotFound
from app.records.audit import AuditEntry
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import GaugeZero, Structure
from app.services.surveys import history as level_history
from app.services.surveys import photos
from app.services.surveys import runs as level_runs
from app.services.surveys import zeros as surveys
from app.services.surveys.tables import level_table
from app.services.sync import pack_surveys as survey_pack
from app.services.sync.pack import pack
from tests.builders.survey_entries import a_run, an_entry
from tests.conftest import BEGIN, a_reading, iso, send

FROM = BEGIN + timedelta(days=60)
WISH = {"from": iso(FROM), "reason": ""}


@pytest.fixture
def crew(a_person: Callable[..., Person]) -> Person:
    return a_person("Crew")


@pytest.fixture
def structure(a_site: Callable[..., Structure]) -> Structure:
    return a_site()


def zeros(session: Session, structure: Structure) -> list[GaugeZero]:
    query = select(GaugeZero).where(GaugeZero.structure_id == structure.id)
    return [z for z in session.exec(query) if z.run_entry_id]


def test_a_stored_run_says_what_the_book_says(
    session: Session, crew: Person, structure: Structure
) -> None:
    entry = a_run(structure, crew)
    assert send(session, crew, entry)[0].state == "stored"
    view = level_runs.get_run(session, entry["id"])
    assert view.run is not None
    assert view.results is not None
    assert view.results.crest_rl_m == pytest.approx(99.2235, abs=1e-9)
    assert view.run.misclosure_mm == pytest.approx(1.0, abs=1e-6)
    assert view.run.limit_mm == pytest.approx(1.58, abs=0.005)
    assert view.results.zero_minus_crest_m == pytest.approx(-0.0005, abs=1e-9)
    assert view.results.corner_word == "outside 2 mm"
    assert view.results.tailwater_ratio == pytest.approx(0.0115 / 0.2505, abs=1e-9)
    assert view.marks_m["BM2"] == pytest.approx(100.3025)
    assert len(view.book) == 18
    assert view.book[9]["rl"] == pytest.approx(99.835)
    assert view.by == "Crew"
    assert zeros(session, structure) == []


def test_a_run_that_asks_for_it_sets_one_zero_however_often_it_is_sent(
    session: Session, crew: Person, structure: Structure
) -> None:
    entry = a_run(structure, crew, set_zero=WISH)
    first = send(session, crew, entry)[0]
    again = send(session, crew, entry)[0]
    assert (first.state, again.state) == ("stored", "already_held")
    assert first.notes == ["gauge zero set, -0.5 mm from the crest"] == again.notes
    [zero] = zeros(session, structure)
    assert (zero.crest_rl_m, zero.zero_rl_m) == (99.2235, 99.223)
    assert zero.valid_from == FROM
    assert zero.by_id == crew.id
    trail = session.exec(select(AuditEntry).where(AuditEntry.action == "gauge zero added")).all()
    assert len(trail) == 1


def test_readings_sent_with_the_run_use_its_zero_from_its_date(
    session: Session, crew: Person, structure: Structure
) -> None:
    before = a_reading(structure, crew, 0.251, at=FROM - timedelta(hours=1))
    after = a_reading(structure, crew, 0.251, at=FROM + timedelta(hours=1))
    send(session, crew, before, after, a_run(structure, crew, set_zero=WISH))
    heads = {v.entry_id: v.head_m for v in session.exec(select(FlowValue))}
    assert heads[before["id"]] == pytest.approx(0.251)
    assert heads[after["id"]] == pytest.approx(0.2505)  # staff 0.251, zero 99.223, crest 99.2235


def test_readings_already_rated_keep_their_value_and_the_receipt_says_so(
    session: Session, crew: Person, structure: Structure
) -> None:
    send(session, crew, a_reading(structure, crew, 0.251, at=FROM + timedelta(hours=1)))
    receipt = send(session, crew, a_run(structure, crew, set_zero=WISH))[0]
    assert "1 reading since then keeps its value" in receipt.notes[0]
    assert session.exec(select(FlowValue)).one().head_m == pytest.approx(0.251)


def test_over_the_limit_the_run_is_kept_and_the_zero_needs_a_reason(
    session: Session, crew: Person, structure: Structure, a_person: Callable[..., Person]
) -> None:
    wrong = a_run(structure, crew, set_zero=WISH, readings={"turning_point": 1.607})
    receipt = send(session, crew, wrong)[0]
    assert receipt.state == "stored"
    assert "not set" in receipt.notes[0]
    assert "-99.0 mm is over the limit 1.58 mm" in receipt.notes[0]
    assert zeros(session, structure) == []
    office = a_person("Office", "office")
    with pytest.raises(BadInput) as refused:
        surveys.accept_zero(session, wrong["id"], FROM, " ", office)
    assert refused.value.field == "reason"
    zero = surveys.accept_zero(session, wrong["id"], FROM, "levelled again, same corners", office)
    same = surveys.accept_zero(session, wrong["id"], FROM, "twice", office)
    assert zero.id == same.id
    assert zero.reason == "levelled again, same corners"


def test_a_run_over_the_limit_is_accepted_on_the_phone_only_by_saying_why(
    session: Session, crew: Person, structure: Structure
) -> None:
    wish = WISH | {"reason": "staff knocked", "accepted_because": "last light; corners agree"}
    run = a_run(structure, crew, set_zero=wish, readings={"turning_point": 1.607})
    receipt = send(session, crew, run)[0]
    assert "gauge zero set" in receipt.notes[0]
    [zero] = zeros(session, structure)
    assert "accepted because: last light; corners agree" in zero.reason
    assert zero.run_entry_id == run["id"]


def test_an_open_run_is_not_taken_for_a_good_one(
    session: Session, crew: Person, structure: Structure
) -> None:
    entry = a_run(structure, crew, set_zero=WISH)
    entry["body"]["rows"] = entry["body"]["rows"][:9]
    assert "misclosure is not known" in send(session, crew, entry)[0].notes[0]
    view = level_runs.get_run(session, entry["id"])
    assert view.run is not None
    assert view.run.within_limit is None


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"staff_mark_m": None}, "rows"),
        ({"staff_mark_m": 40.0}, "staff_mark_m"),
        ({"rows": [{"point": "BM1", "role": "benchmark", "bs": 1.0}]}, "rows"),
    ],
)
def test_a_zero_needs_crest_and_staff(
    session: Session, crew: Person, structure: Structure, change: dict[str, Any], field: str
) -> None:
    entry = a_run(structure, crew, **change)
    send(session, crew, entry)
    with pytest.raises(BadInput) as refused:
        surveys.accept_zero(session, entry["id"], FROM, "because", crew)
    assert refused.value.field == field


def test_a_book_that_cannot_be_read_is_kept_and_says_why(
    session: Session, crew: Person, structure: Structure
) -> None:
    entry = a_run(structure, crew, set_zero=WISH)
    entry["body"]["rows"] = entry["body"]["rows"][1:]  # begins without a backsight
    receipt = send(session, crew, entry)[0]
    assert receipt.state == "stored"
    assert "row 1 is" in receipt.notes[0]
    view = level_runs.get_run(session, entry["id"])
    assert view.run is None
    assert view.problem is not None
    assert view.book == []
    assert level_history.level_history(session, structure.id or 0, structure.site_id).trends is None


def test_text_for_a_number_is_refused_by_name_and_kept_whole(
    session: Session, crew: Person, structure: Structure
) -> None:
    entry = a_run(structure, crew)
    entry["body"]["rows"][3]["is"] = "2.1l9"
    receipt = send(session, crew, entry)[0]
    assert receipt.state == "refused"
    assert receipt.error is not None
    assert receipt.error.field == "body.rows.3.is"


def test_unknown_run(session: Session, crew: Person) -> None:
    with pytest.raises(NotFound):
        surveys.accept_zero(session, "nothing", FROM, "", crew)


def test_a_run_over_another_datum_moves_no_difference(
    session: Session, crew: Person, structure: Structure
) -> None:
    low, high = a_run(structure, crew), a_run(structure, crew, start_rl=812.5)
    send(session, crew, low, high)
    views = [level_runs.get_run(session, e["id"]) for e in (low, high)]
    a, b = (v.results for v in views)
    assert a is not None
    assert b is not None
    assert b.crest_rl_m - a.crest_rl_m == pytest.approx(712.5)
    for name in ("zero_minus_crest_m", "head_by_level_m", "corner_range_m", "sensor_below_crest_m"):
        assert getattr(b, name) == pytest.approx(getattr(a, name), abs=1e-9)


def test_feet_are_booked_in_feet_and_said_in_metres(
    session: Session, crew: Person, structure: Structure
) -> None:
    entry = a_run(structure, crew, unit="ft", start_rl=100.0)
    send(session, crew, entry)
    view = level_runs.get_run(session, entry["id"])
    assert view.run is not None
    assert view.results is not None
    assert view.results.crest_rl_m == pytest.approx(99.2235 * 0.3048)
    assert view.run.misclosure_mm == pytest.approx(0.3048)


def test_years_of_levels_show_a_corner_that_creeps_and_a_mark_that_moved(
    session: Session, crew: Person, structure: Structure
) -> None:
    for year in range(3):
        lift = {"corner_dr": 2.120 - 0.001 * year}
        readings = lift | ({"benchmark": 1.342 + 0.010} if year == 2 else {})
        at = FROM + timedelta(days=365.25 * year)
        entry = a_run(structure, crew, at, readings=readings)
        if year == 2:  # BM1 sank by 10 mm: its own sights agree, BM2 stands higher over it
            entry["body"]["rows"][-1]["fs"] = 1.387
            entry["body"]["rows"][0]["bs"] = 1.352
        send(session, crew, entry)
    history = level_history.level_history(session, structure.id or 0, structure.site_id)
    assert history.trends is not None
    trend = dict(history.trend_rows)
    assert trend["downstream right"] == pytest.approx(0.75, abs=1e-6)  # 1 mm, less its own mean
    assert trend["upstream left"] == pytest.approx(-0.25, abs=1e-6)
    [move] = history.moves
    assert "BM1" in move.move.words
    assert move.move.certain is False
    assert [row["setups"] for row in level_table(history).rows] == [3, 3, 3]


def test_a_corrected_run_no_longer_counts_and_is_still_there(
    session: Session, crew: Person, structure: Structure
) -> None:
    wrong = a_run(structure, crew, readings={"corner_ul": 2.5})
    right = a_run(
        structure, crew, set_zero=WISH, entry={"corrects": wrong["id"], "reason": "misread"}
    )
    send(session, crew, wrong, right)
    history = level_history.level_history(session, structure.id or 0, structure.site_id)
    assert {v.corrected_by for v in history.runs} == {right["id"], None}
    assert history.trends is not None
    assert history.trends.outside is True  # 3 mm of the right run, not 400 of the wrong one
    assert history.trends.range_m.tolist() == [pytest.approx(0.003)]


def test_benchmarks_photos_and_pack(session: Session, crew: Person, structure: Structure) -> None:
    mark = {"name": "BM1", "mark": "bolt", "stability": "firm", "rl_m": 100.0, "place": "abutment"}
    first = an_entry("benchmark", structure, crew, mark | {"stability": "doubtful"}, BEGIN)
    second = an_entry("benchmark", structure, crew, mark, FROM)
    photo = an_entry(
        "photo", structure, crew, {"sha256": "a" * 64, "caption": "the bolt", "of": second["id"]}
    )
    run = a_run(structure, crew)
    receipts = send(session, crew, first, second, photo, run)
    assert {r.state for r in receipts} == {"stored"}
    [known] = level_history.benchmarks(session, structure.site_id)
    assert (known.stability, len(known.earlier)) == ("firm", 1)
    [shown] = photos.photos(session, site_id=structure.site_id, of=[second["id"]])
    assert (shown.caption, shown.here) == ("the bolt", False)
    sent = pack(session, crew, FROM, demo=False)["survey"]
    site = sent["sites"][str(structure.site_id)]
    assert site["benchmarks"][0]["rl_m"] == 100.0
    assert site["runs"][0]["crest_rl_m"] == pytest.approx(99.2235)
    assert [stop["key"] for stop in sent["stops"]] == [f"S{i}" for i in range(1, 10)]
    assert survey_pack.named_dimensions("nothing", "{}") == []


def test_a_photo_of_a_corrected_entry_stands_with_the_correction(
    session: Session, crew: Person, structure: Structure
) -> None:
    first = a_run(structure, crew)
    picture = {"sha256": "b" * 64, "caption": "the level on the crest", "of": first["id"]}
    second = a_run(structure, crew, entry={"corrects": first["id"], "reason": "misread"})
    send(session, crew, first, an_entry("photo", structure, crew, picture), second)
    for named in (first["id"], second["id"]):
        [shown] = photos.photos(session, site_id=structure.site_id, of=[named])
        assert shown.of == second["id"]
    assert photos.photos(session, site_id=structure.site_id, of=["another"]) == []


def test_a_photo_needs_a_whole_hash(session: Session, crew: Person, structure: Structure) -> None:
    receipt = send(session, crew, an_entry("photo", structure, crew, {"sha256": "abc"}))[0]
    assert receipt.error is not None
    assert receipt.error.field == "body.sha256"


def test_a_fault_while_setting_the_zero_never_looks_like_a_lost_run(
    session: Session, crew: Person, structure: Structure, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("disk on fire")

    entry = a_run(structure, crew, set_zero=WISH)
    with monkeypatch.context() as patch:
        patch.setattr(surveys, "accept_zero", broken)
        receipt = send(session, crew, entry)[0]
    assert receipt.state == "stored"
    assert "the server failed" in receipt.notes[0]
    assert session.get(Entry, entry["id"]) is not None
    send(session, crew, entry)  # a phone that got no receipt sends again: the zero is set then
    assert len(zeros(session, structure)) == 1


def test_a_run_that_crew_may_not_correct_sets_no_zero(
    session: Session, structure: Structure, crew: Person, a_person: Callable[..., Person]
) -> None:
    """The run is kept, does not stand, and its wish for a zero is answered in words."""
    first = a_run(structure, crew)
    send(session, crew, first)
    other = a_person("Odo")
    wish = a_run(
        structure, other, set_zero=WISH, entry={"corrects": first["id"], "reason": "misread"}
    )
    receipt = send(session, other, wish)[0]
    assert receipt.state == "stored"
    assert any("gauge zero not set" in note for note in receipt.notes), receipt.notes
    asked = select(GaugeZero).where(GaugeZero.run_entry_id == wish["id"])
    assert session.exec(asked).first() is None
