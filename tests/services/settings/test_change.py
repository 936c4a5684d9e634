"""Setting a value: append-only, with who and why, and nobody's change is lost."""

import threading
from collections.abc import Callable

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, select

from app.errors import BadInput, NotFound
from app.language.forms import ChangedMeanwhile
from app.records.audit import AuditEntry
from app.records.people import Person
from app.records.settings import Setting
from app.services.settings import in_force, page
from app.services.settings.change import back_to_default, set_from_form
from app.services.settings.known import KNOWN


def form(typed: str, revision: int = 0, reason: str = "as agreed") -> dict[str, str]:
    return {"value": typed, "reason": reason, "revision": str(revision)}


@pytest.mark.parametrize(
    ("key", "typed", "held", "words"),
    [
        ("organisation", " Rill & Co (invented) ", "Rill & Co (invented)", "Rill & Co (invented)"),
        ("licence", " open (invented) ", "open (invented)", "open (invented)"),
        ("water_year", "10-01", "10-01", "1 October"),
        ("utc_offset_min", "UTC-03:30", -210, "-03:30"),
        ("head_unit", "m", "m", "metres"),
        ("head_uncertainty_m", "2,5", 0.0025, "2.5 mm"),
        ("visit_interval_days", "28", 28, "28 days"),
        ("repeats_range_share", "7.5", 0.075, "7.5 %"),
        ("zero_good_for_s", "730", 730 * 86_400.0, "730 days"),
        ("least_span_s", "3", 180.0, "3 min"),
    ],
)
def test_a_value_is_read_as_typed_and_kept_in_si(
    session: Session, key: str, typed: str, held: object, words: str
) -> None:
    set_from_form(session, key, form(typed), None)
    session.commit()
    assert in_force.value(session, key) == held
    assert in_force.values(session)[key] == held
    assert page.history(session, key).line.words == words


@pytest.mark.parametrize("known", KNOWN, ids=lambda one: one.key)
def test_every_setting_says_value_source_range_and_refuses_nonsense(
    session: Session, known: object
) -> None:
    key = known.key  # type: ignore[attr-defined]
    line = page.history(session, key).line
    for said in (line.words, line.source, line.of.range, line.of.follows, line.of.label):
        assert said.strip()
    typed = "x" * 81 if key in ("organisation", "licence") else "soon"
    with pytest.raises(BadInput) as caught:
        set_from_form(session, key, form(typed, reason=""), None)
    assert [fault.field for fault in caught.value.faults] == ["value", "reason"]
    box = line.of.box(line.held)
    if line.of.typed and box:  # what a box shows is what it takes
        assert line.of.read({"value": box}) == line.held


def test_every_change_stands_with_who_why_and_what_it_was(
    session: Session, a_person: Callable[..., Person]
) -> None:
    teal = a_person("Teal", "steward")
    set_from_form(session, "water_year", form("10-01"), teal.id)
    set_from_form(session, "water_year", form("04-01", 1, "the committee"), teal.id)
    back_to_default(session, "water_year", form("", 2, "a mistake"), teal.id)
    session.commit()
    found = page.history(session, "water_year")
    assert [(one.words, one.row.reason) for one in found.changes if one.row] == [
        ("1 July", "a mistake"),
        ("1 April", "the committee"),
        ("1 October", "as agreed"),
    ]
    assert not found.line.own
    assert found.line.source.startswith("built in: common practice")
    lines = session.exec(select(AuditEntry)).all()
    assert [line.action for line in lines] == ["set", "set", "set to the default"]
    assert lines[1].before == {"water_year": "1 October"}
    with pytest.raises(DBAPIError, match="append-only"):
        session.execute(sa.update(Setting).values(reason="another"))


def test_the_same_value_again_is_no_change(session: Session) -> None:
    back_to_default(session, "water_year", form("", 0), None)
    set_from_form(session, "water_year", form("10-01"), None)
    set_from_form(session, "water_year", form("10-01", 1), None)
    session.commit()
    assert len(session.exec(select(Setting)).all()) == 1


def test_a_form_from_before_a_change_is_told_so(
    session: Session, a_person: Callable[..., Person]
) -> None:
    teal = a_person("Teal", "steward")
    set_from_form(session, "drift_limit_m", form("3"), teal.id)
    session.commit()
    with pytest.raises(ChangedMeanwhile, match="Teal changed") as caught:
        set_from_form(session, "drift_limit_m", form("4"), None)
    assert caught.value.now == {"value": "3", "revision": "1"}


def test_two_stewards_at_once_and_one_of_them_is_told(engine: sa.Engine, session: Session) -> None:
    session.rollback()
    start, told = threading.Barrier(2), []

    def put(typed: str) -> None:
        with Session(engine) as own:
            start.wait()
            try:
                set_from_form(own, "drift_limit_m", form(typed), None)
                own.commit()
            except ChangedMeanwhile as error:
                told.append(error.now["revision"])

    hands = [threading.Thread(target=put, args=(typed,)) for typed in ("3", "4")]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    assert told == ["1"]
    assert len(session.exec(select(Setting)).all()) == 1


def test_an_unknown_setting_is_not_found(session: Session) -> None:
    with pytest.raises(NotFound):
        set_from_form(session, "colour", form("1"), None)
