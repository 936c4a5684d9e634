"""readings.csv: RFC 4180, every figure to the last digit, no formula in a text cell."""

import csv
import io
import json
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session, select

from app.language.tables import Column, csv_lines
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.readings.export import EXPORT_COLUMNS, export_readings
from app.services.readings.list import span_of
from app.services.sites.register import get_site
from tests.conftest import BEGIN, a_reading, send

OPEN = span_of("", "", 720)


def exported(
    engine: sa.Engine, session: Session, structure: Structure, **options: Any
) -> tuple[str, list[dict[str, str]]]:
    site = get_site(session, structure.site_id)
    session.commit()
    text = "".join(export_readings(engine, site, options.pop("span", OPEN), **options))
    return text, list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_a_row_says_all_of_a_reading(
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(zero_offset_m=-0.0005), a_person()
    staff = [0.251, 0.2523, 0.2504]
    reading = a_reading(structure, ines, staff, tail_staff_m=0.2, body_conditions=["weed"])
    send(session, ines, reading)
    _, (row,) = exported(engine, session, structure)
    value = session.exec(select(FlowValue)).one()
    assert [float(row[f"staff_{k}_m"]) for k in (1, 2, 3)] == staff
    assert row["staff_4_m"] == ""
    for key in ("head_m", "tailwater_m", "submergence_ratio", "discharge_m3s", "uncertainty_pct"):
        assert float(row[key]) == getattr(value, key), key  # to the last digit
    assert float(row["zero_offset_m"]) == pytest.approx(-0.0005, abs=1e-12)
    assert row["observed_at_utc"] == "2024-07-31T00:00:00Z"
    assert row["observed_at_local"] == "2024-07-31T12:00:00+12:00"
    assert datetime.fromisoformat(row["observed_at_local"]) == BEGIN + timedelta(days=30)
    assert row["flow"] == "submerged, corrected"
    assert (row["observer"], row["conditions"]) == ("Ines", "weed")
    assert int(row["rating_id"]) == value.rating_id
    assert row["rating_valid_from"] == "2024-07-01T00:00:00Z"
    assert int(row["gauge_zero_id"]) == value.gauge_zero_id
    assert row["reading_id"] == reading["id"]


def test_the_text_is_rfc_4180(
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    note = 'said "about, 25",\nthen left'
    send(session, ines, a_reading(structure, ines, body_note=note))
    text, (row,) = exported(engine, session, structure)
    header, rest = text.split("\r\n", 1)
    assert header.split(",") == [c.key for c in EXPORT_COLUMNS]
    assert rest.endswith("\r\n")
    assert '"said ""about, 25"",\nthen left"' in rest  # RFC 4180 sec. 2 rules 6 and 7
    assert row["note"] == note


def test_text_that_starts_like_a_formula_is_defused_and_numbers_are_not(
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    # The characters are those of OWASP, CSV Injection.
    structure, eve = a_site(), a_person("=HYPERLINK(0)")
    notes = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1")
    for k, note in enumerate(notes):
        at = BEGIN + timedelta(days=30 + k)
        send(session, eve, a_reading(structure, eve, -0.004, body_note=note, at=at))
    _, rows = exported(engine, session, structure)
    assert [r["note"] for r in rows] == ["'" + note for note in notes]
    assert rows[0]["observer"] == "'=HYPERLINK(0)"
    assert float(rows[0]["staff_1_m"]) == -0.004
    assert float(rows[0]["head_m"]) == -0.004


def test_corrected_readings_are_left_out_or_linked(
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    first = a_reading(structure, ines, 0.512)
    second = a_reading(structure, ines, 0.215, corrects=first["id"], reason="misread")
    send(session, ines, first, second)
    _, rows = exported(engine, session, structure)
    assert [(r["reading_id"], r["corrects_id"]) for r in rows] == [(second["id"], first["id"])]
    _, rows = exported(engine, session, structure, with_corrected=True)
    assert {r["reading_id"]: r["corrected_by"] for r in rows} == {
        first["id"]: second["id"],
        second["id"]: "",
    }


def test_json_holds_the_same_rows(
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    for k in range(3):
        at = BEGIN + timedelta(days=30 + k)
        send(session, ines, a_reading(structure, ines, 0.2 + 0.03 * k, at=at))
    _, rows = exported(engine, session, structure)
    text, _ = exported(engine, session, structure, as_json=True)
    content = json.loads(text)
    assert [r["discharge_m3s"] for r in content["rows"]] == [
        float(r["discharge_m3s"]) for r in rows
    ]
    assert list(content["columns"]) == [c.key for c in EXPORT_COLUMNS]


def test_a_range_with_nothing_is_a_header_and_an_empty_list(
    engine: sa.Engine, session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site()
    text, rows = exported(engine, session, structure)
    assert rows == []
    assert text.count("\r\n") == 1
    empty, _ = exported(engine, session, structure, as_json=True)
    assert json.loads(empty)["rows"] == []


def test_a_reading_not_rated_keeps_its_raw_figures(
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(zeroed=False), a_person()
    send(session, ines, a_reading(structure, ines, 0.2))
    _, (row,) = exported(engine, session, structure)
    assert float(row["staff_mean_m"]) == 0.2
    assert (row["discharge_m3s"], row["flow"]) == ("", "not rated")
    assert "no gauge zero" in row["not_rated_reason"]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    number=st.floats(allow_nan=False, allow_infinity=False),
    text=st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=30),
)
def test_any_row_comes_back_from_a_csv_reader(number: float, text: str) -> None:
    columns = (Column("number", "Number"), Column("text", "Text"))
    written = "".join(csv_lines(columns, [{"number": number, "text": text}]))
    (row,) = csv.DictReader(io.StringIO(written, newline=""), strict=True)
    assert float(row["number"]) == number
    assert row["text"] in (text, "'" + text)
    assert not row["text"].startswith(("=", "+", "-", "@"))
