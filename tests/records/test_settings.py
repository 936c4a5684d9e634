"""What an office had set stays set when settings become dated, up and down, on both engines."""

import json

import sqlalchemy as sa
from alembic import command

from app.records.database import alembic_config, open_engine

OLD = (("water_year", [10, 1]), ("acceptance_bands", [[0.0, 0.0], [0.003, None]]))


def moved(connection: sa.Connection, revision: str, *, up: bool) -> None:
    config = alembic_config()
    config.attributes["connection"] = connection
    (command.upgrade if up else command.downgrade)(config, revision)


def test_up_and_down_keep_what_was_set(database_url: str) -> None:
    engine = open_engine(database_url, foreign_keys=False)
    with engine.begin() as connection:
        moved(connection, "0010", up=True)
        connection.execute(
            sa.text(
                "INSERT INTO person (id, name, role, password_hash, active, created_at)"
                " VALUES (7, 'Teal', 'steward', '', true, '2026-01-01 00:00:00+00:00')"
            )
        )
        for key, value in OLD:
            put = sa.text("INSERT INTO preference (key, value) VALUES (:key, :value)")
            connection.execute(put, {"key": key, "value": json.dumps(value)})
        connection.execute(
            sa.text(
                "INSERT INTO audit_entry (at, by_id, action, subject, subject_id, reason) VALUES"
                " ('2026-02-03 04:05:06+00:00', 7, 'set', 'preference', 'water_year', '')"
            )
        )
    with engine.begin() as connection:
        moved(connection, "0011", up=True)
        look = sa.text("SELECT key, revision, value, by_id FROM setting ORDER BY key DESC")
        rows = [tuple(row) for row in connection.execute(look)]
        assert rows == [
            ("water_year", 1, '"10-01"', 7),
            ("acceptance_bands", 1, json.dumps(OLD[1][1]), None),
        ]
        at = connection.scalar(sa.text("SELECT at FROM setting WHERE key = 'water_year'"))
        assert str(at).startswith("2026-02-03 ")
        connection.execute(
            sa.text(
                "INSERT INTO setting (key, revision, value, reason, at) VALUES"
                " ('acceptance_bands', 2, NULL, 'built in again', '2026-03-01 00:00:00+00:00')"
            )
        )
    with engine.begin() as connection:
        moved(connection, "0010", up=False)
        rows = [tuple(row) for row in connection.execute(sa.text("SELECT * FROM preference"))]
        assert rows == [("water_year", "[10, 1]")]
    with engine.begin() as connection:
        moved(connection, "0011", up=True)
    engine.dispose()
