"""Back up while the server runs, restore, and let phones heal what came after."""

from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlmodel import Session, select

from app.commands.context import open_session
from app.errors import BadInput
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Structure
from app.services.sync import accept as sync
from app.services.upkeep import backup
from app.settings import Settings
from tests.conftest import a_reading, send


@pytest.fixture
def database_url(tmp_path: Path) -> str:
    """Only SQLite is backed up here."""
    return f"sqlite:///{tmp_path / 'sillbook.sqlite3'}"


@pytest.fixture
def kept(settings: Settings) -> Settings:
    return settings


def test_restore_then_the_phone_offers_again(
    kept: Settings,
    engine: sa.Engine,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    session: Session,
    tmp_path: Path,
) -> None:
    structure, person = a_site(), a_person()
    before, after = a_reading(structure, person), a_reading(structure, person)
    send(session, person, before)
    epoch = sync.server_epoch(session)
    assert epoch
    session.commit()
    assert backup.backup(kept, tmp_path / "copy.sqlite3") > 0
    send(session, person, after)
    session.close()
    engine.dispose()
    replaced = backup.restore(kept, tmp_path / "copy.sqlite3")
    assert replaced is not None
    assert replaced.exists()
    with open_session(kept) as again:
        assert [e.id for e in again.exec(select(Entry))] == [before["id"]]
        assert sync.server_epoch(again) != epoch
        # What phones keep for 30 days and offer again when the epoch has changed:
        states = [r.state for r in send(again, person, before, after)]
        assert states == ["already_held", "stored"]


def test_a_file_that_is_no_backup_is_refused(kept: Settings, tmp_path: Path) -> None:
    bad = tmp_path / "bad.sqlite3"
    bad.write_bytes(b"not a database, however long" * 100)
    with pytest.raises(BadInput, match="not a sound"):
        backup.restore(kept, bad)
    with pytest.raises(BadInput, match="not a sound"):
        backup.restore(kept, tmp_path / "missing.sqlite3")


def test_a_backup_never_overwrites(kept: Settings, engine: sa.Engine, tmp_path: Path) -> None:
    target = tmp_path / "copy.sqlite3"
    target.write_text("precious")
    with pytest.raises(BadInput, match="exists"):
        backup.backup(kept, target)
    assert target.read_text() == "precious"
