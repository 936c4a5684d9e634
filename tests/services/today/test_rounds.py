"""Visits due and instruments not in date, as Today says them: common practice."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from app.records.visits import VisitPlan
from app.services.equipment import calibrations, enter
from app.services.equipment.tables import register
from app.services.today.board import board
from app.services.today.lines import Line, Look
from app.services.today.rounds import of_rounds
from app.services.visits.due_list import chosen, due_list
from tests.builders.survey_entries import an_entry
from tests.conftest import send

NOW = datetime(2026, 11, 25, 2, 0, tzinfo=UTC)  # the 25th at the sites too, UTC+12


def lines(session: Session, now: datetime = NOW) -> dict[str, Line]:
    look = Look(session=session, now=now, rows=board(session, now))
    return {line.key: line for line in of_rounds(look)}


def planned(session: Session, structure: Structure, person: Person, *, days: int) -> None:
    session.add(
        VisitPlan(
            site_id=structure.site_id, valid_from=NOW.date() - timedelta(days=days),
            interval_days=14, reason="x", by_id=person.id, added_at=NOW, person_id=person.id,
        )
    )  # fmt: skip


def an_instrument(session: Session, person: Person, serial: str, **changes: str) -> int:
    form = {"kind": "level", "described": "A level (invented)", "serial": serial,
            "place": "store", "words": "shelf", "since": "2020-01-01"} | changes  # fmt: skip
    return enter.add_instrument(session, form, person, NOW)


def calibrated(session: Session, one: int, person: Person, **form: str) -> None:
    calibrations.add_calibration(
        session, one, {"on_day": "2025-11-01", "by_whom": "works", "outcome": "fit"} | form,
        person, NOW,
    )  # fmt: skip


def test_nothing_at_all_says_nothing(session: Session) -> None:
    assert lines(session) == {}


def test_visits_by_state_each_with_its_list(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    ines = a_person("Ines")
    late, today, soon, later, bare = (a_site(x) for x in ("LATE", "TODAY", "SOON", "LATER", "BARE"))
    for structure, ago in ((late, 20), (today, 14), (soon, 9), (later, 1)):
        planned(session, structure, ines, days=90)
        send(session, ines, an_entry("visit", structure, ines, {}, NOW - timedelta(days=ago)))
    session.commit()
    found = lines(session)
    said = {line.key: (line.count, line.title) for line in found.values()}
    assert said == {
        "visits: overdue": (1, "1 visit is overdue"),
        "visits: due today": (1, "1 visit is due today"),
        "visits: due soon": (1, "1 visit is due within a week"),
        "visits: no interval set": (1, "1 site has no plan of visits"),
    }
    assert found["visits: overdue"].things[0].words.startswith("LATE: overdue by 6 days")
    assert found["visits: overdue"].things[0].words.endswith("Ines")
    assert found["visits: no interval set"].things[0].address == f"/sites/{bare.site_id}/visits"
    for state in ("overdue", "due today", "due soon", "no interval set"):
        assert found[f"visits: {state}"].count == len(chosen(due_list(session, NOW), state=state))


def test_instruments_not_in_date_and_those_that_are_gone_ask_for_nothing(
    session: Session, a_person: Callable[..., Person]
) -> None:
    rudd = a_person("Rudd", "office")
    late, bad, never, fine = (an_instrument(session, rudd, x) for x in ("1", "2", "3", "4"))
    calibrated(session, late, rudd, due_on="2026-11-01")
    calibrated(session, bad, rudd, outcome="not_fit")
    calibrated(session, fine, rudd, due_on="2027-11-01")
    gone = an_instrument(session, rudd, "5", place="retired")
    calibrated(session, gone, rudd, due_on="2026-01-01")
    session.commit()
    found = lines(session)
    assert {key: line.count for key, line in found.items()} == {
        "instruments: not fit for use": 1,
        "instruments: overdue": 1,
        "instruments: unknown": 1,
    }
    assert found["instruments: overdue"].things[0].address == f"/equipment/{late}"
    assert "was due 2026-11-01" in found["instruments: overdue"].things[0].words
    assert found["instruments: unknown"].things[0].address == f"/equipment/{never}"
    (one,) = register(session, NOW.date(), state="overdue", in_use=True)
    assert one.of.id == late
    assert len(register(session, NOW.date(), state="overdue")) == 2


def test_forty_sites_and_instruments_take_as_many_statements_as_three(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    rudd = a_person("Rudd", "office")

    def cost() -> int:
        session.expire_all()
        look = Look(session=session, now=NOW, rows=[])
        asked = [0]

        def count(*_: object) -> None:
            asked[0] += 1

        bind = session.get_bind()
        sa.event.listen(bind, "before_cursor_execute", count)
        try:
            found = of_rounds(look)
        finally:
            sa.event.remove(bind, "before_cursor_execute", count)
        assert found
        return asked[0]

    def more(first: int, last: int) -> None:
        for k in range(first, last):
            structure = a_site(f"S{k}")
            planned(session, structure, rudd, days=90)
            one = an_instrument(
                session, rudd, f"N{k}", place="site", site_id=str(structure.site_id)
            )
            calibrated(session, one, rudd, due_on="2026-11-01")
            session.commit()

    more(0, 3)
    few = cost()
    more(3, 40)
    assert cost() <= few
    assert few < 25
    assert lines(session)["instruments: overdue"].count == 40
