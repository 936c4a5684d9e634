"""The raw series of a structure: blocks of logger files put together, never changed.

Of two readings at one time the one of the earlier import counts; the other one stays in its own
block and is shown as a conflict. So the series does not depend on anything but which imports
there are: taking one back gives exactly what it would have been without it.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlmodel import Session

from app.hydraulics.base.arrays import Floats, Ints
from app.records.sensors import BLOCKS

FAR_S = 2**52  # an open end of a range


@dataclass(frozen=True)
class RawSeries:
    """Readings as they came, by time, one a time: value (m), which import and logger said so."""

    t_s: Ints
    value_m: Floats
    import_id: Ints
    logger_id: Ints


@dataclass(frozen=True)
class Doubles:
    """Readings that an earlier import had already, and those that said otherwise; by index."""

    t_s: Ints
    held_m: Floats
    other_m: Floats
    held_import: Ints
    other_import: Ints


def write_blocks(
    session: Session,
    import_id: int,
    structure_id: int,
    *,
    logger_id: int,
    quantity: str,
    t_s: Ints,
    value_m: Floats,
) -> int:
    """Store readings in blocks by UTC month, missing ones left out; return how many."""
    known = np.isfinite(value_m)
    t, v = t_s[known], value_m[known]
    if t.size == 0:
        return 0
    months = t.astype("M8[s]").astype("M8[M]")
    starts = np.flatnonzero(np.append(True, months[1:] != months[:-1]))
    rows = []
    for begin, end in zip(starts.tolist(), [*starts[1:].tolist(), t.size], strict=True):
        rows.append(
            {
                "import_id": import_id,
                "structure_id": structure_id,
                "logger_id": logger_id,
                "quantity": quantity,
                "from_s": int(t[begin]),
                "to_s": int(t[end - 1]),
                "count": end - begin,
                "times": t[begin:end].astype("<i8").tobytes(),
                "values": v[begin:end].astype("<f8").tobytes(),
            }
        )
    session.connection().execute(BLOCKS.insert(), rows)
    return int(t.size)


def delete_blocks(session: Session, import_id: int) -> int:
    """Remove the readings of one import; return how many there were."""
    connection = session.connection()
    mine = BLOCKS.c.import_id == import_id
    count = connection.execute(sa.select(sa.func.sum(BLOCKS.c["count"])).where(mine)).scalar()
    connection.execute(BLOCKS.delete().where(mine))
    return int(count or 0)


def _blocks(
    session: Session, structure_id: int, quantity: str, from_s: int, to_s: int
) -> RawSeries:
    """Return all readings of a range, block after block, doubles included."""
    table = BLOCKS.c
    rows = (
        session.connection()
        .execute(
            sa.select(
                table.import_id, table.logger_id, table["count"], table.times, table["values"]
            )
            .where(
                table.structure_id == structure_id,
                table.quantity == quantity,
                table.to_s >= from_s,
                table.from_s <= to_s,
            )
            .order_by(table.from_s, table.import_id)
        )
        .all()
    )
    if not rows:
        none = np.empty(0, dtype=np.int64)
        return RawSeries(none, np.empty(0), none, none)
    counts = [row[2] for row in rows]
    return RawSeries(
        np.frombuffer(b"".join(row[3] for row in rows), dtype="<i8").astype(np.int64, copy=False),
        np.frombuffer(b"".join(row[4] for row in rows), dtype="<f8").astype(float, copy=False),
        np.repeat(np.array([row[0] for row in rows], dtype=np.int64), counts),
        np.repeat(np.array([row[1] for row in rows], dtype=np.int64), counts),
    )


def _take(series: RawSeries, which: NDArray[np.int64] | NDArray[np.bool_] | slice) -> RawSeries:
    return RawSeries(
        series.t_s[which],
        series.value_m[which],
        series.import_id[which],
        series.logger_id[which],
    )


def raw_series(
    session: Session,
    structure_id: int,
    quantity: str = "head",
    from_s: int = -FAR_S,
    to_s: int = FAR_S,
) -> RawSeries:
    """Return the raw series of a range, both ends included."""
    found = _blocks(session, structure_id, quantity, from_s, to_s)
    if found.t_s.size and not np.all(np.diff(found.t_s) > 0):
        found = _take(found, np.lexsort((found.import_id, found.t_s)))
        found = _take(found, np.append(True, np.diff(found.t_s) > 0))
    begin = int(np.searchsorted(found.t_s, from_s, "left"))
    end = int(np.searchsorted(found.t_s, to_s, "right"))
    return _take(found, slice(begin, end))


def doubles(
    session: Session,
    structure_id: int,
    quantity: str = "head",
    from_s: int = -FAR_S,
    to_s: int = FAR_S,
) -> Doubles:
    """Return the times at which a later import says something else than the one that counts."""
    found = _blocks(session, structure_id, quantity, from_s, to_s)
    order = np.lexsort((found.import_id, found.t_s))
    found = _take(found, order)
    again = np.append(False, np.diff(found.t_s) == 0) if found.t_s.size else np.empty(0, bool)
    held = np.maximum.accumulate(np.where(again, 0, np.arange(again.size)))
    other = np.flatnonzero(again & (found.value_m != found.value_m[held]))
    other = other[(found.t_s[other] >= from_s) & (found.t_s[other] <= to_s)]
    return Doubles(
        found.t_s[other],
        found.value_m[held[other]],
        found.value_m[other],
        found.import_id[held[other]],
        found.import_id[other],
    )


def extent(session: Session, structure_id: int) -> tuple[int, int] | None:
    """Return first and last time of the raw readings of a structure."""
    table = BLOCKS.c
    first, last = (
        session.connection()
        .execute(
            sa.select(sa.func.min(table.from_s), sa.func.max(table.to_s)).where(
                table.structure_id == structure_id
            )
        )
        .one()
    )
    return None if first is None else (int(first), int(last))


def imports_in(session: Session, structure_id: int, from_s: int, to_s: int) -> list[int]:
    """Return the imports that have readings in a range."""
    table = BLOCKS.c
    return [
        int(row)
        for row in session.connection()
        .execute(
            sa.select(table.import_id)
            .where(table.structure_id == structure_id, table.to_s >= from_s, table.from_s <= to_s)
            .distinct()
            .order_by(table.import_id)
        )
        .scalars()
    ]


def loggers_of(session: Session, structure_id: int) -> dict[int, int]:
    """Return which logger wrote each import of a structure."""
    return import_spans_of(session, [structure_id])[1]


def import_spans_of(
    session: Session, ids: Collection[int]
) -> tuple[dict[int, list[tuple[int, int, int]]], dict[int, int]]:
    """Return the spans of blocks of some structures, by structure, and the logger of each import.

    An import is of one logger, and so of one structure.
    """
    table = BLOCKS.c
    rows = session.connection().execute(
        sa.select(
            table.structure_id, table.import_id, table.from_s, table.to_s, table.logger_id
        ).where(table.structure_id.in_(ids))
    )
    spans: dict[int, list[tuple[int, int, int]]] = {}
    logger_of: dict[int, int] = {}
    for structure_id, key, a, b, logger in rows:
        spans.setdefault(structure_id, []).append((int(key), int(a), int(b)))
        logger_of[int(key)] = int(logger)
    return spans, logger_of


def next_reading_s(session: Session, structure_id: int, quantity: str, at_s: int) -> int | None:
    """Return the time of the first raw reading of a block that begins at an instant or after."""
    table = BLOCKS.c
    found = (
        session.connection()
        .execute(
            sa.select(sa.func.min(table.from_s)).where(
                table.structure_id == structure_id,
                table.quantity == quantity,
                table.from_s >= at_s,
            )
        )
        .scalar()
    )
    return None if found is None else int(found)
