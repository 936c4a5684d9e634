"""Floor 1: tables and the database they live in.

Importing this package loads every table, so that the metadata is whole for migrations.
"""

from app.records import (
    audit,
    entries,
    equipment,
    files,
    flows,
    maps,
    people,
    plans,
    review,
    sensors,
    settings,
    sites,
    takes,
    visits,
)

__all__ = [
    "audit", "entries", "equipment", "files", "flows", "maps", "people", "plans", "review",
    "sensors", "settings", "sites", "takes", "visits",
]  # fmt: skip
