"""Keep the derived series: made again by whole site months, daily flow and findings with it.

A month is always computed in the same way, with two days of its neighbours, so that making one
month again gives the same bytes as making ten years again. Approved months are left alone and
named in the answer: they change only after they were opened again with a reason.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlmodel import Session

from app.hydraulics.base.findings import FaultLimits
from app.hydraulics.base.units import DAY_S
from app.records.sensors import DAILY, FAULTS, SERIES
from app.services.days import state as approval_state
from app.services.days.cited import MARGIN_S, counting, of_month, reach_of, slack_of
from app.services.days.staleness import stale_months
from app.services.series import faults as series_faults
from app.services.series import raw as raw_series
from app.services.series.flow import (
    QUANTITIES,
    Flows,
    Inputs,
    corrected,
    cut,
    flows,
    inputs_of,
    taken,
)
from app.services.series.months import month_begins_s, month_days, month_text
from app.services.series.months import month_of as month_of_s
from app.services.series.rows import block_row, day_rows

TOGETHER = 12  # months computed at once: bounds the memory whatever the length of the record


@dataclass
class Rebuilt:
    """What was made again: months, days and readings; `held` are approved months left alone."""

    structure_id: int
    months: int = 0
    days: int = 0
    readings: int = 0
    held: list[str] = field(default_factory=list)


def rebuild(
    session: Session,
    structure_id: int,
    from_s: int | None = None,
    to_s: int | None = None,
    *,
    approved_too: bool = False,
    progress: Callable[[int], None] | None = None,
) -> Rebuilt:
    """Make the derived series of a range again in the caller's transaction.

    The neighbouring months are made again too, because a midnight and a gap look across.

    Parameters
    ----------
    approved_too : bool
        Only for a look at what approved months would become, on copies that are thrown away.
    progress : callable
        Told how many months were gone through since it was told last.
    """
    inputs = inputs_of(session, structure_id)
    answer = Rebuilt(structure_id)
    span = whole_span(session, inputs)
    if span is None:
        clear(session, structure_id, None)
        return answer
    offset = inputs.offset_min
    first = month_of_s(span[0] if from_s is None else max(from_s, span[0] - 40 * DAY_S), offset) - 1
    last = month_of_s(span[1] if to_s is None else min(to_s, span[1] + 40 * DAY_S), offset) + 1
    if from_s is None and to_s is None:
        clear(session, structure_id, (first, last))
    before = month_of_s(span[0], offset)
    while before < first and not _has_readings(session, inputs, first):
        first -= 1  # a gap belongs to the month it begins in
    approved = set() if approved_too else approval_state.approved_months(session, structure_id)
    gates = series_faults.interventions(session, inputs)
    wanted = [m for m in range(first, last + 1) if m not in approved]
    answer.held = [month_text(m) for m in range(first + 1, last) if m in approved]
    for run in _runs(wanted):
        _rebuild_run(session, inputs, run, gates, answer, _strayed(session, inputs, approved))
        if progress is not None:
            progress(len(run))
    return answer


def month_count(session: Session, structure_ids: Sequence[int]) -> int:
    """Return about how many months a whole rebuild of some structures goes through."""
    ends = 0
    for key in structure_ids:
        inputs = inputs_of(session, key)
        span = whole_span(session, inputs)
        if span is not None:
            first, last = (month_of_s(t, inputs.offset_min) for t in span)
            ends += last - first + 3
    return ends


def whole_span(session: Session, inputs: Inputs) -> tuple[int, int] | None:
    """Return first and last time of readings and of estimates people laid where there are none."""
    found = raw_series.extent(session, inputs.structure.id or 0)
    drawn = [x for x in inputs.layers_of("head") if x.amount is not None and x.shape == "estimated"]
    edges = [*(found or ()), *(t for x in drawn for t in (x.from_s, x.to_s))]
    return (min(edges), max(edges)) if edges else None


def clear(session: Session, structure_id: int, keep: tuple[int, int] | None) -> None:
    """Remove derived rows outside a range of months, approved ones excepted."""
    approved = approval_state.approved_months(session, structure_id)
    connection = session.connection()
    held = connection.execute(
        sa.select(SERIES.c.month).where(SERIES.c.structure_id == structure_id)
    ).scalars()
    for month in held.all():
        if month not in approved and (keep is None or not keep[0] <= month <= keep[1]):
            _delete_months(session, structure_id, month, month)


def _delete_months(session: Session, structure_id: int, first: int, last: int) -> None:
    """Remove the derived rows of neighbouring months, both ends included."""
    begin, end = month_days(first)[0], month_days(last)[1]
    for table, place, low, high in (
        (SERIES, SERIES.c.month, first, last),
        (DAILY, DAILY.c.day, begin, end - 1),
        (FAULTS, FAULTS.c.month, first, last),
    ):
        session.connection().execute(
            table.delete().where(table.c.structure_id == structure_id, place >= low, place <= high)
        )


def _has_readings(session: Session, inputs: Inputs, month: int) -> bool:
    begin = month_begins_s(month, inputs.offset_min)
    end = month_begins_s(month + 1, inputs.offset_min)
    return bool(raw_series.imports_in(session, inputs.structure.id or 0, begin, end - 1))


def _runs(months: Sequence[int]) -> Iterator[list[int]]:
    """Yield neighbouring months, at most TOGETHER at once."""
    run: list[int] = []
    for month in months:
        if run and (month != run[-1] + 1 or len(run) >= TOGETHER):
            yield run
            run = []
        run.append(month)
    if run:
        yield run


def _rebuild_run(
    session: Session,
    inputs: Inputs,
    months: list[int],
    gates: Sequence[int],
    answer: Rebuilt,
    strayed: Mapping[int, tuple[int, int]],
) -> None:
    """Compute neighbouring months at once and write their blocks, days and findings."""
    structure_id = inputs.structure.id or 0
    offset = inputs.offset_min
    begin, end = month_begins_s(months[0], offset), month_begins_s(months[-1] + 1, offset)
    made = flows(session, inputs, begin - MARGIN_S, end + MARGIN_S)
    tail, _ = corrected(session, inputs, "tailwater", begin - MARGIN_S, end + MARGIN_S)
    after = {q: _after(session, inputs, q, end + MARGIN_S) for q in ("head", "tailwater")}
    _delete_months(session, structure_id, months[0], months[-1])
    far = MARGIN_S + slack_of(inputs)
    raws = [
        raw_series.raw_series(session, structure_id, quantity, begin - far, end + far)
        for quantity in QUANTITIES
    ]
    logger_of = raw_series.loggers_of(session, structure_id)
    blocks, days, faults = [], [], []
    for month in months:
        a, b = month_begins_s(month, offset), month_begins_s(month + 1, offset)
        inside = _share(made, month, a, b, strayed)
        for quantity, t_s, value in (
            ("head", made.t_s, made.head_m),
            ("tailwater", tail.t_s, tail.value),
        ):
            faults += _findings(
                inputs, quantity, month, t_s=t_s, value_m=value, after=after[quantity], gates=gates
            )
        if inside.t_s.size == 0:
            continue
        near = cut(made, a - MARGIN_S, b + MARGIN_S)
        reach = reach_of(inputs, inside.t_s, tail.t_s[(tail.t_s >= a) & (tail.t_s < b)])
        imports = counting(raws, a - reach, b + reach)
        made_from = of_month(inputs, a, b, reach, imports, logger_of)
        blocks.append(block_row(inputs, month, inside, near, made_from))
        days += day_rows(inputs, month, cut(inside, a, b), near)
        faults += series_faults.drowned(inputs, month, inside)
        answer.months += 1
        answer.readings += int(inside.t_s.size)
    connection = session.connection()
    for table, rows in ((SERIES, blocks), (DAILY, days), (FAULTS, faults)):
        if rows:
            connection.execute(table.insert(), rows)
    answer.days += len(days)


def _strayed(session: Session, inputs: Inputs, approved: set[int]) -> dict[int, tuple[int, int]]:
    """Return the approved months that were cut by another clock of the site, with their range.

    They are left as they are: their neighbours must not hold the same readings once more, and
    take what no month would hold otherwise.
    """
    offset = inputs.offset_min
    rows = session.connection().execute(
        sa.select(SERIES.c.month, SERIES.c.versions).where(
            SERIES.c.structure_id == inputs.structure.id, SERIES.c.month.in_(approved)
        )
    )
    now = {m: (month_begins_s(m, offset), month_begins_s(m + 1, offset)) for m in approved}
    made = {m: (v.get("from_s", now[m][0]), v.get("to_s", now[m][1])) for m, v in rows}
    return {month: span for month, span in made.items() if span != now[month]}


def _share(
    made: Flows, month: int, a: int, b: int, strayed: Mapping[int, tuple[int, int]]
) -> Flows:
    """Return the readings that a month holds: its own but for those of strayed months."""
    begin, end = a, b
    if month - 1 in strayed:
        begin = min(a, strayed[month - 1][1])
    if month + 1 in strayed:
        end = max(b, strayed[month + 1][0])
    part = cut(made, begin, end)
    kept = np.ones(part.t_s.shape, bool)
    for first, after in strayed.values():
        kept &= (part.t_s < first) | (part.t_s >= after)
    return part if kept.all() else taken(part, kept)


def _after(session: Session, inputs: Inputs, quantity: str, to_s: int) -> tuple[int, float] | None:
    """Return time and head of the first reading after a range: where a gap ends."""
    at = raw_series.next_reading_s(session, inputs.structure.id or 0, quantity, to_s)
    if at is None:
        return None
    found, _ = corrected(session, inputs, quantity, to_s, at + DAY_S)
    known = np.flatnonzero(np.isfinite(found.value))
    return (int(found.t_s[known[0]]), float(found.value[known[0]])) if known.size else None


def _findings(
    inputs: Inputs,
    quantity: str,
    month: int,
    *,
    t_s: NDArray[np.int64],
    value_m: NDArray[np.float64],
    after: tuple[int, float] | None,
    gates: Sequence[int],
) -> list[dict[str, Any]]:
    """Return the findings of a month, seen with two days and one reading beyond."""
    known = np.isfinite(value_m)
    t, v = t_s[known], value_m[known]
    if after is not None:
        t, v = np.append(t, after[0]), np.append(v, after[1])
    begin = month_begins_s(month, inputs.offset_min)
    end = month_begins_s(month + 1, inputs.offset_min)
    a = max(int(np.searchsorted(t, begin - MARGIN_S, "left")) - 1, 0)
    b = min(int(np.searchsorted(t, end + MARGIN_S, "right")) + 1, t.size)
    inside = np.searchsorted(t, (begin, end), "left")
    if b - a < 2 or inside[0] == inside[1]:
        return []
    limits = series_faults.limits_of(inputs, begin) if quantity == "head" else FaultLimits()
    return series_faults.find(
        inputs, quantity, month, t_s=t[a:b], value_m=v[a:b], gates_s=gates, limits=limits
    )


def stale(session: Session, structure_id: int) -> list[str]:
    """Return the months whose stored flows no longer follow what is in force."""
    return [found.month for found in stale_months(session, structure_id)]
