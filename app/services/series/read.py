"""Read the stored derived series: whole arrays of a range, and the sketches of many years."""

from collections.abc import Collection, Mapping, Sequence
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
STRUCTURES_AT_ONCE = 25  # bounds the memory however many there are


def load(
    session: Session,
    structure_id: int,
    from_s: int = -FAR_S,
    to_s: int = FAR_S,
    names: Sequence[str] = ("discharge_m3s",),
) -> Arrays:
    """Return the times and the named columns of a range, both ends included."""
    return load_many(session, {structure_id: (from_s, to_s)}, names)[structure_id]


def load_many(
    session: Session, ranges: Mapping[int, tuple[int, int]], names: Sequence[str]
) -> dict[int, Arrays]:
    """Return the times and the named columns of some structures, each in its range, in one go.

    Half a year of quarter hours is some 150 kB a column: ask for STRUCTURES_AT_ONCE.
    """
    wanted = ["t_s", *(name for name in names if name != "t_s")]
    held: dict[int, list[Any]] = {key: [] for key in ranges}
    first = min((a for a, _ in ranges.values()), default=0)
    last = max((b for _, b in ranges.values()), default=0)
    for structure_id, *row in session.connection().execute(
        sa.select(SERIES.c.structure_id, *(SERIES.c[name] for name in wanted))
        .where(SERIES.c.structure_id.in_(held), SERIES.c.to_s >= first, SERIES.c.from_s <= last)
        .order_by(SERIES.c.month)
    ):
        held[structure_id].append(row)
    return {key: _joined(held[key], wanted, *ranges[key]) for key in ranges}


def _joined(rows: Sequence[Any], wanted: Sequence[str], from_s: int, to_s: int) -> Arrays:
    """Return the columns of blocks end to end, cut to a range."""
    out: Arrays = {}
    for place, name in enumerate(wanted):
        out[name] = np.frombuffer(b"".join(row[place] for row in rows), dtype=ROW_KINDS[name])
    return cut(out, from_s, to_s + 1)


def cut(series: Arrays, from_s: int, to_s: int) -> Arrays:
    """Return the part of a series in a range, the end excluded."""
    a, b = np.searchsorted(series["t_s"], (from_s, to_s), "left").tolist()
    return {name: values[a:b] for name, values in series.items()}


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
    return sketches(session, [structure_id], what, from_s, to_s)[structure_id]


def sketches(
    session: Session,
    ids: Collection[int],
    what: str,
    from_s: int = -FAR_S,
    to_s: int = FAR_S,
) -> dict[int, Envelope]:
    """Return the envelopes of some structures in one go, by structure."""
    held: dict[int, list[bytes]] = {key: [] for key in ids}
    for key, made in session.connection().execute(
        sa.select(SERIES.c.structure_id, SERIES.c[SKETCHES[what]])
        .where(SERIES.c.structure_id.in_(held), SERIES.c.to_s >= from_s, SERIES.c.from_s <= to_s)
        .order_by(SERIES.c.month)
    ):
        held[key].append(made)
    return {key: _whole(rows, from_s, to_s) for key, rows in held.items()}


def _whole(rows: Sequence[bytes], from_s: int, to_s: int) -> Envelope:
    """Return the sketches of blocks end to end, cut to a range."""
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
