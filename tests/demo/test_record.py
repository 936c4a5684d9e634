"""The faults planted in the invented record: all found, false alarms at most one in a hundred."""

from datetime import UTC, datetime

import pytest
from sqlmodel import Session, select

from app.demo import build as demo
from app.demo import record as demo_record
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.corrections import offers as sensor_offers
from app.services.entries import kept_files
from app.services.loggers import lists as logger_lists
from app.services.loggers import take_in as logger_imports
from app.services.loggers import waiting as logger_waiting
from app.services.review import queue as review_queue

NOW = datetime(2026, 11, 25, tzinfo=UTC)
SLACK_S = 900


@pytest.fixture
def filled(session: Session) -> Session:
    """Give the demonstration with the waiting file taken in."""
    demo.build(session, NOW)
    office = session.exec(select(Person).where(Person.role == "office")).one()
    (line,) = logger_waiting.kept_logger_files(session)
    site = session.exec(select(Site).where(Site.code == "MARROW")).one()
    content = kept_files.kept(session, line.sha256).content
    logger_imports.do_import(session, site.id or 0, content, line.name, office, NOW)
    session.commit()
    return session


def test_all_planted_faults_are_found_and_little_else(filled: Session) -> None:
    planted = [fault for _, _, made in demo_record.invented(filled) for fault in made.planted]
    kinds = {fault.kind for fault in planted}
    assert {
        "drift", "zero shift", "weed", "clock error", "gap", "drowned fortnight", "spike"
    } <= kinds  # fmt: skip
    items = [
        item
        for item in review_queue.queue(filled, state="all", limit=100_000)
        if item.kind in ("fault", "drowned", "offer")
    ]
    missed = [
        fault
        for fault in planted
        if not any(
            item.site_code == fault.site
            and item.from_s <= fault.to_s + SLACK_S
            and item.to_s >= fault.from_s - SLACK_S
            and (item.title if item.kind == "fault" else item.kind) in fault.found_by
            for item in items
        )
    ]
    assert missed == []
    false = [
        item
        for item in items
        if not any(
            item.site_code == fault.site
            and item.from_s <= fault.to_s + SLACK_S
            and item.to_s >= fault.from_s - SLACK_S
            for fault in planted
        )
    ]
    days = visits = 0
    for structure in filled.exec(select(Structure)).all():
        days += 730 if structure.id in {i.structure_id for i in items} else 0
        visits += len(sensor_offers.offers(filled, structure.id or 0))
    faults = [item for item in false if item.kind != "offer"]
    offered = [item for item in false if item.kind == "offer"]
    assert days == 1460
    assert len(faults) <= 0.01 * days
    assert len(offered) <= 0.01 * visits


def test_the_demo_has_something_to_show(filled: Session) -> None:
    states = {item.kind for item in review_queue.queue(filled)}
    assert {"fault", "offer", "drowned"} <= states
    for line in logger_lists.imports(filled, 1):
        assert line.name.startswith("tansy")
        assert line.undone_at is None
