"""Heads that cannot be so: stored, flagged, and no flow only when a person says dry."""

from collections.abc import Callable
from typing import Any

import pytest
from sqlmodel import Session, col, select

from app.hydraulics.structure.device import Flow, flag_words
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.readings.usual import usual_heads
from tests.conftest import a_reading, send

Site = Callable[..., Structure]
Somebody = Callable[..., Person]


def rated(session: Session, structure: Structure, person: Person, staff: float, **more: Any) -> Any:
    entry = a_reading(structure, person, staff)
    entry["body"] |= more
    [receipt] = send(session, person, entry)
    assert receipt.state == "stored"
    query = select(FlowValue).where(FlowValue.entry_id == entry["id"], col(FlowValue.current))
    return session.exec(query).one()


def test_far_under_the_crest_is_not_rated_until_somebody_says_dry(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    value = rated(session, structure, person, -9.0)
    assert (value.discharge_m3s, value.flow) == (None, Flow.NOT_RATED)
    assert "unusual head, not confirmed" in flag_words(value.flags)
    assert "dry" in value.reason
    value = rated(session, structure, person, -9.0, as_typed=["-9000"])
    assert (value.discharge_m3s, value.flow) == (None, Flow.NOT_RATED)
    assert "unusual head, confirmed as read" in flag_words(value.flags)
    value = rated(session, structure, person, -0.3, dry=True)
    assert (value.discharge_m3s, value.flow) == (0.0, Flow.NO_FLOW)
    value = rated(session, structure, person, -0.02)
    assert (value.discharge_m3s, value.flow) == (0.0, Flow.NO_FLOW)


def test_a_figure_saved_with_its_question_open_is_in_doubt(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    """Common practice: a doubtful figure is kept and marked, never lost and never believed."""
    structure, person = a_site(), a_person()
    asked = [{"figure": "staff", "typed": "25.1", "unit": "mm", "answer": "not answered"}]
    value = rated(session, structure, person, 0.0251, asked=asked)
    assert "unusual head, not confirmed" in flag_words(value.flags)
    value = rated(session, structure, person, 0.0251, asked=asked, as_typed=["300"])
    assert "unusual head, not confirmed" in flag_words(value.flags), "another figure was confirmed"
    asked[0]["answer"] = "as typed"
    value = rated(session, structure, person, 0.0251, asked=asked, as_typed=["25.1"])
    assert "unusual head, confirmed as read" in flag_words(value.flags)


def test_a_head_far_over_the_rating_is_flagged(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    assert "unusual head, not confirmed" in flag_words(
        rated(session, structure, person, 2.511).flags
    )


def test_the_usual_range_stands_one_wild_reading(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    assert structure.id is not None
    for k in range(30):
        rated(session, structure, person, 0.20 + 0.005 * k)
    last = rated(session, structure, person, 0.9).at
    low, high = usual_heads(session, [structure.id], last)[structure.id]
    assert low == pytest.approx(0.10, abs=0.02)
    assert high == pytest.approx(0.52, abs=0.03)
