"""Alembic's entry: runs on the connection that app.records.database.migrate hands over."""

from typing import Any, Literal

import sqlmodel
from alembic import context

import app.records
from app.records.database import UtcTime

assert app.records  # loaded for its tables


def plain_types(kind: str, item: Any, _context: Any) -> str | Literal[False]:
    """Write SQLAlchemy's own types into scripts, so that they outlive the models."""
    if kind == "type" and isinstance(item, UtcTime):
        return "sa.DateTime(timezone=True)"
    if kind == "type" and isinstance(item, sqlmodel.AutoString):
        return f"sa.String(length={item.length})"
    return False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=sqlmodel.SQLModel.metadata,
    render_as_batch=True,
    compare_type=True,
    render_item=plain_types,
)
with context.begin_transaction():
    context.run_migrations()
