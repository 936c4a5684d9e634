"""What was done at a visit follows from the entries that stand."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from app.services.sites.register import get_site
from app.services.visits.done import visit_view, visits
from app.services.visits.due_list import due_list
from app.services.visits.plans import add_plan
from app.services.visits.tables import visit_row, within_rows
from app.services.visits.view import VisitView
from tests.builders.survey_entries import an_entry
from tests.conftest import BEGIN, a_reading, iso, send

AT = BEGIN + timedelta(days=40)


def a_visit(structure: Structure, person: Person, at: datetime = AT, **body: Any) -> dict[str, Any]:
    said = {"purpose": "round", "conditions": ["weed"], "cautions_read": True} | body
    return an_entry("visit", structure, person, said, at, structure_id=None)


def withdrawal(entry: dict[str, Any], person: Person) -> dict[str, Any]:
    return {**entry, "id": str(uuid.uuid4()), "kind": "withdrawal", "body": {}, "by": person.id,
            "corrects": entry["id"], "reason": "not so"}  # fmt: skip


def pair(
    structure: Structure, person: Person, visit: dict[str, Any] | None, at: datetime = AT
) -> list[dict[str, Any]]:
    key = visit["id"] if visit else None
    return [
        a_reading(structure, person, 0.212, at=at + timedelta(minutes=5), visit_id=key,
                  body_occasion="as_found"),
        a_reading(structure, person, 0.2, at=at + timedelta(minutes=25), visit_id=key,
                  body_occasion="as_left"),
    ]  # fmt: skip


def sent(session: Session, person: Person, *entries: dict[str, Any]) -> None:
    receipts = send(session, person, *entries)
    assert [r.error for r in receipts] == [None] * len(entries)


def of_site(session: Session, structure: Structure) -> list[VisitView]:
    return visits(session, [get_site(session, structure.site_id)]).get(structure.site_id, [])


@pytest.fixture
def ines(a_person: Callable[..., Person]) -> Person:
    return a_person("Ines", "crew")


def test_a_visit_holds_what_names_it(
    session: Session, a_site: Callable[..., Structure], ines: Person
) -> None:
    structure = a_site()
    visit = a_visit(structure, ines)
    photo = an_entry("photo", structure, ines, {"sha256": "a" * 64, "caption": "weed"},
                     AT + timedelta(minutes=8), visit_id=visit["id"])  # fmt: skip
    sent(session, ines, visit, *pair(structure, ines, visit), photo)
    (view,) = of_site(session, structure)
    assert view.counts == ["2 readings", "1 photo"]
    (both,) = view.pairs
    assert both["change_m"] == pytest.approx(-0.012)
    assert view.still_open == []
    assert view.hours is None, "nobody said, and the last entry is no end"
    assert view.end_words == "no end recorded; last entry"
    assert [row["kind"] for row in within_rows(view)] == ["head reading", "photo", "head reading"]
    assert visit_row(view)["as_found_head_m"] == ["0.2120"]
    assert visit_row(view)["done"] is None


def test_hours_and_work_are_optional_and_bounded(
    session: Session, a_site: Callable[..., Structure], ines: Person
) -> None:
    structure = a_site()
    ended = iso(AT + timedelta(minutes=90))
    sent(session, ines, a_visit(structure, ines, ended_at=ended, done=["cleaned", "weed cut"]))
    assert (of_site(session, structure)[0].hours, of_site(session, structure)[0].end_said) == (
        1.5, True,
    )  # fmt: skip
    sent(
        session, ines, a_visit(structure, ines, AT + timedelta(days=1), hours=2.25, ended_at=ended)
    )
    (newest, _) = of_site(session, structure)
    assert newest.hours == 2.25
    assert not newest.end_said, "an end before the begin is none"
    for body in ({"hours": 0}, {"hours": 73.0}, {"hours": "2"}, {"done": ["danced"]}):
        (receipt,) = send(session, ines, a_visit(structure, ines, **body))
        assert receipt.state == "refused", body


def test_what_is_left_open_is_named(
    session: Session, a_site: Callable[..., Structure], ines: Person
) -> None:
    structure = a_site()
    visit = a_visit(structure, ines, cautions_read=False)
    sent(session, ines, visit, pair(structure, ines, visit)[0])
    (view,) = of_site(session, structure)
    assert view.still_open == ["cautions not ticked as read", "Flume: read as found, not as left"]


def test_withdrawn_entries_and_visits_do_not_count(
    session: Session, a_site: Callable[..., Structure], ines: Person
) -> None:
    structure = a_site()
    visit = a_visit(structure, ines)
    found, left = pair(structure, ines, visit)
    sent(session, ines, visit, found, left, withdrawal(left, ines))
    assert of_site(session, structure)[0].counts == ["1 reading"]
    sent(session, ines, withdrawal(visit, ines))
    assert of_site(session, structure) == []
    assert visit_view(session, visit["id"]).counts == ["1 reading"]
    (line,) = due_list(session, datetime(2026, 11, 25, tzinfo=UTC))
    assert line.last_on is None
    assert str(line.seen_since) == "2024-08-10"


def test_a_corrected_visit_is_one_visit_with_what_named_the_first(
    session: Session, a_site: Callable[..., Structure], ines: Person
) -> None:
    structure = a_site()
    visit = a_visit(structure, ines)
    changed = {**a_visit(structure, ines, conditions=["silt"]), "corrects": visit["id"],
               "reason": "silt, not weed"}  # fmt: skip
    sent(session, ines, visit, *pair(structure, ines, visit), changed)
    (view,) = of_site(session, structure)
    assert (view.entry.id, view.counts, view.corrected) == (changed["id"], ["2 readings"], True)
    rival = {**changed, "id": str(uuid.uuid4())}
    sent(session, ines, rival)
    (view,) = of_site(session, structure)
    assert view.rival
    assert view.counts == ["2 readings"]


def test_an_entry_that_names_none_belongs_to_the_one_visit_of_its_time(
    session: Session,
    a_site: Callable[..., Structure],
    ines: Person,
    a_person: Callable[..., Person],
) -> None:
    structure, other = a_site(), a_person("Tamsin", "crew")
    visit = a_visit(structure, ines, ended_at=iso(AT + timedelta(hours=1)))
    sent(session, ines, visit, *pair(structure, ines, None))
    sent(session, other, *pair(structure, other, None))
    (view,) = of_site(session, structure)
    assert view.counts == ["2 readings"], "those of somebody else are not"
    assert all(one.by_time for one in view.within)
    second = a_visit(
        structure, ines, AT + timedelta(minutes=2), ended_at=iso(AT + timedelta(hours=2))
    )
    sent(session, ines, second)
    for view in of_site(session, structure):
        assert view.counts == [], "it could be either"
        assert "2 entries lie in the time of two visits and name none" in view.still_open[-1]


def test_two_visits_at_once_keep_what_names_them(
    session: Session, a_site: Callable[..., Structure], ines: Person
) -> None:
    structure = a_site()
    one, two = a_visit(structure, ines), a_visit(structure, ines, AT + timedelta(minutes=1))
    sent(session, ines, one, two, pair(structure, ines, one)[0], pair(structure, ines, two)[1])
    assert [view.counts for view in of_site(session, structure)] == [["1 reading"], ["1 reading"]]


def test_the_due_list_counts_visits_that_have_happened(
    session: Session,
    a_site: Callable[..., Structure],
    ines: Person,
    a_person: Callable[..., Person],
) -> None:
    office, structure = a_person("Rudd", "office"), a_site()
    a_site("SEDGE")
    now = datetime(2026, 11, 25, 3, tzinfo=UTC)
    plan = {"interval_days": "10", "valid_from": "2026-01-01", "reason": "new",
            "person_id": str(ines.id)}  # fmt: skip
    add_plan(session, structure.site_id, plan, office, now)
    session.commit()
    sent(
        session, ines, a_visit(structure, ines, now - timedelta(days=12)),
        a_visit(structure, ines, now + timedelta(days=200)),
    )  # fmt: skip
    first, second = due_list(session, now)
    assert (first.due.state, first.due.days, first.person) == ("overdue", -2, "Ines")
    assert (second.due.state, second.plan) == ("no interval set", None)


def test_thirty_sites_take_no_more_statements_than_three(
    session: Session,
    a_site: Callable[..., Structure],
    ines: Person,
    a_person: Callable[..., Person],
) -> None:
    import sqlalchemy as sa

    from app.services.equipment.tables import register
    from app.services.visits.round_sheet import of_round, stops

    office, now = a_person("Rudd", "office"), datetime(2026, 11, 25, tzinfo=UTC)

    def cost() -> int:
        seen: list[str] = []
        engine = session.get_bind()

        def note(*args: Any) -> None:
            seen.append(args[2])

        sa.event.listen(engine, "before_cursor_execute", note)
        try:
            lines = due_list(session, now)
            stops(session, of_round(lines, whole=True), now)
            register(session, now.date())
        finally:
            sa.event.remove(engine, "before_cursor_execute", note)
        return len(seen)

    def more(count: int, prefix: str) -> None:
        for k in range(count):
            structure = a_site(f"{prefix}{k}")
            add_plan(
                session, structure.site_id, {"interval_days": "10", "reason": "x"}, office, now
            )
            visit = a_visit(structure, ines)
            sent(session, ines, visit, *pair(structure, ines, visit), an_entry(
                "benchmark", structure, ines, {"name": "BM1"}, AT))  # fmt: skip
        session.commit()

    more(3, "A")
    few = cost()
    more(27, "B")
    assert cost() == few
