"""Floor 1: tables and the database they live in.

Importing this package loads every table, so that the metadata is whole for migrations.
"""

from app.records import (
    audit,
    entries,
    files,
    flows,
    maps,
    people,
    plans,
    review,
    sensors,
    sites,
    takes,
)

__all__ = [
    "audit", "entries", "files", "flows", "maps", "people", "plans", "review", "sensors", "sites",
    "takes",
]  # fmt: skip
