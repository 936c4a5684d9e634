"""Read the stored derived series: whole arrays of a range, and the sketches of many years."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlmodel import Session

from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.envelopes import Envelope
from app.hydraulics.series.stretches import DEFAULT_GAP_S
from app.records.sensors import SERIES
from app.services.series.raw import FAR_S
from app.services.series.rows import ROW_KINDS, SKETCH_ROWS

SKETCHES = {"discharge": "discharge_sketch", "head": "head_sketch"}
Arrays = dict[str, NDArray[Any]]


def load(
    session: Session,
    structure_id: int,
    from_s: int = -FAR_S,
    to_s: int = FAR_S,
    names: Sequence[str] = ("discharge_m3s",),
) -> Arrays:
    """Return the times and the named columns of a range, both ends included."""
    wanted = ["t_s", *(name for name in names if name != "t_s")]
    rows = (
        session.connection()
        .execute(
            sa.select(*(SERIES.c[name] for name in wanted))
            .where(
                SERIES.c.structure_id == structure_id,
                SERIES.c.to_s >= from_s,
                SERIES.c.from_s <= to_s,
            )
            .order_by(SERIES.c.month)
        )
        .all()
    )
    out: Arrays = {}
    for place, name in enumerate(wanted):
        out[name] = np.frombuffer(b"".join(row[place] for row in rows), dtype=ROW_KINDS[name])
    a = int(np.searchsorted(out["t_s"], from_s, "left"))
    b = int(np.searchsorted(out["t_s"], to_s, "right"))
    return {name: values[a:b] for name, values in out.items()}


def stored_span(session: Session, structure_id: int) -> tuple[int, int] | None:
    """Return first and last time of the stored series."""
    first, last = (
        session.connection()
        .execute(
            sa.select(sa.func.min(SERIES.c.from_s), sa.func.max(SERIES.c.to_s)).where(
                SERIES.c.structure_id == structure_id
            )
        )
        .one()
    )
    return None if first is None else (int(first), int(last))


def sketch(
    session: Session, structure_id: int, what: str, from_s: int = -FAR_S, to_s: int = FAR_S
) -> Envelope:
    """Return the envelope by site days of a range, made when the series was made."""
    rows = (
        session.connection()
        .execute(
            sa.select(SERIES.c[SKETCHES[what]])
            .where(
                SERIES.c.structure_id == structure_id,
                SERIES.c.to_s >= from_s,
                SERIES.c.from_s <= to_s,
            )
            .order_by(SERIES.c.month)
        )
        .scalars()
        .all()
    )
    parts = [np.frombuffer(row, dtype="<f8").reshape(SKETCH_ROWS, -1) for row in rows]
    empty = np.empty((SKETCH_ROWS, 0))
    whole = np.concatenate(parts, axis=1) if parts else empty
    gap = whole[7] > 0
    edges = np.cumsum([part.shape[1] for part in parts])[:-1] if parts else np.empty(0, int)
    for k in edges.tolist():
        # across two blocks: what was more than a day apart was not seen when they were made
        if 0 < k < gap.size and whole[0, k] - whole[1, k - 1] > max(DAY_S, DEFAULT_GAP_S):
            gap[k] = True
    inside = (whole[1] >= from_s) & (whole[0] <= to_s)
    whole, gap = whole[:, inside], gap[inside]
    return Envelope(
        step_s=DAY_S,
        from_s=whole[0].astype(np.int64),
        to_s=whole[1].astype(np.int64),
        low=whole[2],
        high=whole[3],
        high_at_s=whole[4].astype(np.int64),
        mean=whole[5],
        count=whole[6].astype(np.int64),
        gap_before=gap,
    )


def newest(session: Session, structure_id: int, names: Sequence[str]) -> dict[str, Any] | None:
    """Return the last stored point of a structure with the named columns; None without any."""
    wanted = ["t_s", *names]
    row = (
        session.connection()
        .execute(
            sa.select(*(SERIES.c[name] for name in wanted))
            .where(SERIES.c.structure_id == structure_id)
            .order_by(SERIES.c.to_s.desc())
            .limit(1)
        )
        .first()
    )
    if row is None or not row[0]:
        return None
    return {
        name: np.frombuffer(row[place], dtype=ROW_KINDS[name])[-1].item()
        for place, name in enumerate(wanted)
    }
