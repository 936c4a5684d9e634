"""The invented scenario is built through the real services, and is the same each time."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlmodel import Session, select

from app.commands.context import open_session
from app.demo import build as demo
from app.errors import BadInput
from app.hydraulics.structure.device import Flow
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.settings import Settings

NOW = datetime(2026, 11, 25, 3, tzinfo=UTC)


def test_demo_builds_once_and_the_same(tmp_path: Path) -> None:
    heads = []
    for name in ("one", "two"):
        with open_session(Settings.for_folder(tmp_path / name, demo=True), make=True) as session:
            assert demo.build(session, NOW)
            assert not demo.build(session, NOW)
            entries = session.exec(select(Entry).order_by(Entry.id)).all()
            heads.append([e.body.get("staff_m") for e in entries])
            flows = set(session.exec(select(FlowValue.flow)))
            assert {Flow.FREE, Flow.SUBMERGED_CORRECTED} <= flows
            assert not any("not rated" in v.reason for v in session.exec(select(FlowValue)))
    assert heads[0] == heads[1]
    assert len(heads[0]) > 150


def test_demo_refuses_a_database_in_use(session: Session) -> None:
    from app.services.sites import accounts

    accounts.add_person(session, "Real", "steward", "a long enough password")
    session.commit()
    with pytest.raises(BadInput, match="holds people"):
        demo.build(session, NOW)


def test_fresh_never_throws_away_a_foreign_folder(tmp_path: Path) -> None:
    (tmp_path / "letters.txt").write_text("precious")
    with pytest.raises(BadInput, match="no demo"):
        demo.throw_away(Settings.for_folder(tmp_path))
    assert (tmp_path / "letters.txt").exists()
