"""Instruments of gaugings and level runs: in date at the time of the observation, not today."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session

from app.errors import BadInput
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Structure
from app.services.equipment import calibrations, enter, naming, register
from app.services.equipment.tables import for_phone, instrument_page
from app.services.gaugings.results import gauging_result
from app.services.gaugings.tables import row_of
from app.services.sites.register import get_site
from app.services.surveys.runs import get_run
from app.services.surveys.tables import run_row
from tests.builders.check_gaugings import a_gauging
from tests.builders.survey_entries import a_run
from tests.conftest import BEGIN, send

NOW = datetime(2026, 11, 25, 3, tzinfo=UTC)
AT = BEGIN + timedelta(days=60)  # 2024-08-30 12:00 at the site
# A two-peg test worked by hand: 0.0003 m over 28 m is 0.0107 mm per m, within 0.03 (USGS TM 3-A19)
PEGS = {"middle_a_m": 1.5, "middle_b_m": 1.4, "end_a_m": 1.5503, "end_b_m": 1.45,
        "end_distance_a_m": 30.0, "end_distance_b_m": 2.0}  # fmt: skip
BAD_PEGS = PEGS | {"end_a_m": 1.553}


@pytest.fixture
def office(a_person: Callable[..., Person]) -> Person:
    return a_person("Rudd", "office")


def an_instrument(
    session: Session, office: Person, kind: str = "current_meter", **changes: str
) -> int:
    form = {"kind": kind, "described": f"A {kind} (invented)", "serial": "Q-114/7",
            "place": "store", "words": "shelf", "since": "2020-01-01"} | changes  # fmt: skip
    made = enter.add_instrument(session, form, office, NOW)
    session.commit()
    return made


def calibrated(session: Session, one: int, office: Person, day: str, **changes: str) -> None:
    form = {"on_day": day, "by_whom": "tank", "outcome": "fit"} | changes
    calibrations.add_calibration(session, one, form, office, NOW)
    session.commit()


def gauged(
    session: Session, structure: Structure, person: Person, at: datetime = AT, **body: Any
) -> str:
    entry = a_gauging(structure, person, 0.21, 0.05, at=at)
    entry["body"] |= body
    (receipt,) = send(session, person, entry)
    assert receipt.error is None, receipt.error
    return str(entry["id"])


def row(session: Session, entry_id: str) -> dict[str, Any]:
    one = gauging_result(session, entry_id)
    return row_of(one, get_site(session, one.entry.site_id))


def test_overdue_at_the_time_is_flagged_and_a_later_calibration_does_not_help(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    structure, meter = a_site(), an_instrument(session, office)
    calibrated(session, meter, office, "2023-01-10", due_on="2024-01-10")
    entry = gauged(session, structure, office, instrument_id=meter)
    calibrated(session, meter, office, "2024-10-01", due_on="2026-10-01")
    found = row(session, entry)
    assert found["calibration"] == "overdue"
    assert found["instrument_id"] == meter
    assert any("overdue" in flag and "2024-01-10" in flag for flag in found["flags"])
    later = row(session, gauged(session, structure, office, AT + timedelta(days=60),
                                instrument_id=meter))  # fmt: skip
    assert (later["calibration"], later["flags"]) == ("in date", later["flags"])
    assert not any("instrument" in flag for flag in later["flags"])


def test_the_day_is_the_sites_own(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    """Due on 30 August: at 23:00 of the 30th in UTC it is the 31st at the site (UTC+12)."""
    structure, meter = a_site(), an_instrument(session, office)
    calibrated(session, meter, office, "2024-01-10", due_on="2024-08-30")
    before = datetime(2024, 8, 30, 11, 59, tzinfo=UTC)
    for at, word in ((before, "in date"), (before + timedelta(minutes=1), "overdue")):
        entry = gauged(session, structure, office, at, instrument_id=meter)
        assert row(session, entry)["calibration"] == word


def test_not_named_and_never_calibrated_are_unknown_and_no_flag(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    structure, meter = a_site(), an_instrument(session, office)
    for body in ({}, {"instrument_id": meter}):
        found = row(session, gauged(session, structure, office, **body))
        assert found["calibration"] == "unknown"
        assert not any("instrument" in flag for flag in found["flags"])
    assert "no instrument" in row(session, gauged(session, structure, office))["calibration_words"]


def test_an_instrument_of_another_kind_or_away_is_told(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    structure, level = a_site(), an_instrument(session, office, "level")
    enter.move(session, level, {"place": "lost", "since": "2024-02-01", "reason": "in the race"},
               office, NOW)  # fmt: skip
    observed = {
        "method": "velocity_area", "edges": ["bank", "bank"],
        "verticals": [
            {"distance_m": "0", "depth_m": "0"},
            {"distance_m": "0.5", "depth_m": "0.3", "points": {"v06": {"velocity_ms": "0.4"}}},
            {"distance_m": "1", "depth_m": "0"},
        ],
    }  # fmt: skip
    found = row(session, gauged(session, structure, office, observed=observed,
                                instrument_id=level))  # fmt: skip
    assert any("of the kind level" in flag for flag in found["flags"])
    assert any("lost on that day" in flag for flag in found["flags"])


@pytest.mark.parametrize("value", [99, 2**40, 0, -1, "7", 1.5, True])
def test_sync_refuses_an_instrument_that_is_not_in_the_register_and_keeps_the_rest(
    session: Session, a_site: Callable[..., Structure], office: Person, value: object
) -> None:
    structure = a_site()
    bad, good = (a_gauging(structure, office, 0.21, 0.05, at=AT) for _ in range(2))
    bad["body"]["instrument_id"] = value
    run = a_run(structure, office, instrument_id=value)
    receipts = send(session, office, bad, run, good)
    assert [r.state for r in receipts] == ["refused", "refused", "stored"]
    assert receipts[0].error is not None
    assert receipts[0].error.field == "body.instrument_id"


def test_a_serial_number_is_offered_and_never_taken(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    structure, meter = a_site(), an_instrument(session, office)
    calibrated(session, meter, office, "2023-01-10", due_on="2024-01-10")
    entry = gauged(session, structure, office, instrument={"kind": "meter", "serial": "q114 7"})
    assert row(session, entry)["instrument_id"] is None
    stored = session.get(Entry, entry)
    assert stored is not None
    assert [fact.instrument_id for fact in naming.offered(session, stored)] == [meter]
    page = instrument_page(session, meter, NOW.date())
    assert [one.entry_id for one in page.mentions] == [entry]
    form = {"instrument_id": str(meter), "reason": "on the field sheet"}
    naming.name_instrument(session, entry, form, office, NOW)
    session.commit()
    assert row(session, entry)["calibration"] == "overdue"
    assert instrument_page(session, meter, NOW.date()).mentions == []
    nobody = {"instrument_id": "", "reason": "it was the other one, which is sold"}
    naming.name_instrument(session, entry, nobody, office, NOW + timedelta(hours=1))
    session.commit()
    assert row(session, entry)["instrument_id"] is None
    with pytest.raises(BadInput, match="no such instrument"):
        naming.name_instrument(session, entry, form | {"instrument_id": "77"}, office, NOW)
    other = {"kind": "meter", "serial": "Q-114/70"}
    assert naming.words_of("check_gauging", {"instrument": other}) == "Q-114/70"
    assert not naming.matches("check_gauging", "Q-114/70", "Q-114/7")


def test_a_two_peg_test_is_a_check_of_the_level_and_goes_with_its_run(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    structure = a_site()
    level = an_instrument(session, office, "level", interval_days="30")
    tested = a_run(structure, office, AT, instrument_id=level, peg_test=PEGS)
    soon = a_run(structure, office, AT + timedelta(days=30), instrument_id=level)
    late = a_run(structure, office, AT + timedelta(days=31), instrument_id=level)
    send(session, office, tested, soon, late)
    (line,) = calibrations.calibrations_of(session, [level])[level]
    assert (line.what, line.outcome, line.entry_id) == ("two-peg test", "fit", tested["id"])
    assert line.result.startswith("+0.011 mm per m")
    words = [run_row(get_run(session, x["id"]))["calibration"] for x in (tested, soon, late)]
    assert words == ["in date", "in date", "overdue"]
    assert any("overdue" in text for text in get_run(session, late["id"]).words)
    gone = {**tested, "id": late["id"][:-4] + "0000", "kind": "withdrawal", "body": {},
            "corrects": tested["id"], "reason": "another level"}  # fmt: skip
    send(session, office, gone)
    assert calibrations.calibrations_of(session, [level])[level] == []
    assert run_row(get_run(session, soon["id"]))["calibration"] == "unknown"


def test_a_failed_two_peg_test_marks_its_run_and_those_after_it(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    structure, level = a_site(), an_instrument(session, office, "level")
    calibrated(session, level, office, "2024-01-01", due_on="2025-01-01")
    failed = a_run(structure, office, AT, instrument_id=level, peg_test=BAD_PEGS)
    after = a_run(structure, office, AT + timedelta(days=3), instrument_id=level)
    unnamed = a_run(structure, office, AT, peg_test=BAD_PEGS)
    send(session, office, failed, after, unnamed)
    for run in (failed, after, unnamed):
        assert run_row(get_run(session, run["id"]))["calibration"] == "not fit for use"
    calibrated(session, level, office, "2024-09-01", outcome="adjusted", due_on="2025-09-01")
    assert run_row(get_run(session, failed["id"]))["calibration"] == "not fit for use"
    assert run_row(get_run(session, after["id"]))["calibration"] == "in date"


def test_an_interval_changed_later_judges_nothing_anew(
    session: Session, a_site: Callable[..., Structure], office: Person
) -> None:
    structure, meter = a_site(), an_instrument(session, office, interval_days="730")
    calibrated(session, meter, office, "2023-01-10")
    entry = gauged(session, structure, office, instrument_id=meter)
    assert row(session, entry)["calibration"] == "in date"
    form = {"kind": "current_meter", "described": "A meter", "serial": "Q-114/7",
            "interval_days": "90", "reason": "new rule"}  # fmt: skip
    enter.change_facts(session, meter, form, office, NOW + timedelta(hours=1))
    session.commit()
    assert row(session, entry)["calibration"] == "in date"


def test_a_calibration_is_put_right_by_a_row_of_its_own_and_only_once(
    session: Session, office: Person
) -> None:
    meter = an_instrument(session, office)
    calibrated(session, meter, office, "2026-01-10", due_on="2027-01-10")
    (first,) = calibrations.calibrations_of(session, [meter])[meter]
    fix = {"replaces_id": str(first.id), "reason": "day misread"}
    calibrated(session, meter, office, "2026-01-11", due_on="2027-01-11", **fix)
    held = calibrations.calibrations_of(session, [meter])[meter]
    assert [(str(x.on_day), x.stands) for x in held] == [
        ("2026-01-10", False), ("2026-01-11", True)
    ]  # fmt: skip
    with pytest.raises(BadInput, match="put right already"):
        calibrated(session, meter, office, "2026-01-12", **fix)
    gone = {"replaces_id": str(held[1].id), "reason": "another meter", "void": "yes"}
    calibrations.add_calibration(session, meter, gone, office, NOW)
    session.commit()
    assert not any(x.stands for x in calibrations.calibrations_of(session, [meter])[meter])
    last = max(x.id or 0 for x in calibrations.calibrations_of(session, [meter])[meter])
    with pytest.raises(BadInput, match="put right already"):
        calibrated(session, meter, office, "2026-02-01", replaces_id=str(last), reason="x")


def test_the_pack_offers_what_is_in_use(session: Session, office: Person) -> None:
    meter = an_instrument(session, office)
    old = an_instrument(session, office, "staff", described="Old staff")
    enter.move(session, old, {"place": "retired", "reason": "bent"}, office, NOW)
    session.commit()
    (one,) = for_phone(session, NOW.date())
    assert (one["id"], one["kind"], one["calibration"]) == (meter, "current_meter", "unknown")


def test_rows_of_the_register_are_never_changed(session: Session, office: Person) -> None:
    meter = an_instrument(session, office)
    calibrated(session, meter, office, "2026-01-10")
    for table in ("instrument", "instrument_fact", "instrument_place", "calibration"):
        with pytest.raises(sa.exc.DBAPIError, match="append-only"):
            session.execute(sa.text(f"DELETE FROM {table}"))
        session.rollback()


def test_a_place_said_late_is_where_it_was(session: Session, office: Person) -> None:
    meter = an_instrument(session, office)
    for day, words in (("2024-05-01", "van"), ("2023-01-01", "yard")):
        enter.move(session, meter, {"place": "store", "since": day, "words": words}, office, NOW)
    session.commit()
    assert register.line(session, meter, NOW.date()).place_words == "in a store, van"
    held = [line.words for line in register.history_of_places(session, meter)]
    assert held == ["in a store, van", "in a store, yard", "in a store, shelf"]
