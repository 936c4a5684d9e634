"""The database: one SQLite file, or PostgreSQL by its address; nothing else knows which.

SQLite runs in WAL mode with synchronous=FULL, so what was committed survives a power cut, and
every writer begins IMMEDIATE, because a read transaction that turns into a write fails at once
instead of waiting.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from sqlalchemy import event
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, SQLModel

from app.paths import MIGRATIONS
from app.records.holding import Shared, database_path

# Named constraints, so that a later migration can drop them on both engines.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}

LOCK_WAIT_S = 10
MIGRATION_LOCK = 5_117_008  # advisory lock number of migrations on PostgreSQL


class UtcTime(sa.TypeDecorator[datetime]):
    """An instant: refuses naive values, gives back aware UTC on both engines."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs a time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: sa.Dialect) -> datetime | None:
        if value is None:
            return None
        # SQLite forgets the zone, PostgreSQL answers in the session's.
        aware: datetime = value.replace(tzinfo=UTC) if value.tzinfo is None else value
        return aware.astimezone(UTC)


def utc_now() -> datetime:
    return datetime.now(UTC)


def open_engine(url: str, *, foreign_keys: bool = True) -> sa.Engine:
    """Return an engine with the pragmas and transaction habits of this project."""
    if not url.startswith("sqlite"):
        engine = sa.create_engine(url, pool_pre_ping=True)
        event.listen(engine, "connect", _no_endless_wait)
        return engine
    engine = sa.create_engine(url, connect_args={"timeout": LOCK_WAIT_S})
    if (path := database_path(url)) is not None:
        hold = Shared(path)
        event.listen(engine, "do_connect", lambda *_: hold.take())
        event.listen(engine, "engine_disposed", lambda _: hold.leave())

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # the driver must not emit its own BEGIN
        cursor = connection.cursor()
        for pragma in (
            "journal_mode=WAL",
            "synchronous=FULL",
            f"foreign_keys={'ON' if foreign_keys else 'OFF'}",
            f"busy_timeout={LOCK_WAIT_S * 1000}",
            "trusted_schema=OFF",
        ):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        read_only = connection.get_execution_options().get("read_only")
        connection.exec_driver_sql("BEGIN" if read_only else "BEGIN IMMEDIATE")

    return engine


def _no_endless_wait(connection: Any, _record: Any) -> None:
    # A writer waits as long for a lock as on SQLite, then says that the database is busy.
    connection.autocommit = True
    connection.execute(f"SET lock_timeout = '{LOCK_WAIT_S}s'")
    connection.autocommit = False


@contextmanager
def reading_session(engine: sa.Engine) -> Iterator[Session]:
    """Give a session that takes no write lock, for pages that only look."""
    with Session(engine.execution_options(read_only=True)) as session:
        yield session


def insert_new(
    session: Session, model: type[SQLModel], rows: list[dict[str, Any]], key: str
) -> set[Any]:
    """Insert rows, pass over those whose key is held already; return the keys inserted now."""
    if not rows:
        return set()
    table: sa.Table = model.__table__  # type: ignore[attr-defined]
    connection = session.connection()
    if connection.dialect.name == "postgresql":
        # In one order everywhere: batches that share ids wait for each other, and never cross.
        rows = sorted(rows, key=lambda row: str(row[key]))
        insert = postgresql.insert(table).on_conflict_do_nothing(index_elements=[key])
        return set(connection.execute(insert.returning(table.c[key]), rows).scalars())
    # SQLite: this transaction began IMMEDIATE, so nobody can insert between look and insert, and
    # a plain executemany costs a third of one that returns keys.
    keys = [row[key] for row in rows]
    held = set(connection.execute(sa.select(table.c[key]).where(table.c[key].in_(keys))).scalars())
    fresh = [row for row in rows if row[key] not in held]
    if fresh:
        connection.execute(sqlite.insert(table), fresh)
    return {row[key] for row in fresh}


def alembic_config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config


def migrate(url: str) -> None:
    """Bring the schema to the newest revision; safe when several processes start together."""
    # Without foreign_keys: a table rebuilt by a migration must not cascade.
    engine = open_engine(url, foreign_keys=False)
    try:
        with engine.begin() as connection:  # on SQLite BEGIN IMMEDIATE is the lock
            if connection.dialect.name == "postgresql":
                connection.exec_driver_sql("SET LOCAL lock_timeout = 0")
                connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({MIGRATION_LOCK})")
            config = alembic_config()
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    finally:
        engine.dispose()
