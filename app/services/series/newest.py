"""The newest point of the stored series of many structures, read from the tails of their blocks."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session

from app.records.sensors import SERIES
from app.services.series.read import Arrays, load_many
from app.services.series.rows import ROW_KINDS

NAMES = ("t_s", "discharge_m3s", "uncertainty_pct", "flow", "flags", "head_m")
TAIL_POINTS = 96  # points looked at first: a day of quarter hours


@dataclass(frozen=True, kw_only=True)
class NewestPoint:
    """The last point of a series with a head; None where a figure is not known.

    Points that were set aside are passed over: a spike is no news of the water.
    """

    t_s: int
    discharge_m3s: float | None
    uncertainty_pct: float | None
    flow: int
    flags: int


def newest_points(session: Session, ids: Collection[int], until_s: int) -> dict[int, NewestPoint]:
    """Return the newest point of each structure at or before an instant.

    What lies ahead of it comes from a clock that ran wrong, and would hide what is known.
    """
    last = (
        sa.select(SERIES.c.structure_id, sa.func.max(SERIES.c.month).label("month"))
        .where(SERIES.c.structure_id.in_(ids), SERIES.c.from_s <= until_s)
        .group_by(SERIES.c.structure_id)
        .subquery()
    )
    rows = session.connection().execute(
        sa.select(
            SERIES.c.structure_id,
            SERIES.c.from_s,
            SERIES.c.to_s,
            *(_tail(SERIES.c[name], np.dtype(ROW_KINDS[name]).itemsize) for name in NAMES),
        ).join(
            last,
            (last.c.structure_id == SERIES.c.structure_id) & (last.c.month == SERIES.c.month),
        )
    )
    found: dict[int, NewestPoint] = {}
    longer: dict[int, tuple[int, int]] = {}
    for key, from_s, to_s, *tails in rows:
        arrays = {
            name: np.frombuffer(bytes(part), dtype=ROW_KINDS[name])
            for name, part in zip(NAMES, tails, strict=True)
        }
        point = _point(arrays, until_s)
        if point is None:
            longer[key] = (from_s, min(to_s, until_s))
        else:
            found[key] = point
    whole = load_many(session, longer, NAMES) if longer else {}
    for key, arrays in whole.items():
        point = _point(arrays, until_s) or _point(arrays, until_s, with_head=False)
        if point is not None:
            found[key] = point
    return found


def _tail(column: Any, size: int) -> Any:
    """Return the end of a column of bytes: its last points, or all of it where it is shorter."""
    long = sa.func.length(column)
    start = sa.case((long > TAIL_POINTS * size, long - TAIL_POINTS * size + 1), else_=1)
    return sa.func.substr(column, start, type_=sa.LargeBinary())


def _point(arrays: Arrays, until_s: int, *, with_head: bool = True) -> NewestPoint | None:
    usable = arrays["t_s"] <= until_s
    if with_head:
        usable &= np.isfinite(arrays["head_m"])
    at = np.flatnonzero(usable)
    if not at.size:
        return None
    k = int(at[-1])
    return NewestPoint(
        t_s=int(arrays["t_s"][k]),
        discharge_m3s=_known(arrays["discharge_m3s"][k]),
        uncertainty_pct=_known(arrays["uncertainty_pct"][k]),
        flow=int(arrays["flow"][k]),
        flags=int(arrays["flags"][k]),
    )


def _known(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None
