"""What of the settings holds, for totals, readings and the phone."""

from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.hydraulics.gauging import steadiness
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.days import staleness
from app.services.rerating import act
from app.services.settings import in_force
from app.services.settings.change import back_to_default, set_from_form
from tests.conftest import a_reading, signed_in

NOW = datetime(2026, 11, 25, tzinfo=UTC)


def set_(session: Session, key: str, typed: str, revision: int = 0) -> None:
    form = {"value": typed, "reason": "as agreed", "revision": str(revision)}
    set_from_form(session, key, form, None)
    session.commit()


def test_water_years_begin_when_the_office_says(session: Session) -> None:
    assert in_force.water_year_start(session) == (7, 1)
    set_(session, "water_year", "10-01")
    assert in_force.water_year_start(session) == (10, 1)


def test_the_limits_of_steadiness_are_the_built_in_ones_until_set(session: Session) -> None:
    assert in_force.judging(session).steady == steadiness.Limits()
    assert in_force.judging(session).cited is None
    set_(session, "least_span_s", "5")
    assert in_force.judging(session).steady.least_span_s == 300.0
    assert in_force.judged_by(in_force.judging(session).cited) == in_force.judging(session)
    names = {one.name for one in fields(steadiness.Limits)}
    assert names <= {one.name for one in fields(in_force.Judging)}


def test_a_looser_drift_makes_a_settling_flow_steady() -> None:
    """Four readings over 3 min that rise 1.5 mm: 5 mm in 10 min, limit 2 mm (common practice)."""
    times, heads = [0.0, 60.0, 120.0, 180.0], [0.2, 0.2005, 0.201, 0.2015]
    flow = {"exponent": 1.5, "discharge_m3s": 0.1}
    assert steadiness.classify(times, heads, **flow).word == "settling"
    loose = steadiness.Limits(drift_limit_m=0.006)
    assert steadiness.classify(times, heads, **flow, limits=loose).word == "steady"


@pytest.fixture
def rated(
    app: object, session: Session, a_person: Callable[..., Person], a_site: Callable[..., Structure]
) -> tuple[TestClient, Structure, str]:
    """Give a reading whose repeats are 12 mm apart, sent and rated, and who may rate again."""
    ines, structure = a_person("Ines", "office"), a_site()
    reading = a_reading(structure, ines)
    reading["body"]["staff_m"] = [0.2, 0.212]
    office = signed_in(app, "Ines")  # type: ignore[arg-type]
    body = {"protocol": 1, "phone": "p", "sent_at": None, "entries": [reading]}
    receipts = office.post("/sync", json=body).json()["receipts"]
    assert receipts[0]["state"] == "stored", receipts
    return office, structure, reading["id"]


def current(session: Session) -> FlowValue:
    session.expire_all()
    return session.exec(select(FlowValue).where(col(FlowValue.current))).one()


def test_a_reading_is_stale_after_a_limit_changes_and_moves_only_when_rated_again(
    session: Session, rated: tuple[TestClient, Structure, str]
) -> None:
    """A limit that is set never changes a stored row by itself; going back makes it good again."""
    _, structure, _ = rated
    site_id = structure.site_id
    before = current(session)
    flags, discharge, first = before.flags, before.discharge_m3s, before.id
    assert before.limits is None
    assert staleness.stale_readings(session, site_id) == []
    set_(session, "repeats_range_m", "20")
    [stale] = staleness.stale_readings(session, site_id)
    assert "limits for judging" in stale.words
    assert current(session).flags == flags
    back_to_default(session, "repeats_range_m", {"reason": "no", "revision": "1"}, None)
    session.commit()
    assert staleness.stale_readings(session, site_id) == []
    set_(session, "repeats_range_m", "20", 2)
    look = act.look(session, site_id, NOW)
    act.rerate(session, site_id, look.token, "coarse staffs", now=NOW, by_id=None)
    session.commit()
    after = current(session)
    assert after.limits == '{"repeats_range_m": 0.02}'
    assert after.flags != flags
    assert after.id != first
    assert after.discharge_m3s == discharge
    assert staleness.stale_readings(session, site_id) == []
