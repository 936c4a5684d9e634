"""What the automatic checks find in a derived series, month by month, as work for a person.

A month is looked at with two days of its neighbours on either side and with the next reading
however far away, so that what is found does not depend on how much of the
record was made again. A long fault is kept in pieces by the month and put together in the list.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.base.findings import Fault, FaultLimits
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.faults import find_faults, pond_rate_m_per_s
from app.hydraulics.structure.device import Flow
from app.records.entries import Entry
from app.records.sensors import FoundFault
from app.services.entries.links import what_stands
from app.services.entries.standing import Standing
from app.services.series.flow import Flows, Inputs
from app.services.series.months import month_begins_s
from app.services.sites.dated import device_of

DROWNED = "drowned"
DROWNED_S = 6 * 3600  # common practice: shorter than this is a passing wave of weed or a gate
ONE_TIME = {Fault.SPIKE, Fault.STEP, Fault.CLOCK, Fault.GAP, Fault.RATE}
OF_THE_TAIL = {Fault.SPIKE, Fault.FLAT, Fault.STUCK, Fault.NOISE, Fault.GAP, Fault.CLOCK}
UNDER_WATER = (Flow.SUBMERGED_CORRECTED, Flow.SUBMERGED_UNDETERMINED)
TOUCHING_S = 2 * 3600


def limits_of(inputs: Inputs, at_s: int) -> FaultLimits:
    """Return the limits of the checks at a structure: its range and what its pond allows."""
    begun = [r for r in inputs.ratings if r.valid_from.timestamp() <= at_s]
    if not begun:
        return FaultLimits()
    device = device_of(begun[-1])
    largest = float(device.free_flow(np.array([device.head_max_m])).discharge_m3s[0])
    area = inputs.structure.pond_area_m2
    return FaultLimits(
        highest_m=1.1 * device.head_max_m,
        largest_change_m_per_s=pond_rate_m_per_s(largest, area) if area and largest > 0 else None,
    )


def interventions(session: Session, inputs: Inputs) -> list[int]:
    """Return the times at which people moved a gate or cleaned: a step then is no fault."""
    site_id = inputs.site.id or 0
    return interventions_at(session, [site_id], what_stands(session, site_id)).get(site_id, [])


def interventions_at(
    session: Session, site_ids: Collection[int], links: Standing
) -> dict[int, list[int]]:
    """Return the same for some sites, by site; sites without any are left out."""
    found: dict[int, list[int]] = {}
    for entry_id, site_id, kind, observed_at, body in session.execute(
        sa.select(
            col(Entry.id),
            col(Entry.site_id),
            col(Entry.kind),
            col(Entry.observed_at),
            col(Entry.body),
        ).where(
            col(Entry.site_id).in_(site_ids),
            col(Entry.kind).in_(("head_reading", "visit", "opening")),
        )
    ):
        if not links.stands(entry_id):
            continue
        times = found.setdefault(site_id, [])
        conditions = body.get("conditions") or []
        handled = body.get("occasion") == "as_left" or kind == "opening"
        if handled or "weed" in conditions or "gate moved" in conditions:
            times.append(int(observed_at.timestamp()))
        if body.get("gate_opened_at"):
            moved = datetime.fromisoformat(body["gate_opened_at"])
            times.append(int(moved.timestamp()))
    return {site_id: sorted(times) for site_id, times in found.items()}


def find(
    inputs: Inputs,
    quantity: str,
    month: int,
    *,
    t_s: Ints,
    value_m: Floats,
    gates_s: Sequence[int],
    limits: FaultLimits,
) -> list[dict[str, Any]]:
    """Return the findings of one site month.

    Parameters
    ----------
    t_s, value_m : the month with its context, and one reading beyond on either side
    """
    begin = month_begins_s(month, inputs.offset_min)
    end = month_begins_s(month + 1, inputs.offset_min)
    rows = []
    # steps by a gate are kept: they are left out when shown, by the visits that stand then
    for finding in find_faults(
        t_s, value_m, limits=limits, gate_changes_s=gates_s, steps_by_gates=True
    ):
        from_s, to_s = min(finding.from_s, finding.to_s), max(finding.from_s, finding.to_s)
        if quantity != "head" and finding.kind not in OF_THE_TAIL:
            continue
        if finding.kind in ONE_TIME:
            if not begin <= from_s < end:
                continue
        else:
            from_s, to_s = max(from_s, begin), min(to_s, end - 1)
            if from_s > to_s:
                continue
        rows.append(
            _row(inputs, quantity, month, str(finding.kind), from_s, to_s)
            | {"size": finding.size, "unit": finding.unit, "words": finding.words}
        )
    return rows


def drowned(inputs: Inputs, month: int, part: Flows) -> list[dict[str, Any]]:
    """Return the stretches of a month over which the tail drowned the structure."""
    under = np.isin(part.flow, UNDER_WATER)
    edge = np.diff(np.concatenate([[False], under, [False]]).astype(np.int8))
    first, last = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1
    spans: list[list[int]] = []
    for a, b in zip(first.tolist(), last.tolist(), strict=True):
        if spans and part.t_s[a] - part.t_s[spans[-1][1]] <= DROWNED_S:
            spans[-1][1] = b
        else:
            spans.append([a, b])
    rows = []
    for a, b in spans:
        from_s, to_s = int(part.t_s[a]), int(part.t_s[b])
        if to_s - from_s < DROWNED_S:
            continue
        inside = part.flow[a : b + 1]
        lost = int(np.count_nonzero(inside == Flow.SUBMERGED_UNDETERMINED))
        share = 100.0 * lost / inside.size
        rows.append(
            _row(inputs, "head", month, DROWNED, from_s, to_s)
            | {
                "size": float(to_s - from_s),
                "unit": "s",
                "words": f"the tail drowns the structure for {(to_s - from_s) / DAY_S:.1f} days, "
                f"{share:.0f} % of the readings cannot be determined",
            }
        )
    return rows


def _row(
    inputs: Inputs, quantity: str, month: int, kind: str, from_s: int, to_s: int
) -> dict[str, Any]:
    return {
        "structure_id": inputs.structure.id,
        "quantity": quantity,
        "month": month,
        "kind": kind,
        "from_s": from_s,
        "to_s": to_s,
    }


def found(session: Session, inputs: Inputs) -> list[FoundFault]:
    """Return the findings of a structure in order of time, pieces of one fault put together.

    A step that a visit explains is left out here: its entries may have come, or been withdrawn,
    since the series was made.
    """
    structure_id = inputs.structure.id or 0
    links = what_stands(session, inputs.site.id)
    return found_of(session, {structure_id: inputs}, links)[structure_id]


def found_of(
    session: Session, many: Mapping[int, Inputs], links: Standing
) -> dict[int, list[FoundFault]]:
    """Return the findings of some structures, by structure, in two statements."""
    handled = interventions_at(session, {x.site.id or 0 for x in many.values()}, links)
    rows: dict[int, list[FoundFault]] = {key: [] for key in many}
    for row in session.exec(
        select(FoundFault)
        .where(col(FoundFault.structure_id).in_(many))
        .order_by(col(FoundFault.from_s), col(FoundFault.id))
    ):
        rows[row.structure_id].append(row)
        session.expunge(row)
    return {
        key: _put_together(rows[key], np.array(handled.get(x.site.id or 0, ()), dtype=np.int64))
        for key, x in many.items()
    }


def _put_together(rows: Sequence[FoundFault], handled: Ints) -> list[FoundFault]:
    """Return findings without the steps that somebody made, pieces of one fault as one."""
    whole: list[FoundFault] = []
    open_ended: dict[tuple[str, str], FoundFault] = {}
    for row in rows:
        if row.kind == Fault.STEP and _near(handled, row):
            continue
        before = open_ended.get((row.quantity, row.kind))
        joins = (
            before is not None
            and row.kind not in ONE_TIME
            and row.month == before.month + 1
            and row.from_s - before.to_s <= TOUCHING_S
        )
        if joins and before is not None:
            before.to_s, before.month = row.to_s, row.month
            if row.unit == "s":
                before.size = float(before.to_s - before.from_s)
                before.words += f"; goes on for {(before.to_s - before.from_s) / DAY_S:.1f} days"
            continue
        open_ended[row.quantity, row.kind] = row
        whole.append(row)
    return whole


def _near(handled: Ints, row: FoundFault) -> bool:
    """Tell whether somebody moved a gate or cleaned about then."""
    window = FaultLimits().gate_window_s
    a, b = np.searchsorted(handled, (row.from_s - window, row.to_s + window + 1))
    return bool(a < b)
