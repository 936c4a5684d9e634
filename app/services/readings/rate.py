"""Rate head readings by the dated rating and gauge zero in force, and again when these change."""

import logging
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import SillbookError
from app.hydraulics.rating.rate import Rated, rate
from app.hydraulics.structure.device import Device, Flag, Flow
from app.records.database import utc_now
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sites import GaugeZero, Rating, Structure
from app.services.entries.ahead import times_ahead
from app.services.readings.observed import Observed, observed
from app.services.settings.in_force import Judging, judging
from app.services.sites.dated import device_of, histories, in_force

log = logging.getLogger("sillbook.rating")

UNDER_WORDS = "far under the crest, and nobody said that it was dry"
# The release in which a figure last moved: what an older one worked out is out of date until it is
# rated again. Raise it with a release that moves figures, and only then.
FIGURES_MOVED_IN = "0.2.0"
ENGINE = f"sillbook {FIGURES_MOVED_IN}"
PHONE_DIFFERENCE = 0.001  # the phone's preview may differ from the server by this share

FLOW_VALUES: sa.Table = FlowValue.__table__  # type: ignore[attr-defined]


def rate_new(session: Session, entry_ids: Sequence[str]) -> dict[str, str]:
    """Rate stored readings that have no flow value; return the words for those not rated."""
    notes: dict[str, str] = {}
    try:
        readings = list(
            session.exec(
                select(Entry).where(col(Entry.id).in_(entry_ids), Entry.kind == "head_reading")
            )
        )
        rows = rated_rows(session, readings, utc_now())
        if rows:
            session.connection().execute(FLOW_VALUES.insert(), rows)
        session.commit()
        notes = {r["entry_id"]: f"not rated: {r['reason']}" for r in rows if r["reason"]}
    except Exception:
        # The observation is stored already: a fault here must never look like a lost reading.
        session.rollback()
        if len(entry_ids) > 1:  # one that cannot be rated must not keep the others from it
            for entry_id in entry_ids:
                notes |= rate_new(session, [entry_id])
            return notes
        log.exception("rating failed")
        notes = dict.fromkeys(entry_ids, "not rated: the server failed, it will be tried again")
    return notes


def rate_missing(session: Session, limit: int = 1000) -> int:
    """Rate readings left without a flow value by a fault; return how many were found."""
    ids = session.exec(
        select(Entry.id)
        .where(
            Entry.kind == "head_reading",
            ~sa.exists().where(col(FlowValue.entry_id) == col(Entry.id)),
        )
        .limit(limit)
    ).all()
    rate_new(session, ids)
    return len(ids)


def rated_rows(
    session: Session, readings: Sequence[Entry], rated_at: datetime
) -> list[dict[str, Any]]:
    """Return flow-value rows of readings: one vectorised call for each rating and zero."""
    ids = {r.structure_id for r in readings if r.structure_id is not None}
    structures = {
        s.id: s for s in session.exec(select(Structure).where(col(Structure.id).in_(ids)))
    }
    ratings = histories(session, Rating, ids)
    zeros = histories(session, GaugeZero, ids)
    limits = judging(session)
    groups: dict[tuple[int | None, int | None], list[tuple[Entry, Rating, GaugeZero]]]
    groups = defaultdict(list)
    rows: list[dict[str, Any]] = []
    for entry in readings:
        assert entry.structure_id is not None
        rating = in_force(ratings[entry.structure_id], entry.observed_at)
        zero = in_force(zeros[entry.structure_id], entry.observed_at)
        if rating is None or zero is None:
            lacking = "rating" if rating is None else "gauge zero"
            said = f"no {lacking} in force at that time"
            rows.append(unrated_row(entry, said, rated_at, rating, zero))
            continue
        groups[rating.id, zero.id].append((entry, rating, zero))
    for group in groups.values():
        try:
            rows += group_rows(group, structures, rated_at, limits)
        except SillbookError as error:
            rows += [unrated_row(entry, str(error), rated_at, r, z) for entry, r, z in group]
    for row in rows:
        structure = structures[row["structure_id"]]
        row["structure_head_uncertainty_m"] = structure.head_uncertainty_m
        row["structure_pond_area_m2"] = structure.pond_area_m2
        row["limits"] = limits.cited
    return rows


def group_rows(
    group: Sequence[tuple[Entry, Rating, GaugeZero]],
    structures: dict[int | None, Structure],
    rated_at: datetime,
    limits: Judging,
) -> list[dict[str, Any]]:
    device = device_of(group[0][1])
    seen = [
        observed(entry, structures[entry.structure_id], zero, device, limits)
        for entry, _, zero in group
    ]
    result = rate_observed(device, seen)
    return [
        value_row(result, place, one, rating, zero, rated_at)
        for place, (one, (_, rating, zero)) in enumerate(zip(seen, group, strict=True))
    ]


def rate_observed(device: Device, seen: Sequence[Observed]) -> Rated:
    """Rate observed heads; one far under the crest is not rated unless somebody said dry."""
    rated = rate(
        device,
        np.array([o.head_m for o in seen]),
        np.array([o.tailwater_m for o in seen]),
        np.array([o.head_uncertainty_m for o in seen]),
        free_seen=np.array([o.free_seen for o in seen]),
    )
    lost = np.array([o.no_water for o in seen], dtype=bool)
    if not lost.any():
        return rated
    return replace(
        rated,
        discharge_m3s=np.where(lost, np.nan, rated.discharge_m3s),
        uncertainty_pct=np.where(lost, np.nan, rated.uncertainty_pct),
        flow=np.where(lost, np.int8(Flow.NOT_RATED), rated.flow),
    )


def value_row(
    result: Rated,
    place: int,
    one: Observed,
    rating: Rating,
    zero: GaugeZero,
    rated_at: datetime,
) -> dict[str, Any]:
    def value(array: Any) -> float | None:
        number = float(array[place])
        return number if math.isfinite(number) else None

    discharge = value(result.discharge_m3s)
    base = base_row(one.entry, rated_at)
    flags = int(result.flags[place]) | one.flags | base["flags"]
    if phone_differs(one.entry, discharge, rating):
        flags |= Flag.PHONE_DIFFERS
    return {
        **base,
        "head_m": one.head_m,
        "head_uncertainty_m": one.head_uncertainty_m,
        "tailwater_m": None if math.isnan(one.tailwater_m) else one.tailwater_m,
        "discharge_m3s": discharge,
        "uncertainty_pct": value(result.uncertainty_pct),
        "submergence_ratio": value(result.submergence_ratio),
        "flow": int(result.flow[place]),
        "flags": flags,
        "steadiness": one.steadiness.word,
        "rating_id": rating.id,
        "gauge_zero_id": zero.id,
        "reason": UNDER_WORDS if one.no_water else "",
    }


def phone_differs(entry: Entry, discharge_m3s: float | None, rating: Rating) -> bool:
    """Tell whether the phone showed another discharge by this same rating."""
    preview = entry.body.get("preview") or {}
    shown = preview.get("discharge_m3s")
    if shown is None or discharge_m3s is None or preview.get("rating_id") != rating.id:
        return False
    return bool(abs(shown - discharge_m3s) > PHONE_DIFFERENCE * max(abs(discharge_m3s), 1e-6))


def base_row(entry: Entry, rated_at: datetime) -> dict[str, Any]:
    ahead = times_ahead(entry.observed_at, entry.body, entry.received_at)
    return {
        "entry_id": entry.id,
        "site_id": entry.site_id,
        "structure_id": entry.structure_id,
        "at": entry.observed_at,
        "head_m": None,
        "head_uncertainty_m": None,
        "tailwater_m": None,
        "discharge_m3s": None,
        "uncertainty_pct": None,
        "submergence_ratio": None,
        "flags": int(Flag.TIME_AHEAD) if ahead else 0,
        "steadiness": "unknown",
        "rating_id": None,
        "gauge_zero_id": None,
        "engine": ENGINE,
        "reason": "",
        "rated_at": rated_at,
        "current": True,
    }


def unrated_row(
    entry: Entry,
    reason: str,
    rated_at: datetime,
    rating: Rating | None,
    zero: GaugeZero | None,
) -> dict[str, Any]:
    """Return the row of a reading without discharge; it cites what is in force all the same."""
    return base_row(entry, rated_at) | {
        "flow": int(Flow.NOT_RATED),
        "reason": reason,
        "rating_id": rating.id if rating else None,
        "gauge_zero_id": zero.id if zero else None,
    }
