"""A month of the derived series as table rows: the block of arrays, its sketches, its days."""

import hashlib
import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.units import DAY_S
from app.hydraulics.series import daily as series
from app.hydraulics.series import envelopes
from app.hydraulics.series.stretches import gap_rule_s, usual_step_s
from app.hydraulics.structure.device import Flow
from app.records.database import utc_now
from app.services.readings.rate import ENGINE
from app.services.series.flow import Flows, Inputs
from app.services.series.months import day_begins_s, month_begins_s, month_days


def block_row(
    inputs: Inputs, month: int, inside: Flows, near: Flows, made_with: dict[str, Any]
) -> dict[str, Any]:
    """Return a month of the derived series as a row."""
    return {
        "structure_id": inputs.structure.id,
        "month": month,
        "from_s": int(inside.t_s[0]),
        "to_s": int(inside.t_s[-1]),
        "count": int(inside.t_s.size),
        "engine": ENGINE,
        "token": token_of(made_with),
        "versions": made_with,
        "made_at": utc_now(),
        "discharge_sketch": _sketch(inputs, month, near, near.discharge_m3s, near.how_flow),
        "head_sketch": _sketch(inputs, month, near, near.head_m, near.how),
        **{name: getattr(inside, name).astype(kind).tobytes() for name, kind in ROW_KINDS.items()},
    }


ROW_KINDS = {
    "t_s": "<i8",
    "discharge_m3s": "<f8",
    "uncertainty_pct": "<f4",
    "how": "<i1",
    "flow": "<i1",
    "flags": "<i8",
    "head_m": "<f8",
    "raw_m": "<f8",
    "tailwater_m": "<f8",
}
SKETCH_ROWS = 8  # from, to, low, high, time of high, mean, count, gap before


def token_of(made_with: dict[str, Any]) -> str:
    """Return a short mark of everything a month was computed with."""
    text = json.dumps([ENGINE, made_with], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _sketch(
    inputs: Inputs,
    month: int,
    near: Flows,
    value: NDArray[np.float64],
    how: NDArray[np.int8],
) -> bytes:
    """Return the envelope of a month by site days, gaps kept open, as bytes."""
    found = envelopes.envelope(
        near.t_s,
        value,
        DAY_S,
        gap_s=gap_rule_s(near.t_s),
        how=how,
        origin_s=-inputs.offset_min * 60,
    )
    begin = month_begins_s(month, inputs.offset_min)
    end = month_begins_s(month + 1, inputs.offset_min)
    mine = (found.from_s >= begin) & (found.from_s < end)
    rows = (
        found.from_s,
        found.to_s,
        found.low,
        found.high,
        found.high_at_s,
        found.mean,
        found.count,
        found.gap_before,
    )
    return np.stack([row[mine].astype("<f8") for row in rows]).tobytes()


def day_rows(inputs: Inputs, month: int, inside: Flows, near: Flows) -> list[dict[str, Any]]:
    """Return the daily rows of a month; days on which nothing is known have none."""
    first, after = month_days(month)
    found = series.daily_flow(
        near.t_s,
        near.discharge_m3s,
        utc_offset_min=inputs.offset_min,
        uncertainty_pct=near.uncertainty_pct,
        estimate_pct=near.estimate_pct,
        how=near.how_flow,
        gap_s=gap_rule_s(inside.t_s),
        step_s=usual_step_s(inside.t_s),
        from_day=first,
        to_day=after - 1,
    )
    slot = (inside.t_s - day_begins_s(first, inputs.offset_min)) // DAY_S
    days = after - first
    words = np.zeros(days, np.int64)
    bits = np.zeros(days, np.int64)
    np.bitwise_or.at(words, slot, np.left_shift(np.int64(1), inside.flow.astype(np.int64)))
    np.bitwise_or.at(bits, slot, inside.flags)
    lost = np.bincount(slot[inside.flow == Flow.SUBMERGED_UNDETERMINED], minlength=days)
    points = np.bincount(slot, minlength=days)
    columns: dict[str, list[Any]] = {
        name: _cells(getattr(found, name))
        for name in (
            "day", "volume_m3", "measured_m3", "estimated_m3", "volume_uncertainty_m3",
            "mean_m3s", "low_m3s", "low_at_s", "high_m3s", "high_at_s", "readings",
            "measured_s", "estimated_s", "missing_fraction",
        )
    }  # fmt: skip
    columns |= {"undetermined": lost.tolist(), "flows": words.tolist(), "flags": bits.tolist()}
    for name in ("low_at_s", "high_at_s"):
        columns[name] = [None if value < 0 else value for value in columns[name]]
    seen = (points > 0) | (found.measured_s + found.estimated_s > 0)
    names = list(columns)
    return [
        {"structure_id": inputs.structure.id, **dict(zip(names, row, strict=True))}
        for row, known in zip(zip(*columns.values(), strict=True), seen.tolist(), strict=True)
        if known
    ]


def _cells(values: NDArray[Any]) -> list[Any]:
    return [None if value != value else value for value in values.tolist()]
