"""Dated rows of a structure: its ratings and gauge zeros, and which one is in force."""

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import lru_cache
from typing import TypeVar

from sqlmodel import Session, col, select

from app.hydraulics.families.registry import build
from app.hydraulics.structure.device import Device
from app.records.sites import GaugeZero, Rating

Dated = TypeVar("Dated", Rating, GaugeZero)


def in_force(history: Sequence[Dated], at: datetime) -> Dated | None:
    """Return the row in force at an instant: the latest begun; of two begun together the newer."""
    begun = [row for row in history if row.valid_from <= at]
    return max(begun, key=lambda row: (row.valid_from, row.id or 0)) if begun else None


def histories(session: Session, model: type[Dated], ids: Iterable[int]) -> dict[int, list[Dated]]:
    """Return the dated rows of some structures, by structure."""
    found: dict[int, list[Dated]] = defaultdict(list)
    for row in session.exec(select(model).where(col(model.structure_id).in_(list(ids)))):
        found[row.structure_id].append(row)
    return found


def device_of(rating: Rating) -> Device:
    return _device(rating.family, json.dumps(rating.dims, sort_keys=True))


@lru_cache(maxsize=512)
def _device(family: str, dims: str) -> Device:
    return build(family, json.loads(dims))
