"""A sheet of old readings: taken in row by row, rated by its own date, undone as a whole.

The discharge is held against the published table of the 1 ft flume (tests/tables/parshall.csv).
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from app.errors import BadInput, NotAllowed
from app.records.entries import Entry
from app.records.people import Person
from app.records.review import MonthState
from app.records.sites import Structure
from app.services.books import batches, preview
from app.services.books.sheet import Row, Sheet
from app.services.books.take_in import take_in
from app.services.days.state import APPROVED, approved_months
from app.services.readings.list import Span, standing
from app.services.series.months import month_of_day
from tests.conftest import BEGIN, a_reading, send

NOW = datetime(2024, 12, 1, tzinfo=UTC)
OTHER = "01934000-0000-7000-8000-000000000002"
BATCH = "01934000-0000-7000-8000-000000000001"


def a_sheet(**changes: Any) -> Sheet:
    known: dict[str, Any] = {
        "batch": BATCH,
        "made_at": NOW,
        "kind": "paper book",
        "name": "Race book 3 (invented)",
        "unit": "mm",
        "utc_offset_min": 720,
        "observer": "R. Oldham (invented)",
    }
    return Sheet(**known | changes)


def rows(*cells: dict[str, str]) -> list[Row]:
    return [Row(k, one) for k, one in enumerate(cells, 1)]


def season(count: int) -> list[Row]:
    """Return a reading a day at half past seven, 200 to 219 mm."""
    days = [(BEGIN + timedelta(days=k)).date().isoformat() for k in range(1, count + 1)]
    staffs = [str(200 + k % 20) for k in range(1, count + 1)]
    return rows(
        *({"day": d, "time": "7:30", "staff": s} for d, s in zip(days, staffs, strict=True))
    )


def record(session: Session, structure: Structure) -> list[dict[str, Any]]:
    span = Span(None, None, None, None)
    return list(standing(session, structure.site_id, span, structure.id))


def words_of(seen: preview.Seen) -> str:
    one = seen.checked
    return "; ".join([*(f.rule for f in one.faults), *one.asks, *one.notes])


def test_a_season_is_stored_rated_undone_and_taken_in_again(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    assert flume.id is not None
    sheet = season(60)
    _, answers = take_in(session, flume.id, a_sheet(), sheet, person, NOW)
    assert {one["state"] for one in answers} == {"stored"}
    held = record(session, flume)
    assert len(held) == 60
    # the flume's published table, 1 ft: Q = 4 Ha^1.522 (ft, ft3/s), read; 0.201 m is 60.05 L/s
    ha_ft = 0.201 / 0.3048
    assert held[0]["discharge_m3s"] == pytest.approx(4.0 * ha_ft**1.522 * 0.3048**3, rel=0.01)
    assert held[0]["body"]["source"]["observer"] == "R. Oldham (invented)"
    assert held[0]["observed_at"] == datetime(2024, 7, 1, 19, 30, tzinfo=UTC)

    _, again = take_in(session, flume.id, a_sheet(), sheet, person, NOW)
    assert {one["state"] for one in again} == {"on record"}
    other = a_sheet(batch=OTHER)
    _, elsewhere = take_in(session, flume.id, other, sheet, person, NOW)
    assert {one["state"] for one in elsewhere} == {"on record"}
    assert len(record(session, flume)) == 60

    with pytest.raises(BadInput, match="needed"):
        batches.undo(session, BATCH, {"reason": " "}, person, NOW)
    batches.undo(session, BATCH, {"reason": "the wrong race"}, person, NOW)
    assert record(session, flume) == []
    with pytest.raises(BadInput, match="taken back already"):
        batches.undo(session, BATCH, {"reason": "again"}, person, NOW)

    found, third = take_in(session, flume.id, a_sheet(), sheet, person, NOW)
    assert {one["state"] for one in third} == {"stored"}
    assert found.sheet.batch != BATCH
    assert len(record(session, flume)) == 60
    told = {one.id: (one.entries, one.standing) for one in batches.batches(session, flume.site_id)}
    assert told == {BATCH: (60, 0), found.sheet.batch: (60, 60)}
    kinds = session.exec(select(Entry.kind)).all()
    assert (kinds.count("head_reading"), kinds.count("withdrawal")) == (120, 60)


def test_a_bad_row_keeps_no_other_out(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    assert flume.id is not None
    send(session, person, a_reading(flume, person, 0.21, at=datetime(2024, 8, 1, tzinfo=UTC)))
    sheet = rows(
        {"day": "5.8.2024", "time": "7:30", "staff": "210"},
        {"day": "5.8.2024", "time": "7:30", "staff": "211"},
        {"day": "6.8.2024", "time": "", "staff": "212"},
        {"day": "06/08/2024", "time": "7:30", "staff": "212"},
        {"day": "7.8.2024", "time": "7:30", "staff": "=A1"},
        {"day": "8.8.2024", "time": "7:30", "staff": "2110"},
        {"day": "9.8.2024", "time": "7:30", "staff": "213", "answer": "perhaps"},
        {"day": "9.8.2034", "time": "7:30", "staff": "213"},
        {"day": "1.8.2024", "time": "12:00", "staff": "210"},
        {"day": "1.8.24", "time": "7:30", "staff": "210"},
        {"day": "10.8.2024", "time": "7:30", "staff": "211,5", "tail": "free"},
        {"day": "11.8.2024", "time": "7:30", "staff": "-300"},
        {"day": "11.8.2024", "time": "8:30", "staff": "-300", "answer": "dry"},
        {"day": "1.6.2024", "time": "8:30", "staff": "210"},
        {"day": "12.8.2024", "time": "8:30", "staff": "nan"},
        {"day": "12.8.2024", "time": "9:30", "staff": "1e300"},
        {"day": "12.8.2024", "time": "10:30", "staff": "1,250"},
    )
    expected = [
        ("ready", ""),
        ("refused", "has the same time as row 1"),
        ("refused", "the time of day is missing"),
        ("refused", "can be two days"),
        ("refused", "is a formula"),
        ("question", "is it 211 mm"),
        ("refused", "is no answer"),
        ("refused", "lies ahead of now"),
        ("on record", "the record holds this reading"),
        ("refused", "a year of two digits"),
        ("ready", ""),
        ("question", "was it dry"),
        ("ready", ""),
        ("question", "before anything of the structure is dated"),
        ("refused", "is no figure"),
        ("refused", "a staff reads between"),
        ("question", "is the figure right"),  # the column writes a decimal comma: 1.25 mm
    ]
    found = preview.look(session, flume.id, a_sheet(), sheet, person, NOW)
    told = [(one.state, words_of(one)) for one in found.rows]
    for place, ((state, words), (state_wanted, words_wanted)) in enumerate(
        zip(told[:-1], expected[:-1], strict=True), 1
    ):
        assert state == state_wanted, (place, words)
        assert words_wanted in words, place
    assert found.rows[10].checked.staff_m == pytest.approx(0.2115)
    assert found.rows[10].value["tailwater_m"] is None
    assert len(record(session, flume)) == 1, "a look stores nothing"
    _, answers = take_in(session, flume.id, a_sheet(), sheet, person, NOW)
    assert [one["state"] for one in answers].count("stored") >= 3
    dry = next(row for row in record(session, flume) if row["body"].get("dry"))
    assert dry["discharge_m3s"] == 0.0


def test_an_answer_settles_a_question_and_is_kept(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    assert flume.id is not None
    send(session, person, a_reading(flume, person, 0.3, at=datetime(2024, 8, 1, tzinfo=UTC)))
    cells = {"day": "2024-08-01", "time": "12:00", "staff": "210"}
    found = preview.look(session, flume.id, a_sheet(), rows(cells), person, NOW)
    assert "another reading of this time: staff 300" in words_of(found.rows[0])
    sheet = rows({**cells, "answer": "as read"})
    _, answers = take_in(session, flume.id, a_sheet(), sheet, person, NOW)
    assert [one["state"] for one in answers] == ["stored"]
    copied = [r for r in record(session, flume) if r["body"].get("source")]
    assert copied[0]["body"]["as_typed"] == ["210"]


def test_a_site_without_a_rating_keeps_the_reading_and_says_it_is_not_rated(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(rated=False, zeroed=False), a_person("Office One", "office")
    assert flume.id is not None
    sheet = rows({"day": "1999-08-01", "time": "12:00", "staff": "0,21"})
    _, answers = take_in(session, flume.id, a_sheet(unit="m"), sheet, person, NOW)
    assert answers[0]["state"] == "stored"
    assert "not rated: no rating in force at that time" in answers[0]["notes"]
    assert record(session, flume)[0]["discharge_m3s"] is None


def test_what_was_corrected_since_goes_with_its_batch(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    crew = a_person("Crew One", "crew")
    assert flume.id is not None
    _, answers = take_in(session, flume.id, a_sheet(), season(2), person, NOW)
    better = a_reading(flume, person, 0.25, corrects=answers[0]["entry_id"], reason="misread")
    send(session, person, better)
    assert batches.batches(session, flume.site_id)[0].corrected == 1
    # the first row is not brought back beside its correction
    _, again = take_in(session, flume.id, a_sheet(), season(2), person, NOW)
    assert {one["state"] for one in again} == {"on record"}
    with pytest.raises(NotAllowed):
        batches.undo(session, BATCH, {"reason": "not mine"}, crew, NOW)
    batches.undo(session, BATCH, {"reason": "the wrong race"}, person, NOW)
    assert record(session, flume) == []


def test_an_approved_month_stays_and_a_retired_reader_is_known(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    gone = a_person("Ola", "crew")
    assert flume.id is not None
    assert person.id is not None
    gone.active = False
    august = month_of_day(date(2024, 8, 1))
    approved = MonthState(
        structure_id=flume.id, month=august, revision=1, state=APPROVED, by_id=person.id, at=NOW
    )
    session.add_all([gone, approved])
    session.commit()
    sheet = rows({"day": "2024-08-01", "time": "7:30", "staff": "210", "observer": "Ola"})
    _, answers = take_in(session, flume.id, a_sheet(), sheet, person, NOW)
    assert answers[0]["state"] == "stored"
    assert answers[0]["notes"] == ["2024-08 is approved and stays as it is until opened again"]
    assert record(session, flume)[0]["body"]["source"]["observer_id"] == gone.id
    assert approved_months(session, flume.id) == {august}


def test_a_book_that_kept_daylight_time_is_read_by_its_own_clock(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    assert flume.id is not None
    sheet = rows({"day": "2024-08-01", "time": "7:30", "staff": "210"})
    take_in(session, flume.id, a_sheet(utc_offset_min=780), sheet, person, NOW)
    (one,) = record(session, flume)
    assert one["observed_at"] == datetime(2024, 7, 31, 18, 30, tzinfo=UTC)
    same = rows({"day": "2024-08-01 06:30", "staff": "210"})
    _, again = take_in(session, flume.id, a_sheet(batch=OTHER), same, person, NOW)
    assert again[0]["state"] == "on record"
