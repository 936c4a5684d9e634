"""Every question of the office import can be answered, changed and imported; nothing is lost."""

import hashlib
import re
from collections.abc import Callable
from datetime import datetime, timedelta

import numpy as np
import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.database import utc_now
from app.records.people import Person
from app.records.sensors import Logger, LoggerImport
from app.records.sites import Structure
from app.services.entries import kept_files
from app.services.loggers.asking.answers import answers_of
from app.services.loggers.asking.boxes import answer_boxes, scaled_columns
from app.services.loggers.reader.guesses import Guess
from app.services.series.raw import raw_series
from tests.builders.web_record_files import HTML, uploaded
from tests.conftest import a_reading, send
from tests.web.office_form import form_of, options_of

BEGIN = datetime(2025, 3, 13)  # noqa: DTZ001 - on the site's clock


@pytest.fixture
def structure(a_site: Callable[..., Structure], session: Session) -> Structure:
    built = a_site(zero_offset_m=0.012)
    session.commit()
    return built


def rows(header: str, cells: str, *, count: int = 96, form: str = "%Y-%m-%d %H:%M") -> bytes:
    """Return a file of one reading every quarter of an hour, all alike."""
    stamps = (BEGIN + timedelta(minutes=15 * k) for k in range(count))
    return (header + "\n" + "".join(f"{t:{form}},{cells}\n" for t in stamps)).encode()


BARO = rows("Time,Pressure (kPa),Baro (hPa)", "103.2,1012.0")
WATER_M = 2000.0 / 9806.65  # 103.2 kPa less 1012 hPa, as metres of water at 1000 kg/m3 and g_n
CASES = {
    "unit": (rows("Time,Level", "0.2512"), {"unit_2": "m"}, 0.2512),
    "date order": (
        b"Time,Head (m)\n"
        + b"".join(b"0%d/0%d/2025,0.2512\n" % (d, m) for m in (3, 4) for d in range(1, 10)),
        {"date_order": "day first"},
        0.2512,
    ),
    "datum": (rows("Time,Level RL (m)", "99.474"), {"datum_above_crest_m": "-99.2235"}, 0.2505),
    "bracket": (rows("Time,Distance (m)", "0.8"), {"bracket_above_crest_m": "1.05"}, 0.25),
    "absolute pressure": (BARO, {"sensor_above_crest_m": "-0.12"}, WATER_M - 0.12),
    "absolute pressure at the crest": (BARO, {"sensor_above_crest_m": "0"}, WATER_M),
    "vented pressure": (
        rows("Time,Pressure (kPa)", "2.0"),
        {"sensor_above_crest_m": "0.05"},
        WATER_M + 0.05,
    ),
    "pressure without a unit": (
        rows("Time,Pressure,Baro (hPa)", "103.2,1012.0"),
        {"unit_2": "kPa", "sensor_above_crest_m": "-0.12"},
        WATER_M - 0.12,
    ),
    "no barometer": (
        rows("Time,Pressure abs (kPa)", "2.0"),
        {"columns": "vented column 2", "sensor_above_crest_m": "0"},
        WATER_M,
    ),
    "two heads": (rows("Time,Head A (m),Head B (m)", "0.3,0.2512"), {"columns": "3"}, 0.2512),
    "two pressures": (  # which of them it is makes neither of them a head
        rows("Time,Pressure A (kPa),Pressure B (kPa)", "3.0,2.0"),
        {"columns": "3", "sensor_above_crest_m": "0.05"},
        WATER_M + 0.05,
    ),
    "no name": (
        rows("Time,Alpha,Beta", "0.3,0.2512"),
        {"head_column": "3", "unit_3": "m"},
        0.2512,
    ),
    "raw counts": (
        rows("Time,Level (mA)", "12.0"),
        {"unit_2": "scaled", "zero_2": "-0.05", "per_unit_2": "0.025"},
        0.25,
    ),
}


def held(session: Session, structure: Structure) -> np.ndarray:
    session.commit()
    return raw_series(session, structure.id or 0, "head", -(2**40), 2**40).value_m


@pytest.mark.parametrize("case", CASES)
def test_a_question_is_answered_changed_and_imported(
    as_office: TestClient, structure: Structure, session: Session, case: str
) -> None:
    content, answers, head_m = CASES[case]
    path = uploaded(as_office, structure.site_id, content)
    first = as_office.get(path, headers=HTML).text
    assert "Questions" in first
    assert "data-go" not in first
    form = form_of(first)
    text = first
    for name, value in answers.items():  # as a person does: one by one, a look after each
        assert name in form, (name, sorted(form))
        form |= {name: value}
        text = as_office.get(path, params=form, headers=HTML).text
        form = form_of(text)
        assert form[name] == value  # still there, and the same
        choices = options_of(text, name)
        assert not choices or value in choices
    assert "data-go" in text, text[text.index("<main") :][:4000]
    assert "your answer" in text
    if case == "no name":  # changed, and changed back
        other = form_of(as_office.get(path, params=form | {"head_column": "2"}, headers=HTML).text)
        again = as_office.get(path, params=other | {"head_column": "3"}, headers=HTML).text
        form = form_of(again)
    done = as_office.post(path, data=form | {"logger": "new"}, headers=HTML)
    assert "new readings" in done.text, done.text
    values = held(session, structure)
    assert values.size > 0
    assert values == pytest.approx(np.full(values.size, head_m), abs=1e-9)


def test_an_answer_that_is_none_loses_no_other_answer(
    as_office: TestClient, structure: Structure
) -> None:
    content = rows("Time,Pressure,Baro (hPa)", "103.2,1012.0")
    path = uploaded(as_office, structure.site_id, content)
    form = form_of(as_office.get(path, headers=HTML).text)
    form |= {"unit_2": "kPa", "sensor_above_crest_m": "a hand", "name": "Probe", "note": "kept"}
    answer = as_office.get(path, params=form, headers=HTML)
    assert answer.status_code == 422
    left = form_of(answer.text)
    assert left["unit_2"] == "kPa"
    assert left["sensor_above_crest_m"] == "a hand"
    assert left["name"] == "Probe"
    assert "data-go" not in answer.text
    text = as_office.get(path, params=left | {"sensor_above_crest_m": "-0.12"}, headers=HTML).text
    assert "data-go" in text
    assert "0.12 m below the crest" in text  # the figure as it was read


def test_what_was_answered_for_a_logger_is_shown_as_such_and_can_be_changed(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    path = uploaded(as_office, structure.site_id, BARO)
    form = form_of(as_office.get(path, headers=HTML).text) | {"sensor_above_crest_m": "-0.12"}
    form = form_of(as_office.get(path, params=form, headers=HTML).text)
    assert "new readings" in as_office.post(path, data=form, headers=HTML).text
    logger_id = session.exec(select(Logger.id)).one()
    session.commit()
    later = BARO.replace(b"2025-03-13", b"2025-04-13").replace(b"2025-03-14", b"2025-04-14")
    path = uploaded(as_office, structure.site_id, later, "later.csv")
    text = as_office.get(path, params={"logger": str(logger_id)}, headers=HTML).text
    assert "answered for this logger before" in text
    assert "-0.12 m" in text
    assert "data-go" in text
    form = form_of(text)
    assert form["sensor_above_crest_m"] == ""  # empty keeps it
    moved = as_office.get(path, params=form | {"sensor_above_crest_m": "-0.2"}, headers=HTML).text
    done = as_office.post(path, data=form_of(moved), headers=HTML)
    assert "96 new readings" in done.text
    values = held(session, structure)
    assert values[:96] == pytest.approx(np.full(96, WATER_M - 0.12))
    assert values[96:] == pytest.approx(np.full(96, WATER_M - 0.2))
    session.commit()
    assert session.exec(select(Logger)).one().remembered["sensor_above_crest_m"] == -0.2


def test_a_second_logger_is_new_and_gets_its_zero_once(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    session.add(Logger(structure_id=structure.id or 0, name="Old", reads="staff"))
    session.commit()
    old_id = session.exec(select(Logger.id)).one()
    session.commit()
    path = uploaded(as_office, structure.site_id, BARO)
    form = form_of(as_office.get(path, headers=HTML).text)
    assert form["logger"] == str(old_id)
    form |= {"sensor_above_crest_m": "-0.12"}
    text = as_office.get(path, params=form, headers=HTML).text
    assert "added twice" in text  # said, and not only said: it cannot be taken in so
    assert "data-go" not in text
    refused = as_office.post(path, data=form_of(text), headers=HTML)
    assert refused.status_code == 422
    assert session.exec(select(LoggerImport)).all() == []
    session.commit()
    text = as_office.get(path, params=form_of(text) | {"logger": "new"}, headers=HTML).text
    assert "the only one here" not in text
    assert "added twice" not in text
    assert options_of(text, "reads") == ["crest"]
    done = as_office.post(path, data=form_of(text) | {"name": "Probe"}, headers=HTML)
    assert "96 new readings" in done.text
    made = session.exec(select(Logger).where(Logger.name == "Probe")).one()
    assert made.reads == "crest"
    session.commit()
    twice = as_office.post(path, data=form_of(text) | {"name": "Probe"}, headers=HTML)
    assert "Held already" in twice.text  # a second press makes no second logger
    assert len(session.exec(select(Logger)).all()) == 2


def test_a_question_that_the_page_does_not_know_gets_a_box() -> None:
    asked = (
        Guess("raw_or_calibrated", "column 3", "two columns", ("column 4",), ask=True),
        Guess("mast_height_m", "not known", "turns it into a head", ("metres",), ask=True),
        Guess("site_word", "", "no choice", (), ask=True),
        Guess("head_column", "column 2 (a)", "no header", ("column 3",), ask=True),
        Guess("scale of column 4", "no scale", "raw counts", (), ask=True),
    )
    boxes = {box.name: box for box in answer_boxes(asked, {"mast_height_m": "1,5"})}
    assert boxes["raw_or_calibrated"].kind == "choice"
    assert [v for v, _ in boxes["raw_or_calibrated"].options] == ["column 3", "column 4"]
    assert (boxes["mast_height_m"].kind, boxes["mast_height_m"].echo) == ("figure", "1.5 m")
    assert boxes["site_word"].kind == "text"
    assert {name for name, box in boxes.items() if box.generic} == {
        "raw_or_calibrated",
        "mast_height_m",
        "site_word",
    }
    assert boxes["head_column"].options == [("2", "column 2 (a)"), ("3", "column 3")]
    assert scaled_columns({}, None, asked) == [4]
    assert answers_of({"head_column": "3", "zero_4": "0.1", "per_unit_4": "0.001"}) == {
        "head_column": "3",
        "columns": {"4": {"unit": "scaled", "zero": 0.1, "per_unit": 0.001}},
    }


def test_a_clock_that_nobody_spoke_of_is_asked_when_an_hour_is_missing(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    """The first file showed no clock change; that it was taken for standard time is no answer."""
    path = uploaded(as_office, structure.site_id, rows("Serial: QZ-1\nTime,Head (m)", "0.25"))
    form = form_of(as_office.get(path, headers=HTML).text)
    assert "new readings" in as_office.post(path, data=form, headers=HTML).text
    assert "time_zone" not in session.exec(select(Logger)).one().remembered
    session.commit()
    summer = BEGIN + timedelta(days=198)  # a Saturday
    stamps = [summer + timedelta(minutes=15 * k) for k in range(96 * 3)]
    moved = [t + timedelta(hours=1) if t >= summer + timedelta(hours=26) else t for t in stamps]
    text = "Serial: QZ-1\nTime,Head (m)\n" + "".join(f"{t:%Y-%m-%d %H:%M},0.25\n" for t in moved)
    path = uploaded(as_office, structure.site_id, text.encode(), "later.csv")
    page = as_office.get(path, headers=HTML).text
    assert "Questions" in page
    assert "exactly one hour is missing" in page
    form = form_of(page) | {"time_zone": "standard"}
    page = as_office.get(path, params=form, headers=HTML).text
    assert form_of(page)["time_zone"] == "standard"
    assert "new readings" in as_office.post(path, data=form_of(page), headers=HTML).text


def test_what_the_phone_said_of_a_file_is_in_the_form(
    as_office: TestClient,
    structure: Structure,
    session: Session,
    a_person: Callable[..., Person],
) -> None:
    person, content = a_person(), rows("Time,Head (m)", "0.25")
    sha256 = hashlib.sha256(content).hexdigest()
    entry = a_reading(structure, person) | {
        "kind": "logger_file",
        "body": {
            "sha256": sha256, "name": "p.csv", "size": len(content), "serial": "QP-3",
            "downloaded_at": None, "clock_fast_s": 95.0, "note": "at the weir",
        },
    }  # fmt: skip
    (receipt,) = send(session, person, entry)
    assert receipt.state == "stored", receipt
    kept_files.keep(
        session,
        person,
        "logger_file",
        name="p.csv",
        sent_sha256=sha256,
        content=content,
        received_at=utc_now(),
    )
    # the queue of review leads here without any of it in the address
    text = as_office.get(f"/sites/{structure.site_id}/loggers/files/{sha256}", headers=HTML).text
    form = form_of(text)
    assert (form["clock_fast_s"], form["structure_id"]) == ("95", str(structure.id))
    assert "at the weir" in text
    done = as_office.post(
        f"/sites/{structure.site_id}/loggers/files/{sha256}", data=form, headers=HTML
    )
    assert "the clock error was added as a correction" in done.text


def visible(text: str, name: str) -> bool:
    """Return whether the form has a control of this name that a person can see."""
    controls = re.findall(rf'<(?:input|select)[^>]* name="{name}"[^>]*>', text)
    return any('type="hidden"' not in control for control in controls)


@pytest.mark.parametrize(
    ("answers", "refused"),
    [
        ({"unit_2": "kPa", "sensor_above_crest_m": "-1 234,5"}, "sensor_above_crest_m"),
        ({"unit_2": "kPa", "column_2": "head", "sensor_above_crest_m": "-0.12"}, "unit_2"),
    ],
)
def test_an_answer_the_file_cannot_be_read_by_stays_in_view_to_be_changed(
    as_office: TestClient, structure: Structure, answers: dict[str, str], refused: str
) -> None:
    content = rows("Time,Pressure,Baro (hPa)", "103.2,1012.0")
    path = uploaded(as_office, structure.site_id, content)
    answer = as_office.get(path, params=answers, headers=HTML)
    assert answer.status_code == 422
    assert "row 1, column 1" not in answer.text.lower()
    for name, value in answers.items():
        assert visible(answer.text, name), name
        assert form_of(answer.text)[name] == value
    mended = form_of(answer.text) | {refused: ""}
    assert as_office.get(path, params=mended, headers=HTML).status_code == 200  # asked again


def test_a_pressure_without_a_barometer_asks_for_the_barometer(
    as_office: TestClient, structure: Structure
) -> None:
    content = rows("Time,Pressure abs (kPa)", "103.2")
    text = as_office.get(uploaded(as_office, structure.site_id, content), headers=HTML).text
    assert '<label for="columns">Barometer</label>' in text
    assert "Which column is the head" not in text
