"""What goes out comes back, row for row, on both engines and from one into the other."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, select

from app.errors import BadInput
from app.records.audit import AuditEntry
from app.records.database import open_engine
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.archive import contents, out, take_in
from app.services.sites import accounts
from app.services.sync.accept import server_epoch
from app.services.upkeep import backup
from tests.builders.archives import LATER, MONTH, archived, members_of, small_record
from tests.builders.fresh import Fresh
from tests.builders.record_files import NOW
from tests.conftest import a_reading, send


@pytest.fixture
def empty(fresh: Fresh, tmp_path: Path) -> Iterator[Session]:
    """Give an empty SQLite database beside the one of `session`."""
    url = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    fresh.make(url)
    engine = open_engine(url)
    backup.ensure_epoch(engine)
    with Session(engine, expire_on_commit=False) as session:
        yield session
    engine.dispose()


@pytest.fixture
def archive(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> Path:
    small_record(session, a_site, a_person)
    session.rollback()
    path = tmp_path / "archive.zip"
    out.to_file(session, path, NOW)
    return path


def alike(one: bytes, other: bytes) -> dict[str, tuple[Any, Any]]:
    """Return what differs between two manifests; every other member must be the same bytes."""
    first, second = members_of(one), members_of(other)
    assert list(first) == list(second)
    manifests = json.loads(first.pop("manifest.json")), json.loads(second.pop("manifest.json"))
    assert first == second
    return {
        key: (manifests[0][key], manifests[1][key])
        for key in manifests[0]
        if manifests[0][key] != manifests[1][key]
    }


def test_there_and_back_gives_the_same_bytes(
    session: Session, empty: Session, archive: Path, fresh: Fresh, database_url: str
) -> None:
    engine = session.get_bind()
    epoch = server_epoch(session)
    assert epoch
    session.close()
    done = take_in.take_in(empty, archive, LATER)
    empty.commit()
    assert done.differences == []
    assert server_epoch(empty) != epoch
    flow = empty.exec(select(FlowValue).order_by(col(FlowValue.id))).all()
    assert [bool(one.discharge_m3s) for one in flow] == [True, True]
    state = empty.execute(sa.text("SELECT state, month FROM month_state")).all()
    assert state == [("approved", MONTH)]
    empty.rollback()
    there = archived(empty.get_bind(), LATER)  # type: ignore[arg-type]
    assert set(alike(archive.read_bytes(), there)) == {"epoch", "made_at"}
    # and back into the engine it came from, emptied
    engine.dispose()  # type: ignore[union-attr]
    back = archive.with_name("back.zip")
    back.write_bytes(there)
    if database_url.startswith("sqlite"):
        database_url = f"sqlite:///{archive.with_name('back.sqlite3')}"
    fresh.make(database_url)
    again = open_engine(database_url)
    with Session(again) as third:
        take_in.take_in(third, back, LATER)
        third.commit()
        # ids go on behind those that were taken in
        third.add(Site(code="NEXT", name="next (invented)", utc_offset_min=0))
        third.commit()
        assert third.exec(select(Site.id).order_by(col(Site.id))).all() == [1, 2]
        third.execute(sa.delete(Site).where(col(Site.code) == "NEXT"))
        third.commit()
    assert set(alike(there, archived(again, LATER))) <= {"epoch", "made_at"}
    again.dispose()


def test_every_row_comes_back_as_it_was(session: Session, empty: Session, archive: Path) -> None:
    """Asked of the database itself, by its own values, not by the lines of the archive."""
    take_in.take_in(empty, archive, LATER)
    empty.commit()
    for table in contents.tables():
        held = [column for column in table.columns if column.name != "password_hash"]
        rows = [
            [tuple(row) for row in s.execute(sa.select(*held).order_by(*table.primary_key.columns))]
            for s in (session, empty)
        ]
        assert rows[0] == rows[1], table.name
    assert empty.exec(select(Person.password_hash)).all() == [""]
    assert not accounts.verified("", "")
    entry = empty.exec(select(Entry)).first()
    assert entry is not None
    with pytest.raises(sa.exc.DatabaseError, match="append-only"):
        empty.execute(sa.delete(Entry))


def test_what_is_on_record_is_never_overwritten(session: Session, archive: Path) -> None:
    with pytest.raises(BadInput, match="into an empty database only"):
        take_in.take_in(session, archive, LATER)


def test_whoever_takes_in_stays(
    session: Session, empty: Session, archive: Path, password_hash: str
) -> None:
    name = session.exec(select(Person.name)).one()
    for number, (who, role) in enumerate([("Rosa", "steward"), (name, "office")], 1):
        empty.add(Person(id=number, name=who, role=role, password_hash=password_hash))
        empty.flush()
        empty.add(AuditEntry(action="added", subject="person", subject_id=str(number), by_id=1))
    empty.commit()
    before = len(session.exec(select(AuditEntry)).all())
    take_in.take_in(empty, archive, LATER, "Rosa")
    empty.commit()
    people = {p.name: p for p in empty.exec(select(Person))}
    assert (people[name].id, people["Rosa"].id) == (1, 2)
    assert people[name].password_hash == people["Rosa"].password_hash == password_hash
    lines = empty.exec(select(AuditEntry).order_by(col(AuditEntry.id))).all()[before:]
    assert [(one.subject_id, one.by_id) for one in lines] == [("2", 2), ("1", 2)]
    with pytest.raises(sa.exc.DatabaseError, match="append-only"):
        empty.execute(sa.delete(AuditEntry))


def test_a_steward_is_not_shut_out_by_a_name(
    session: Session, empty: Session, archive: Path, password_hash: str
) -> None:
    name = session.exec(select(Person.name)).one()  # of the office in the archive
    empty.add(Person(name=name, role="steward", password_hash=password_hash))
    empty.commit()
    with pytest.raises(BadInput, match="nobody of this name could sign in"):
        take_in.take_in(empty, archive, LATER)


def test_what_is_worked_out_another_way_is_listed(
    session: Session, empty: Session, archive: Path, tmp_path: Path
) -> None:
    """Figures changed behind the services' back come in as they were and are named."""
    session.execute(sa.text("UPDATE flow_value SET discharge_m3s = 1.5 WHERE id = 1"))
    session.execute(sa.text("UPDATE daily_flow SET volume_m3 = 7.0"))
    session.commit()
    changed = tmp_path / "changed.zip"
    out.to_file(session, changed, NOW)
    done = take_in.take_in(empty, changed, LATER)
    reading, record = done.differences
    assert reading.words.startswith("1.5 m3/s (assumed free) carried, 0.06")
    assert reading.entry_id
    assert record.of == "record of Flume"
    assert empty.execute(sa.text("SELECT max(discharge_m3s) FROM flow_value")).scalar() == 1.5
    told = take_in.taken_in(empty)
    assert told is not None
    assert [one["of"] for one in told["differences"]] == [reading.of, record.of]


def test_the_archive_is_of_one_moment(
    session: Session, archive: Path, a_person: Callable[..., Person]
) -> None:
    """A phone that sends while the archive is made changes nothing of it."""
    engine = session.get_bind()
    structure = session.exec(select(Structure)).one()
    person = a_person("Late", "crew")
    quiet = archived(engine)  # type: ignore[arg-type]
    blocks = out.blocks(engine, NOW)  # type: ignore[arg-type]
    begun = [next(blocks)]  # the snapshot stands
    receipts = send(session, person, a_reading(structure, person))
    assert receipts[0].state == "stored"
    assert b"".join([*begun, *blocks]) == quiet


def test_every_table_is_accounted_for() -> None:
    """A new table goes into the archive by itself; one that must not is named with the reason."""
    assert {t.name for t in contents.tables()} | set(contents.LEFT_OUT) == set(
        SQLModel.metadata.tables
    )
    assert all(contents.LEFT_OUT.values())
    for name, column in contents.WITHHELD:
        assert column in SQLModel.metadata.tables[name].columns
    assert set(contents.CARRIED) <= {t.name for t in contents.tables()}
    secret = ("password", "token", "secret")
    written = {f"{t.name}.{c.name}" for t in contents.tables() for c in contents.columns_of(t)}
    found = {name for name in written if any(word in name for word in secret)}
    assert found == {"series_block.token"}, "of what a month rests on, no secret"


def test_nothing_secret_is_in_it(session: Session, archive: Path, password_hash: str) -> None:
    everything = b"\n".join(members_of(archive.read_bytes()).values())
    assert session.exec(select(Person.password_hash)).first() == password_hash
    assert password_hash.encode() not in everything
    assert b"argon2" not in everything
