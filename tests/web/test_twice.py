"""A form of the office that arrives twice makes one row; a form that differs makes another."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, SQLModel, func, select

from app.records.audit import AuditEntry
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.records.takes import RaceCapacity, TakeLimit

SEASON = {"kind": "season", "amount": "6000", "valid_from": "2024-07-01", "note": "permit"}
ZERO = {
    "crest_rl_m": "1.251", "zero_rl_m": "1.250", "valid_from": "2026-11-01T09:00",
    "reason": "levelled",
}  # fmt: skip
RATING = {
    "family": "parshall", "dim.size": "1ft", "valid_from": "2026-11-01T09:00", "reason": "again",
}  # fmt: skip
CAPACITY = {"kind": "flow", "amount": "0.4", "valid_from": "2024-07-01", "reason": "bank-full"}
FORMS: list[tuple[str, dict[str, str], dict[str, str], type[SQLModel]]] = [
    ("takes", SEASON, {"amount": "7000"}, TakeLimit),
    ("gauge-zeros", ZERO, {"zero_rl_m": "1.249"}, GaugeZero),
    ("ratings", RATING, {"reason": "another"}, Rating),
    ("race-capacity", CAPACITY, {"amount": "0.5"}, RaceCapacity),
]


@pytest.fixture
def number(a_site: Callable[..., Structure], session: Session) -> int:
    made = a_site().id
    session.commit()
    assert made is not None
    return made


def count(session: Session, model: Any) -> int:
    found = int(session.exec(select(func.count()).select_from(model)).one())
    session.rollback()
    return found


@pytest.mark.parametrize(("place", "form", "other", "model"), FORMS, ids=[f[0] for f in FORMS])
def test_the_same_form_twice_makes_one_row(
    as_office: TestClient,
    number: int,
    session: Session,
    place: str,
    form: dict[str, str],
    other: dict[str, str],
    model: type[SQLModel],
) -> None:
    path = f"/structures/{number}/{place}"
    before, trail = count(session, model), count(session, AuditEntry)
    for _ in range(2):
        answer = as_office.post(path, data=form)
        assert answer.status_code == 303, answer.text
    assert (count(session, model), count(session, AuditEntry)) == (before + 1, trail + 1)
    assert as_office.post(path, data=form | other).status_code == 303
    assert as_office.post(path, data=form).status_code == 303
    assert count(session, model) == before + 3  # back to the first is an act of its own


def test_after_a_minute_the_same_is_said_again(
    as_office: TestClient, number: int, session: Session
) -> None:
    path = f"/structures/{number}/takes"
    as_office.post(path, data=SEASON)
    row = session.exec(select(TakeLimit)).one()
    row.added_at -= timedelta(seconds=61)
    session.add(row)
    session.commit()
    as_office.post(path, data=SEASON)
    assert count(session, TakeLimit) == 2


def test_a_site_and_a_structure_are_added_once(as_office: TestClient, session: Session) -> None:
    site = {"code": "SEDGE", "name": "Sedge (invented)", "utc_offset": "+12:00", "head_unit": "mm"}
    first, second = (as_office.post("/sites", data=site) for _ in range(2))
    assert (first.status_code, second.status_code) == (303, 303)
    assert first.headers["location"] == second.headers["location"]
    assert as_office.post("/sites", data=site | {"name": "Other"}).status_code == 422
    flume = RATING | {"name": "Flume", "crest_rl_m": "1.25", "zero_rl_m": "1.25"}
    path = first.headers["location"].partition("?")[0].rstrip("/") + "/structures"
    answers = [as_office.post(path, data=flume) for _ in range(2)]
    assert [a.status_code for a in answers] == [303, 303]
    assert [count(session, m) for m in (Site, Structure, Rating, GaugeZero)] == [1, 1, 1, 1]
    assert as_office.post(path, data=flume | {"pond_area_m2": "12"}).status_code == 422
