"""A restore never loses what was acknowledged: not beside a running server, not when killed."""

import os
import random
import signal
import sqlite3
import time
import traceback
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlmodel import Session, select

from app.commands.context import open_session
from app.errors import BadInput
from app.main import create_app
from app.records.entries import Entry
from app.records.people import AccessToken, Person, SignIn
from app.records.sites import Structure
from app.services.sites import accounts, tokens
from app.services.sync import accept as sync
from app.services.upkeep import backup
from app.settings import Settings
from tests.conftest import PASSWORD, a_reading, send

KILLS = 100


@pytest.fixture
def database_url(tmp_path: Path) -> str:
    """Only SQLite is restored here."""
    return f"sqlite:///{tmp_path / 'sillbook.sqlite3'}"


@pytest.fixture
def copy(
    settings: Settings,
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> Path:
    """Give a backup that holds one reading less than the database, and nobody has it open."""
    structure, person = a_site(), a_person()
    send(session, person, a_reading(structure, person))
    accounts.sign_in(session, person.name, PASSWORD, "127.0.0.1", person.created_at)
    form = {"name": "copy", "scope": "read", "days": "9"}
    tokens.make(session, person, form, person.created_at)
    session.commit()
    backup.backup(settings, tmp_path / "copy.sqlite3")
    send(session, person, a_reading(structure, person))
    session.close()
    engine.dispose()
    return tmp_path / "copy.sqlite3"


def entries_of(settings: Settings) -> tuple[int, str, int]:
    with open_session(settings) as session:
        return (
            len(session.exec(select(Entry)).all()),
            sync.server_epoch(session),
            len(session.exec(select(SignIn)).all()),
        )


def test_a_restore_beside_a_running_server_is_refused(settings: Settings, copy: Path) -> None:
    before = entries_of(settings)
    app = create_app(settings)
    try:
        with pytest.raises(BadInput, match="is open in another process"):
            backup.restore(settings, copy)
    finally:
        app.state.engine.dispose()
    assert entries_of(settings) == before
    assert backup.restore(settings, copy) is not None


def test_a_restore_beside_another_program_is_refused(settings: Settings, copy: Path) -> None:
    """A program that knows nothing of our lock, such as an SQLite shell, is seen by its log."""
    with closing(sqlite3.connect(settings.data_dir / "sillbook.sqlite3")) as other:
        other.execute("SELECT count(*) FROM entry").fetchone()
        with pytest.raises(BadInput, match="is open in another process"):
            backup.restore(settings, copy)
    assert entries_of(settings)[0] == 2


def test_a_restore_ends_every_sign_in_and_changes_the_epoch(settings: Settings, copy: Path) -> None:
    entries, epoch, sign_ins = entries_of(settings)
    assert (entries, sign_ins) == (2, 1)
    kept = backup.restore(settings, copy)
    now = entries_of(settings)
    assert now[0] == 1
    assert now[1] != epoch
    assert now[2] == 0
    with open_session(settings) as session:
        assert session.exec(select(AccessToken)).one().revoked_at is not None
    with closing(sqlite3.connect(f"file:{kept}?mode=ro", uri=True)) as replaced:
        assert replaced.execute("SELECT count(*) FROM entry").fetchone() == (2,)
    assert not list(settings.data_dir.glob("*restoring*"))


def test_a_backup_of_a_newer_release_is_refused_and_nothing_changes(
    settings: Settings, copy: Path
) -> None:
    with closing(sqlite3.connect(copy)) as there, there:
        there.execute("UPDATE alembic_version SET version_num = '9999_later'")
    before = entries_of(settings)
    with pytest.raises(BadInput, match="newer release"):
        backup.restore(settings, copy)
    assert entries_of(settings) == before


def test_a_damaged_database_is_replaced_and_kept(settings: Settings, copy: Path) -> None:
    (settings.data_dir / "sillbook.sqlite3").write_bytes(b"what a broken disk left" * 400)
    kept = backup.restore(settings, copy)
    assert kept is not None
    assert kept.read_bytes().startswith(b"what a broken disk left")
    assert entries_of(settings)[0] == 1


def test_a_restore_into_no_folder_is_refused(settings: Settings, copy: Path) -> None:
    elsewhere = Settings.for_folder(settings.data_dir / "mistyped")
    with pytest.raises(BadInput, match="no such folder"):
        backup.restore(elsewhere, copy)
    assert not elsewhere.data_dir.exists()
    elsewhere.data_dir.mkdir()
    assert backup.restore(elsewhere, copy) is None
    assert entries_of(elsewhere)[0] == 1


def restoring(settings: Settings, copy: Path) -> int:
    """Start a restore in a process of its own; return its id."""
    pid = os.fork()
    if pid == 0:
        try:
            backup.restore(settings, copy)
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(0)
    return pid


def test_killed_at_any_moment_it_is_the_old_or_the_new(settings: Settings, copy: Path) -> None:
    """100 kills spread over the whole restore: afterwards one of the two, whole, never a mixture.

    Whoever is restored has the new epoch and no sign-in; whoever is not has the old of both.
    """
    dice = random.Random(11)
    begin = time.monotonic()
    os.waitpid(restoring(settings, copy), 0)
    whole_s = time.monotonic() - begin
    seen = {"old": 0, "new": 0}
    for _ in range(KILLS):
        before = entries_of(settings)
        pid = restoring(settings, copy)
        time.sleep(dice.uniform(0.0, 1.3 * whole_s))
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        after = entries_of(settings)
        if after[1] == before[1]:
            assert after == before
            seen["old"] += 1
        else:
            assert after[0] == 1
            assert after[2] == 0
            seen["new"] += 1
        with open_session(settings) as session:
            assert session.connection().exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        for stray in settings.data_dir.glob("*.replaced-*"):
            stray.unlink()
    assert seen["old"] > 10, seen
    assert seen["new"] > 5, seen
