"""Queue, staleness and limits are read in bulk, and say the same as one by one."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.records.people import Person
from app.records.sites import Rating, Site, Structure
from app.services.days import staleness
from app.services.review import of_record, queue
from app.services.takes import page as takes
from app.services.takes import use
from app.services.takes.limits import limits
from app.services.today import sources
from app.services.today.board import board
from app.services.today.lines import Line, Look
from tests.builders import many_sites


def today(session: Session) -> list[Line]:
    now = datetime.now(UTC)
    return sources.work(Look(session=session, now=now, rows=board(session, now)))


READ: dict[str, Callable[[Session], object]] = {
    "queue": lambda session: queue.queue(session, limit=100_000),
    "stale": lambda session: staleness.of_structures(
        session, session.execute(sa.select(col(Structure.id))).scalars()
    ),
    "alerts": takes.alerts,
    "today": today,
}


def statements(session: Session, work: Callable[[Session], object]) -> int:
    session.expire_all()
    asked = [0]

    def count(*_: object) -> None:
        asked[0] += 1

    bind = session.get_bind()
    sa.event.listen(bind, "before_cursor_execute", count)
    try:
        work(session)
    finally:
        sa.event.remove(bind, "before_cursor_execute", count)
    return asked[0]


@pytest.fixture
def many(session: Session, a_person: Callable[..., Person]) -> dict[str, int]:
    """Make one site with half a season, count statements, then make twelve of it."""
    now = datetime.now(UTC)
    many_sites.template(session, a_person("Rudd", "office"), now, days=40, visits_every=7)
    few = {name: statements(session, work) for name, work in READ.items()}
    many_sites.copies(session, 12)
    return few


def test_twelve_sites_take_no_more_statements_than_one(
    session: Session, many: dict[str, int]
) -> None:
    for name, work in READ.items():
        # of the queue: decisions are asked for 400 items at a time, expired sites are read anew
        assert statements(session, work) <= many[name] + 13, name


def test_items_of_all_are_the_items_of_each(session: Session, many: dict[str, int]) -> None:
    second = session.exec(select(Structure).order_by(col(Structure.id)).offset(1)).first()
    assert second is not None
    session.add(
        Rating(
            structure_id=second.id, valid_from=datetime.now(UTC) - timedelta(days=20),
            family="parshall", dims={"size": "2ft"}, reason="measured anew",
        )
    )  # fmt: skip
    session.commit()
    places = [
        (site, structure)
        for structure, site in session.exec(
            select(Structure, Site).where(Structure.site_id == Site.id)
        )
    ]
    together = of_record.items_of_structures(session, places)
    alone = [x for place in places for x in of_record.items_of_structure(session, *place)]
    assert together == alone
    assert {x.kind for x in together} >= {"offer", "differs", "stale"}
    assert {x.structure_id for x in together if x.kind == "stale"} == {second.id}


def test_limits_of_all_are_the_limits_of_each(session: Session, many: dict[str, int]) -> None:
    whole = use.use_of_many(session, limits(session))
    ids = sorted({line.limit.structure_id for line in whole})
    assert len(ids) == 12
    alone = [line for key in ids for line in use.use(session, key)]
    assert [replace(x, limit=y.limit) for x, y in zip(whole, alone, strict=True)] == alone
