"""A database at the newest revision with nothing in it, made once and then only emptied or copied.

Making the schema costs some hundred times what emptying a few tables does, and nearly every test
wants one. A test that changed the schema is noticed by the schema's fingerprint and gets a new one.
"""

import shutil
from pathlib import Path

import sqlalchemy as sa

from app.records.database import migrate

FINGERPRINT = sa.text(
    """
    SELECT md5(string_agg(line, ';' ORDER BY line)) FROM (
        SELECT concat_ws(' ', c.relname, a.attname, format_type(a.atttypid, a.atttypmod),
                         a.attnotnull, pg_get_expr(d.adbin, d.adrelid)) AS line
        FROM pg_attribute a
        JOIN pg_class c ON c.oid = a.attrelid
        LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
        WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'i', 'p', 'v')
          AND a.attnum > 0 AND NOT a.attisdropped
        UNION ALL
        SELECT concat_ws(' ', conrelid::regclass, pg_get_constraintdef(oid))
        FROM pg_constraint WHERE connamespace = 'public'::regnamespace
        UNION ALL
        SELECT concat_ws(' ', pg_get_triggerdef(oid), tgenabled)
        FROM pg_trigger WHERE NOT tgisinternal
        UNION ALL
        SELECT concat_ws(' ', proname, prosrc)
        FROM pg_proc WHERE pronamespace = 'public'::regnamespace
    ) AS lines
    """
)
TABLES = sa.text(
    "SELECT relname FROM pg_class WHERE relnamespace = 'public'::regnamespace"
    " AND relkind IN ('r', 'p') AND relname <> 'alembic_version'"
)
USED_SEQUENCES = sa.text(
    "SELECT sequencename FROM pg_sequences WHERE schemaname = 'public' AND last_value IS NOT NULL"
)


def empty_postgres(url: str) -> None:
    """Leave a PostgreSQL database without any table."""
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
    engine.dispose()


class Fresh:
    """Makes fresh databases for one process of the tests; its files lie in `place`."""

    def __init__(self, place: Path) -> None:
        self.sqlite = place / "newest.sqlite3"
        self.postgres_as_made: str | None = None

    def make(self, url: str) -> None:
        """Bring the database at `url` to the newest revision with nothing in it."""
        if url.startswith("sqlite"):
            self._sqlite(Path(url.removeprefix("sqlite:///")))
        else:
            self._postgres(url)

    def _sqlite(self, path: Path) -> None:
        if not self.sqlite.exists():
            migrate(f"sqlite:///{self.sqlite}")
        shutil.copyfile(self.sqlite, path)

    def _postgres(self, url: str) -> None:
        engine = sa.create_engine(url)
        try:
            with engine.begin() as connection:
                as_made = connection.scalar(FINGERPRINT)
                if self.postgres_as_made and as_made == self.postgres_as_made:
                    _empty_tables(connection)
                    return
            empty_postgres(url)
            migrate(url)
            with engine.connect() as connection:
                self.postgres_as_made = connection.scalar(FINGERPRINT)
        finally:
            engine.dispose()


def _empty_tables(connection: sa.Connection) -> None:
    # replica: the triggers that keep tables append-only do not fire, nor the foreign keys
    connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
    names = [str(name) for name in connection.scalars(TABLES)]
    held = " UNION ALL ".join(
        f"SELECT '{name}' WHERE EXISTS (SELECT 1 FROM \"{name}\")" for name in names
    )
    for name in connection.scalars(sa.text(held)).all():
        connection.exec_driver_sql(f'DELETE FROM "{name}"')
    for name in connection.scalars(USED_SEQUENCES).all():
        connection.exec_driver_sql(f'ALTER SEQUENCE "{name}" RESTART')
