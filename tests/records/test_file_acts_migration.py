"""Loggers forget what stood for nobody's answer, and file acts are append-only."""

import json

import pytest
import sqlalchemy as sa
from alembic import command

from app.records.database import alembic_config, open_engine

HUNG = {"2": {"meaning": "pressure, absolute", "unit": "kPa", "zero": 0.0, "per_unit": 1.0}}
HEAD = {"2": {"meaning": "head", "unit": "mm", "zero": 0.0, "per_unit": 1.0}}
HELD = [
    {"columns": HUNG, "sensor_above_crest_m": 0.0, "time_zone": "standard"},
    {"columns": HUNG, "sensor_above_crest_m": -0.12, "time_zone": "utc"},
    {"columns": HEAD, "sensor_above_crest_m": 0.0, "date_order": "day first"},
]
KEPT = [
    {"columns": HUNG},
    {"columns": HUNG, "sensor_above_crest_m": -0.12, "time_zone": "utc"},
    {"columns": HEAD, "date_order": "day first"},
]


def test_what_nobody_said_is_forgotten(database_url: str) -> None:
    engine = open_engine(database_url, foreign_keys=False)
    config = alembic_config()
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0004")
        site = {"id": 1, "code": "T", "name": "T", "utc_offset_min": 720}
        structure = {"id": 1, "site_id": 1, "name": "F", "family": "x", "dims": "{}"}
        for table, row in (("site", site), ("structure", structure)):
            _insert(connection, table, row)
        for k, held in enumerate(HELD, 1):
            row = {
                "id": k, "structure_id": 1, "name": "L", "serial": "", "quantity": "head",
                "reads": "crest", "remembered": json.dumps(held),
            }  # fmt: skip
            _insert(connection, "logger", row)
        command.upgrade(config, "head")
        rows = connection.exec_driver_sql("SELECT remembered FROM logger ORDER BY id").scalars()
        found = [json.loads(row) if isinstance(row, str) else row for row in rows]
    assert found == KEPT
    with engine.begin() as connection:
        _insert(connection, "file_act", {"id": 1, "sha256": "a" * 64, "act": "uploaded"})
    for change in ("UPDATE file_act SET reason = 'other'", "DELETE FROM file_act"):
        with (
            pytest.raises(sa.exc.DBAPIError, match="append-only"),
            engine.begin() as connection,
        ):
            connection.exec_driver_sql(change)
    engine.dispose()


def _insert(connection: sa.Connection, name: str, row: dict[str, object]) -> None:
    """Insert a row, with something in every column that must hold something."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("SET session_replication_role = replica")  # no foreign keys
    table = sa.Table(name, sa.MetaData(), autoload_with=connection)
    given = {}
    for column in table.columns:
        if column.name in row:
            given[column.name] = row[column.name]
        elif not column.nullable and column.server_default is None:
            given[column.name] = _something(column.type)
    values = {
        key: json.loads(str(value)) if isinstance(table.c[key].type, sa.JSON) else value
        for key, value in given.items()
    }
    connection.execute(sa.insert(table).values(**values))
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("SET session_replication_role = DEFAULT")


def _something(kind: sa.types.TypeEngine[object]) -> object:
    if isinstance(kind, sa.DateTime):
        return sa.func.now()
    if isinstance(kind, sa.LargeBinary):
        return b""
    if isinstance(kind, sa.JSON):
        return "{}"
    if isinstance(kind, sa.Boolean):
        return False
    if isinstance(kind, sa.Integer | sa.Float):
        return 1
    return ""
