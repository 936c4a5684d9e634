"""Rating again: the look says what changes, the doing keeps what was, all or nothing."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.audit import AuditEntry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.rerating import act as rerate
from app.services.sites import structures
from tests.conftest import BEGIN, a_reading, send

NOW = datetime(2026, 11, 25, tzinfo=UTC)


def new_rating(session: Session, structure: Structure, size: str, valid_from: str) -> None:
    form = {"family": "parshall", "dim.size": size, "valid_from": valid_from, "reason": "measured"}
    structures.add_rating(session, structure.id or 0, form, None)
    session.commit()


def filled(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> tuple[Structure, list[str]]:
    structure, ines = a_site(), a_person()
    entries = [
        a_reading(structure, ines, staff, at=BEGIN + timedelta(days=days))
        for days, staff in ((10, 0.20), (40, 0.30), (70, 0.40))
    ]
    send(session, ines, *entries)
    return structure, [e["id"] for e in entries]


def test_nothing_changes_without_a_new_rating(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, _ = filled(session, a_site, a_person)
    found = rerate.look(session, structure.site_id, NOW)
    assert (found.readings, found.rows) == (3, [])


def test_the_look_says_how_many_and_how_much(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, _ = filled(session, a_site, a_person)
    # From the thirtieth day on (site time): the last two readings.
    new_rating(session, structure, "2ft", "2024-07-31T12:00")
    found = rerate.look(session, structure.site_id, NOW)
    # 2 ft over 1 ft: 1.429 h^1.55 / 0.6909 h^1.522 (Bos 1989, ILRI Publ. 20, sec. 7.4; the 2 ft
    # row read in Utah State Univ. BIE 5300/6300 lecture 2, the 1 ft row from memory).
    expected = [100 * (1.429 * h**1.55 / (0.6909 * h**1.522) - 1) for h in (0.30, 0.40)]
    assert found.compared == pytest.approx(expected, rel=1e-6)
    assert found.mean_pct == pytest.approx(sum(expected) / 2, rel=1e-6)
    assert found.largest_pct == pytest.approx(max(expected), rel=1e-6)
    assert session.exec(select(FlowValue).where(~col(FlowValue.current))).all() == []


def test_done_keeps_the_old_values_and_says_why(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ids = filled(session, a_site, a_person)
    rudd = a_person("Rudd", "office")
    before = {v.entry_id: v.discharge_m3s for v in session.exec(select(FlowValue))}
    new_rating(session, structure, "2ft", "2024-07-31T12:00")
    look = rerate.look(session, structure.site_id, NOW)
    rerate.rerate(session, structure.site_id, look.token, "throat measured", now=NOW, by_id=rudd.id)
    session.commit()
    values = session.exec(select(FlowValue)).all()
    old = {v.entry_id: v.discharge_m3s for v in values if not v.current}
    now = {v.entry_id: v for v in values if v.current}
    assert old == {key: before[key] for key in ids[1:]}
    assert set(now) == set(ids)
    assert now[ids[0]].discharge_m3s == before[ids[0]]
    line = session.exec(select(AuditEntry).where(AuditEntry.action == "rated again")).one()
    assert (line.by_id, line.reason) == (rudd.id, "throat measured")
    assert line.after is not None
    assert line.after["changed"] == 2
    assert rerate.look(session, structure.site_id, NOW).rows == []


def test_what_is_done_is_what_was_looked_at(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, _ = filled(session, a_site, a_person)
    new_rating(session, structure, "2ft", "2024-07-31T12:00")
    look = rerate.look(session, structure.site_id, NOW)
    new_rating(session, structure, "3ft", "2024-08-20T00:00")
    with pytest.raises(BadInput, match="changed since this was looked at"):
        rerate.rerate(session, structure.site_id, look.token, "measured", now=NOW, by_id=None)
    session.rollback()
    assert all(v.current for v in session.exec(select(FlowValue)))


def test_a_new_zero_moves_the_heads(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, _ = filled(session, a_site, a_person)
    form = {"crest_rl_m": "100", "zero_rl_m": "100.005", "valid_from": "2024-07-02T00:00"}
    structures.add_gauge_zero(session, structure.id or 0, form | {"reason": "level run"}, None)
    session.commit()
    found = rerate.look(session, structure.site_id, NOW)
    # Q goes with h^1.522: 5 mm on 200 mm is 3.8 % (exponent: Bos 1989, sec. 7.4; from memory).
    assert found.compared[0] == pytest.approx(100 * ((0.205 / 0.200) ** 1.522 - 1), rel=1e-6)


def test_readings_from_before_any_rating_get_their_first_value(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(rated=False), a_person()
    send(session, ines, a_reading(structure, ines, 0.2))
    new_rating(session, structure, "1ft", "2024-07-02T00:00")
    found = rerate.look(session, structure.site_id, NOW)
    assert found.word_changes == [("not rated", "assumed free", 1)]
    assert found.mean_pct is None


def test_no_reason_no_rating(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, _ = filled(session, a_site, a_person)
    with pytest.raises(BadInput) as refused:
        rerate.rerate(session, structure.site_id, "", " ", now=NOW, by_id=None)
    assert refused.value.field == "reason"
