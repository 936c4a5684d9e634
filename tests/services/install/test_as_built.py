"""As built against the named size, and the rating made from it."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from app.errors import BadInput
from app.language.typed import Doubtful
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Rating, Structure
from app.services.install.as_built import as_built
from app.services.install.tables import as_built_table
from app.services.plans import make as planning
from app.services.sync import measure as as_built_entry
from app.services.sync.pack_surveys import named_dimensions
from tests.builders.plan_cases import PLAN
from tests.conftest import BEGIN, iso, send

NOW = datetime(2026, 11, 25, 3, 0, tzinfo=UTC)
THROAT = {"b": 0.4, "L": 0.8, "p": 0.1, "B": 0.8}
FORM = {"at": "2026-11-24T10:00", "valid_from": "2026-11-24T12:00", "reason": "after backfill"}


def check(structure: Structure, person: Person, number: int, **measured: list[float]) -> Any:
    return {
        "id": f"01890000-0000-7000-8000-0000000001{number:02d}", "kind": "dimension_check",
        "site_id": structure.site_id, "structure_id": structure.id, "visit_id": None,
        "observed_at": iso(BEGIN + timedelta(days=number)), "utc_offset_min": 720,
        "by": person.id, "saved_at": iso(BEGIN + timedelta(days=number)), "corrects": None,
        "reason": None,
        "body": {
            "dimensions": [{"key": k, "measured_m": v} for k, v in measured.items()],
            "instrument": "steel rule",
        },
    }  # fmt: skip


@pytest.fixture
def person(a_person: Callable[..., Person]) -> Person:
    return a_person("Office", "office")


@pytest.fixture
def throat(a_site: Callable[..., Structure]) -> Structure:
    return a_site(family="long_throat_rect", dims=dict(THROAT))


def test_tolerances_are_those_of_the_standard(
    session: Session, throat: Structure, person: Person
) -> None:
    """ISO 4359 construction tolerances (from memory): width 0.2 %, throat length 1 %."""
    send(session, person, check(throat, person, 1, b=[0.4009, 0.4009, 0.4009], L=[0.8079]))
    sheet = as_built(session, throat.id or 0)
    lines = {line.part.key: line for line in sheet.lines}
    assert lines["b"].check.tolerance_m == pytest.approx(0.0008)
    assert lines["L"].check.tolerance_m == pytest.approx(0.008)
    assert (lines["b"].check.word, lines["L"].check.word) == ("outside", "inside")
    assert len(sheet.outside) == 1
    assert "+0.9 mm, allowed 0.8 mm (ISO 4359" in sheet.outside[0]
    assert any(name.startswith("p, sill height") for name in sheet.missing)
    assert "crest corners, levelled" in sheet.missing


def test_the_newest_measurement_counts_and_bowed_walls_are_told(
    session: Session, throat: Structure, person: Person
) -> None:
    send(
        session,
        person,
        check(throat, person, 1, b=[0.41]),
        check(throat, person, 2, b=[0.398, 0.4, 0.402]),
    )
    sheet = as_built(session, throat.id or 0)
    line = next(line for line in sheet.lines if line.part.key == "b")
    assert line.check.inside
    assert any("bowed" in words for words in sheet.outside)


def test_the_rating_is_made_from_the_as_built(
    session: Session, throat: Structure, person: Person
) -> None:
    send(session, person, check(throat, person, 1, b=[0.402, 0.403, 0.404], p=[0.098]))
    assert as_built(session, throat.id or 0).made is None
    rating = as_built_entry.make_rating(session, throat.id or 0, FORM, person.id or 0)
    session.commit()
    assert rating.dims["b"] == pytest.approx(0.403)
    assert rating.dims["p"] == pytest.approx(0.098)
    assert rating.dims["L"] == THROAT["L"]
    assert rating.reason.startswith("From the as-built (2 outside): after backfill")
    sheet = as_built(session, throat.id or 0)
    assert sheet.made is not None
    assert sheet.made.id == rating.id
    assert sheet.lines[0].check.named_m == 0.4, "held against the named size, not against itself"
    assert all(pct > 0 for _, pct in sheet.budget)


def test_nothing_measured_makes_no_rating(
    session: Session, throat: Structure, person: Person
) -> None:
    with pytest.raises(BadInput) as refused:
        as_built_entry.make_rating(session, throat.id or 0, FORM, person.id or 0)
    assert "b, L, p, B" in refused.value.remedy


def test_a_throat_of_another_size_is_told_not_rated(
    session: Session, a_site: Callable[..., Structure], person: Person
) -> None:
    structure = a_site()
    send(session, person, check(structure, person, 1, W=[0.33]))
    sheet = as_built(session, structure.id or 0)
    assert "within 2 %" in sheet.dims_problem
    with pytest.raises(BadInput):
        as_built_entry.make_rating(session, structure.id or 0, FORM, person.id or 0)
    assert len(session.exec(select(Rating)).all()) == 1


def test_figures_typed_at_the_office_are_an_entry_like_any_other(
    session: Session, throat: Structure, person: Person
) -> None:
    form = FORM | {"m.b.1": "401", "m.b.2": "400,5", "instrument": "tape"}
    as_built_entry.enter(session, throat.id or 0, form, person, NOW)
    entry = session.exec(select(Entry)).one()
    assert entry.kind == "dimension_check"
    assert entry.body["dimensions"][0]["measured_m"] == [0.401, 0.4005]
    assert entry.observed_at == datetime(2026, 11, 23, 22, 0, tzinfo=UTC)
    for bad in ({"m.b.1": "wide"}, {"m.b.1": "", "m.b.2": ""}, {"at": "then"}):
        with pytest.raises(BadInput) as refused:
            as_built_entry.enter(session, throat.id or 0, form | bad, person, NOW)
        assert refused.value.remedy
    assert len(session.exec(select(Entry)).all()) == 1


@pytest.mark.parametrize(
    ("typed", "offered"), [("0.4", "400"), ("40", "400"), ("4000", "400"), ("15.7", "398.8")]
)
def test_a_dimension_unlike_its_named_value_is_asked_about_once(
    session: Session, throat: Structure, person: Person, typed: str, offered: str
) -> None:
    form = FORM | {"m.b.1": typed, "instrument": "tape"}
    with pytest.raises(Doubtful) as asked:
        as_built_entry.enter(session, throat.id or 0, form, person, NOW)
    assert asked.value.choices == [offered, typed]
    assert session.exec(select(Entry)).all() == []
    as_built_entry.enter(session, throat.id or 0, form | {"sure:m.b.1": typed}, person, NOW)
    assert session.exec(select(Entry)).one().body["as_typed"] == [typed]


@pytest.mark.parametrize(
    ("typed", "metres", "choices"),
    [
        ("1,251", 1.251, None),
        ("1.251", 1.251, None),
        ("1.180,5", 1.1805, None),
        ("2,502", None, ["2.5020", "2502"]),
        ("12,190", None, ["1219", "12.19", "12190"]),
    ],
)
def test_a_figure_of_two_meanings_is_settled_by_its_named_value_or_asked_with_it(
    a_site: Callable[..., Structure], session: Session, person: Person, typed: str,
    metres: float | None, choices: list[str] | None,
) -> None:  # fmt: skip
    wide = a_site(family="long_throat_rect", dims=THROAT | {"b": 1.2192, "B": 2.0})
    form = FORM | {"m.b.1": typed, "instrument": "tape"}
    if choices is None:
        as_built_entry.enter(session, wide.id or 0, form, person, NOW)
        entry = session.exec(select(Entry)).one()
        assert entry.body["dimensions"][0]["measured_m"] == [metres]
        return
    with pytest.raises(Doubtful) as asked:
        as_built_entry.enter(session, wide.id or 0, form, person, NOW)
    assert asked.value.choices == choices
    assert "1219.2 mm" in asked.value.rule


def test_the_plan_names_the_size(session: Session, throat: Structure, person: Person) -> None:
    plan = planning.add_plan(session, throat.site_id, PLAN, person.id or 0)
    form = {"candidate": "2", "structure_id": str(throat.id), "valid_from": "2026-11-01T08:00",
            "reason": "narrower"}  # fmt: skip
    planning.choose(session, plan.id or 0, form, person.id or 0)
    sheet = as_built(session, throat.id or 0)
    assert sheet.named_dims["b"] == 0.3
    assert f"plan {plan.id}" in sheet.named_from


def test_a_rating_of_ones_own_has_nothing_to_measure(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site(family="user_power", dims={"segments": "1.2,1.62,0.035,0.06,0.6"})
    sheet = as_built(session, structure.id or 0)
    assert "no dimensions" in sheet.problem
    assert as_built_table(sheet).rows == []


def test_the_phone_measures_the_same_parts(session: Session, throat: Structure) -> None:
    told = named_dimensions(throat.family, '{"b": 0.4, "L": 0.8, "p": 0.1, "B": 0.8}')
    sheet = as_built(session, throat.id or 0)
    assert [d["key"] for d in told] == [line.part.key for line in sheet.lines]
