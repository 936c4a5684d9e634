"""A full, locked or absent database is said in words and heals; every answer has its headers.

SQLSTATE codes are those of PostgreSQL's manual, appendix A (read in the psycopg package's own
table of errors); HTTP 503, 507 and Retry-After are those of RFC 9110 and RFC 4918.
"""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import Any

import psycopg.errors
import pytest
import sqlalchemy as sa
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy.exc import OperationalError
from sqlmodel import Session, select

from app.records import database
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Structure
from app.records.trouble import trouble_of
from app.services.sync import accept as sync
from app.web.guard import HEADERS
from tests.conftest import a_reading, signed_in

READS = ("/sites", "/sites/1", "/sites/1/readings", "/pack", "/review")


@pytest.fixture
def phone(app: FastAPI, a_person: Callable[..., Person]) -> tuple[TestClient, Person]:
    person = a_person("Ines", "office")
    client = signed_in(app, "Ines")
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    return client, person


def sync_of(client: TestClient, *entries: object) -> Any:
    content = {"protocol": 1, "phone": "p", "entries": list(entries)}
    return client.post("/sync", json=content)


@contextmanager
def held_by_somebody(engine: sa.Engine) -> Iterator[None]:
    """Keep the writers out: the whole file on SQLite, the table of entries on PostgreSQL."""
    if engine.dialect.name == "sqlite":
        with closing(sqlite3.connect(str(engine.url.database), isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            yield
            other.execute("ROLLBACK")
    else:
        with engine.connect() as other:
            other.exec_driver_sql("LOCK TABLE entry IN EXCLUSIVE MODE")
            yield
            other.rollback()


def test_a_locked_database_is_503_and_reads_work(
    monkeypatch: pytest.MonkeyPatch,
    phone: tuple[TestClient, Person],
    a_site: Callable[..., Structure],
    app: FastAPI,
    engine: sa.Engine,
    session: Session,
) -> None:
    monkeypatch.setattr(database, "LOCK_WAIT_S", 1)
    app.state.engine.dispose()
    app.state.engine = database.open_engine(engine.url.render_as_string(hide_password=False))
    app.state.new_session = lambda: Session(app.state.engine, expire_on_commit=False)
    client, person = phone
    entry = a_reading(a_site(), person)
    with held_by_somebody(engine):
        answer = sync_of(client, entry)
        assert answer.status_code == 503
        assert int(answer.headers["retry-after"]) > 0
        assert answer.json()["remedy"]
        for page in READS:
            assert client.get(page).status_code == 200, page
    assert sync_of(client, entry).json()["receipts"][0]["state"] == "stored"
    app.state.engine.dispose()


def test_a_full_disk_is_507_and_heals(
    phone: tuple[TestClient, Person],
    a_site: Callable[..., Structure],
    engine: sa.Engine,
    app: FastAPI,
) -> None:
    """A page limit makes SQLite say what a full disk makes it say."""
    if engine.dialect.name != "sqlite":
        pytest.skip("PostgreSQL's word for it is tried below")
    client, person = phone
    structure = a_site()
    app.state.engine.dispose()

    def limit(connection: Any, _record: Any) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count={pages}")

    sa.event.listen(app.state.engine, "connect", limit)
    note = "n" * 3900
    entries = [a_reading(structure, person, body_note=note) for _ in range(150)]
    answer = sync_of(client, *entries)
    assert answer.status_code == 507
    assert int(answer.headers["retry-after"]) > 0
    assert "full" in answer.json()["rule"]
    for page in READS:
        assert client.get(page).status_code == 200, page
    sa.event.remove(app.state.engine, "connect", limit)
    app.state.engine.dispose()
    states = {r["state"] for r in sync_of(client, *entries).json()["receipts"]}
    assert states == {"stored"}


def test_a_database_that_went_away_is_503(phone: tuple[TestClient, Person], app: FastAPI) -> None:
    client, _ = phone
    real = app.state.engine
    app.state.engine = sa.create_engine("postgresql+psycopg://nobody@127.0.0.1:1/none")
    try:
        answer = client.get("/pack")
    finally:
        app.state.engine = real
    assert answer.status_code == 503
    assert answer.headers["retry-after"]


@pytest.mark.parametrize(
    ("cause", "status"),
    [
        (psycopg.errors.DiskFull(), 507),
        (psycopg.errors.DeadlockDetected(), 503),
        (psycopg.errors.SerializationFailure(), 503),
        (psycopg.errors.LockNotAvailable(), 503),
        (psycopg.errors.AdminShutdown(), 503),
        (sqlite3.OperationalError("database or disk is full"), 507),
        (sqlite3.OperationalError("database is locked"), 503),
        (sqlite3.OperationalError("no such table: x"), None),
        (psycopg.errors.UndefinedTable(), None),
    ],
)
def test_what_ails_the_database(cause: Exception, status: int | None) -> None:
    trouble = trouble_of(OperationalError("SELECT 1", {}, cause))
    assert (trouble.status if trouble else None) == status


def test_batches_that_cross_are_taken_again(
    engine: sa.Engine, session: Session, a_site: Callable[..., Structure], a_person: Any
) -> None:
    """Two phones send the same entries in opposite order at once: nobody sees an error."""
    structure, person = a_site(), a_person()
    rounds = 12 if engine.dialect.name == "postgresql" else 3
    everything: list[str] = []
    for _ in range(rounds):
        entries = [a_reading(structure, person) for _ in range(30)]
        everything += [e["id"] for e in entries]
        session.commit()
        start = threading.Barrier(2)
        states: list[list[str]] = []

        def one(order: list[Any], start: threading.Barrier = start, out: Any = states) -> None:
            start.wait()
            with Session(engine, expire_on_commit=False) as mine:
                batch = sync.Batch("p", None, order)
                found = sync.accept(mine, person, batch, database.utc_now())
                out.append([r.state for r in found])

        threads = [
            threading.Thread(target=one, args=(order,)) for order in (entries, entries[::-1])
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(states) == 2
        assert set(states[0] + states[1]) == {"stored", "already_held"}
    assert sorted(session.exec(select(Entry.id))) == sorted(everything)


def test_every_answer_has_the_security_headers(
    phone: tuple[TestClient, Person], app: FastAPI, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, _ = phone

    def crash(*_: object, **__: object) -> None:
        raise RuntimeError("made up")

    answers = {
        200: client.get("/sites"),
        404: client.get("/nowhere"),
        405: client.delete("/sites"),
        422: client.get("/sites/no"),
        403: client.post("/sync", headers={"sec-fetch-site": "cross-site"}),
    }
    monkeypatch.setattr("app.web.routes.sync.pack", crash)
    answers[500] = client.get("/pack")
    for status, answer in answers.items():
        assert answer.status_code == status
        for name, value in HEADERS.items():
            assert answer.headers[name] == value, (status, name)


def test_head_says_what_get_would_without_a_body(phone: tuple[TestClient, Person]) -> None:
    client, _ = phone
    for path in ("/sites", "/pack", "/sign-in", "/static/app.css", "/nowhere", "/review.csv"):
        whole, head = client.get(path), client.head(path)
        assert head.status_code == whole.status_code, path
        assert head.content == b"", path
        assert head.headers.get("content-type") == whole.headers.get("content-type")


def test_two_who_make_the_same_at_once_is_409(
    phone: tuple[TestClient, Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, _ = phone

    def clash(*_: object, **__: object) -> None:
        raise sa.exc.IntegrityError("INSERT", {}, Exception("UNIQUE"))

    monkeypatch.setattr("app.web.routes.sync.pack", clash)
    answer = client.get("/pack")
    assert answer.status_code == 409
    assert answer.json()["remedy"]
