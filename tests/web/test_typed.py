"""Figures of two meanings in the office: asked beside their box, answered, everything else kept."""

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.sites import GaugeZero, Structure
from app.records.takes import TakeLimit
from app.services.sites import structures
from tests.builders.web_record_files import HTML

SEASON = {
    "kind": "season", "amount": "6,000", "valid_from": "2024-07-01", "season_begins": "07-01",
    "season_ends": "06-30", "note": "permit 7 (invented)",
}  # fmt: skip


@pytest.fixture
def number(a_site: Callable[..., Structure], session: Session) -> int:
    made = a_site().id
    session.commit()
    assert made is not None
    return made


def amounts(session: Session) -> list[float]:
    found = [row.amount for row in session.exec(select(TakeLimit))]
    session.rollback()
    return found


def test_six_comma_thousands_is_asked_and_answered(
    as_office: TestClient, number: int, session: Session
) -> None:
    path = f"/structures/{number}/takes"
    asked = as_office.post(path, data=SEASON, headers=HTML)
    assert asked.status_code == 422
    assert "it can be 6 or 6000" in asked.text
    text = " ".join(asked.text.split())
    assert 'name="read:amount" value="6000"' in text
    assert 'name="was:amount" value="6,000"' in text
    assert 'value="6,000"' in asked.text
    assert "permit 7 (invented)" in asked.text
    assert amounts(session) == []
    answer = SEASON | {"was:amount": "6,000", "read:amount": "6000"}
    assert as_office.post(path, data=answer).status_code == 303
    assert amounts(session) == [6000.0]


def test_an_answer_holds_only_for_what_was_asked(
    as_office: TestClient, number: int, session: Session
) -> None:
    path = f"/structures/{number}/takes"
    retyped = SEASON | {"amount": "7000", "was:amount": "6,000", "read:amount": "6000"}
    assert as_office.post(path, data=retyped).status_code == 303
    assert amounts(session) == [7000.0]


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("9\u202f000", 9000.0), ("2 500 000", 2.5e6), ("34\u00a0507", 34507.0),
        ("1.234.567,5", 1234567.5), ("0,251", 0.251), ("1,5", 1.5),
    ],
)  # fmt: skip
def test_what_the_app_prints_may_be_typed(
    as_office: TestClient, number: int, session: Session, typed: str, value: float
) -> None:
    path = f"/structures/{number}/takes"
    assert as_office.post(path, data=SEASON | {"amount": typed}).status_code == 303
    assert amounts(session) == [value]


def test_levels_in_metres_are_never_asked(
    as_office: TestClient, number: int, session: Session
) -> None:
    form = {
        "crest_rl_m": "1.251", "zero_rl_m": "1,250", "valid_from": "2026-11-01T09:00",
        "reason": "levelled",
    }  # fmt: skip
    answer = as_office.post(f"/structures/{number}/gauge-zeros", data=form)
    assert answer.status_code == 303
    zeros = session.exec(select(GaugeZero).where(GaugeZero.structure_id == number)).all()
    assert (zeros[-1].crest_rl_m, zeros[-1].zero_rl_m) == (1.251, 1.25)


def test_a_prefilled_form_comes_back_unasked(
    as_office: TestClient, number: int, session: Session
) -> None:
    structure = structures.get_structure(session, number)
    structure.pond_area_m2 = 1.251
    form = structures.form_of(structure)
    session.commit()
    assert as_office.post(f"/structures/{number}", data=form).status_code == 303
    session.refresh(structure)
    assert structure.pond_area_m2 == 1.251
    assert structure.revision > 1
