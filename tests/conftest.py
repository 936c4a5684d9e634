"""A fresh migrated database for each test, clients by role, and builders of trade things."""

import os
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from anyio.from_thread import start_blocking_portal
from argon2 import PasswordHasher
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.main import assembled, open_data
from app.records.database import open_engine
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.sites import accounts
from app.services.sync import accept as sync
from app.services.upkeep import backup
from app.settings import Settings
from tests.builders.fresh import Fresh, empty_postgres

IN_CI = os.environ.get("CI") == "true"


def postgres_of_this_worker() -> str:
    """Return the address of this process's own empty database beside the named one.

    Workers that run side by side must not empty each other's.
    """
    named, worker = (
        os.environ.get("SILLBOOK_TEST_POSTGRES", ""),
        os.environ.get("PYTEST_XDIST_WORKER"),
    )
    if not named or worker is None:
        return named
    url = sa.make_url(named)
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT")
    own = f"{url.database}_{worker}"
    with engine.connect() as connection:
        held = sa.text("SELECT 1 FROM pg_database WHERE datname = :own")
        if connection.execute(held, {"own": own}).scalar() is None:
            connection.exec_driver_sql(f'CREATE DATABASE "{own}"')
    engine.dispose()
    return url.set(database=own).render_as_string(hide_password=False)


POSTGRES = postgres_of_this_worker()
TRUE_HASHER = accounts.HASHER
PASSWORD = "a long enough password"
BEGIN = datetime(2024, 7, 1, tzinfo=UTC)


@pytest.fixture(scope="session", autouse=True)
def one_loop_for_all_clients() -> Iterator[None]:
    """Let every client ask over one event loop; a loop a request costs more than many a page."""
    with start_blocking_portal() as portal:
        TestClient.portal = portal
        yield
        TestClient.portal = None


@pytest.fixture(scope="session", autouse=True)
def passwords_cost_little() -> Iterator[None]:
    """Hash passwords by argon2 at its least cost: at the true one signing in is half of a test."""
    nobody = accounts.NOBODY
    accounts.HASHER = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    accounts.NOBODY = accounts.HASHER.hash("nobody")
    yield
    accounts.HASHER, accounts.NOBODY = TRUE_HASHER, nobody


@pytest.fixture(scope="session")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Fresh:
    """Give the maker of fresh databases of this process."""
    return Fresh(tmp_path_factory.mktemp("newest"))


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Give the address of an empty database on each engine; `engine` brings it up to date."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'test.sqlite3'}"
    if not POSTGRES:
        if IN_CI:
            pytest.fail("SILLBOOK_TEST_POSTGRES must name a running server in CI")
        pytest.skip("SILLBOOK_TEST_POSTGRES names no PostgreSQL server")
    if "engine" not in request.fixturenames:
        empty_postgres(POSTGRES)
    return POSTGRES


@pytest.fixture
def engine(database_url: str, fresh: Fresh) -> Iterator[sa.Engine]:
    fresh.make(database_url)
    engine = open_engine(database_url)
    backup.ensure_epoch(engine)
    yield engine
    engine.dispose()


@pytest.fixture
def session(engine: sa.Engine) -> Iterator[Session]:
    with Session(engine, expire_on_commit=False) as session:
        yield session


@pytest.fixture
def settings(tmp_path: Path, database_url: str) -> Settings:
    return Settings(data_dir=tmp_path, database_url=database_url)


@pytest.fixture(scope="session")
def routed() -> FastAPI:
    """Assemble the application once a process: its routes cost more than most tests."""
    return assembled()


@pytest.fixture
def app(settings: Settings, engine: sa.Engine, routed: FastAPI) -> Iterator[FastAPI]:
    # The same database as `session`, so that a test can look behind the pages.
    open_data(routed, settings)
    routed.middleware_stack = None  # the guard is of these settings
    yield routed
    routed.state.engine.dispose()
    routed.state._state.clear()


@pytest.fixture(scope="session")
def password_hash() -> str:
    return accounts.hashed(PASSWORD)


@pytest.fixture
def a_person(session: Session, password_hash: str) -> Callable[..., Person]:
    """Build people; argon2 runs once a test session, not once a person."""

    def build(name: str = "Ines", role: str = "crew") -> Person:
        person = Person(name=name, role=role, password_hash=password_hash)
        session.add(person)
        session.commit()
        return person

    return build


def signed_in(app: FastAPI, name: str) -> TestClient:
    client = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    answer = client.post("/sign-in", data={"name": name, "password": PASSWORD})
    assert answer.status_code == 303, answer.text
    return client


@pytest.fixture
def client(app: FastAPI) -> TestClient:
    """Give a signed-out client."""
    return TestClient(
        app, base_url="http://127.0.0.1", follow_redirects=False, raise_server_exceptions=False
    )


@pytest.fixture
def as_crew(app: FastAPI, a_person: Callable[..., Person]) -> TestClient:
    a_person("Crew One", "crew")
    return signed_in(app, "Crew One")


@pytest.fixture
def as_office(app: FastAPI, a_person: Callable[..., Person]) -> TestClient:
    a_person("Office One", "office")
    return signed_in(app, "Office One")


@pytest.fixture
def as_steward(app: FastAPI, a_person: Callable[..., Person]) -> TestClient:
    a_person("Steward One", "steward")
    return signed_in(app, "Steward One")


@pytest.fixture
def a_site(session: Session) -> Callable[..., Structure]:
    """Build a site with one structure, a rating and a gauge zero; return the structure."""

    def build(
        code: str = "TANSY",
        *,
        family: str = "parshall",
        dims: dict[str, Any] | None = None,
        zero_offset_m: float = 0.0,
        rated: bool = True,
        zeroed: bool = True,
        **fields: Any,
    ) -> Structure:
        site = Site(code=code, name=f"{code} (invented)", utc_offset_min=720)
        session.add(site)
        session.flush()
        assert site.id is not None
        structure = Structure(
            site_id=site.id,
            name="Flume",
            family=family,
            dims=dims or {"size": "1ft"},
            **fields,
        )
        session.add(structure)
        session.flush()
        assert structure.id is not None
        if rated:
            session.add(
                Rating(
                    structure_id=structure.id,
                    valid_from=BEGIN,
                    family=structure.family,
                    dims=structure.dims,
                    reason="as built",
                )
            )
        if zeroed:
            session.add(
                GaugeZero(
                    structure_id=structure.id,
                    valid_from=BEGIN,
                    crest_rl_m=100.0,
                    zero_rl_m=100.0 + zero_offset_m,
                    reason="first level run",
                )
            )
        session.commit()
        return structure

    return build


def iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def a_reading(
    structure: Structure,
    person: Person,
    staff_m: float | list[float] = 0.21,
    *,
    tail_staff_m: float | None = None,
    tail_state: str | None = None,
    at: datetime = BEGIN + timedelta(days=30),
    **changes: Any,
) -> dict[str, Any]:
    """Return a head-reading entry as a phone sends it; `body_` keywords change the body."""
    repeats = staff_m if isinstance(staff_m, list) else [staff_m]
    state = tail_state or ("not_seen" if tail_staff_m is None else "read")
    body: dict[str, Any] = {
        "occasion": "during",
        "staff_m": repeats,
        "tailwater": {"state": state, "staff_m": tail_staff_m, "text": None},
    }
    body |= {k.removeprefix("body_"): v for k, v in changes.items() if k.startswith("body_")}
    return {
        "id": str(uuid.uuid4()),
        "kind": "head_reading",
        "site_id": structure.site_id,
        "structure_id": structure.id,
        "visit_id": None,
        "observed_at": iso(at),
        "utc_offset_min": 720,
        "by": person.id,
        "saved_at": iso(at + timedelta(minutes=1)),
        "corrects": None,
        "reason": None,
        "body": body,
        **{k: v for k, v in changes.items() if not k.startswith("body_")},
    }


def send(session: Session, person: Person, *entries: object) -> list[sync.Receipt]:
    """Send entries as a phone would."""
    batch = sync.Batch("test-phone", None, list(entries))
    return sync.accept(session, person, batch, datetime.now(UTC))
