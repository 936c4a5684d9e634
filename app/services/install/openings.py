"""Openings of a gate as recorded: heads rated, steady or not, seeps, sensor and clock."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from sqlmodel import Session, col, select

from app.hydraulics.gauging.steadiness import Limits, Steadiness, classify
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flow
from app.records.entries import Entry
from app.records.sites import GaugeZero, Rating, Structure
from app.services.entries.links import what_stands
from app.services.entries.standing import Standing
from app.services.readings.observed import far_under
from app.services.settings.in_force import judging
from app.services.sites.changes import names_of
from app.services.sites.dated import device_of, histories, in_force

LAST_HEADS = 5  # of a filling pond only the last readings can be steady; as on the phone


@dataclass(frozen=True, kw_only=True)
class TimedHeadView:
    """A staff reading of the opening; head and discharge are None without zero or rating."""

    at: datetime
    staff_m: float
    tail_staff_m: float | None
    head_m: float | None
    discharge_m3s: float | None
    uncertainty_pct: float | None
    flow: str


@dataclass(frozen=True, kw_only=True)
class OpeningView:
    """An opening; offsets are sensor less staff, m, and clock errors are logger less right, s."""

    entry: Entry
    by: str
    heads: tuple[TimedHeadView, ...]
    steady: Steadiness | None
    seeps: dict[str, str]
    sensor_before_m: float | None
    sensor_after_m: float | None
    clock_before_s: float | None
    clock_after_s: float | None
    fit_from: datetime | None
    fit_words: str
    corrected_by: str | None
    stands: bool
    rival: bool


def openings(session: Session, structure_id: int) -> list[OpeningView]:
    """Return the openings recorded at a structure, oldest first."""
    query = select(Entry).where(Entry.kind == "opening", Entry.structure_id == structure_id)
    entries = session.exec(query.order_by(col(Entry.observed_at), col(Entry.id))).all()
    structure = session.get(Structure, structure_id)
    if structure is None:
        return []
    zeros = histories(session, GaugeZero, [structure_id])[structure_id]
    ratings = histories(session, Rating, [structure_id])[structure_id]
    names = names_of(session)
    links = what_stands(session, structure.site_id)
    limits = judging(session).steady
    return [
        opening_view(
            entry,
            structure,
            in_force(zeros, entry.observed_at),
            in_force(ratings, entry.observed_at),
            names.get(entry.by_id, ""),
            links,
            limits=limits,
        )
        for entry in entries
    ]


def opening_view(
    entry: Entry,
    structure: Structure,
    zero: GaugeZero | None,
    rating: Rating | None,
    by: str,
    links: Standing,
    *,
    limits: Limits,
) -> OpeningView:
    body = entry.body
    replaced = links.replaced_by(entry.id)
    heads = timed_heads(body.get("heads") or [], structure, zero, rating)
    sensor, clock = body.get("sensor") or {}, body.get("clock") or {}

    def apart(key: str) -> float | None:
        if zero is None or sensor.get(key) is None:
            return None
        return float(sensor[key] - sensor["staff_m"] - zero.offset_m)

    def error(key: str) -> float | None:
        if not clock.get(key):
            return None
        return (moment(clock[key]) - moment(clock["right"])).total_seconds()

    return OpeningView(
        entry=entry,
        by=by,
        heads=heads,
        steady=steadiness(body, heads, structure, rating, limits),
        seeps=body.get("seeps") or {},
        sensor_before_m=apart("before_m"),
        sensor_after_m=apart("after_m"),
        clock_before_s=error("before"),
        clock_after_s=error("after"),
        fit_from=moment(body["fit_from"]) if body.get("fit_from") else None,
        fit_words=body.get("fit_words", ""),
        corrected_by=replaced[-1] if replaced else None,
        stands=links.stands(entry.id),
        rival=links.rival(entry.id),
    )


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def timed_heads(
    rows: list[dict[str, Any]],
    structure: Structure,
    zero: GaugeZero | None,
    rating: Rating | None,
) -> tuple[TimedHeadView, ...]:
    if not rows:
        return ()
    staff = np.array([row["staff_m"] for row in rows], dtype=np.float64)
    tail = np.array([row.get("tail_staff_m") for row in rows], dtype=np.float64)
    if zero is None or rating is None:
        lacking = "no gauge zero" if zero is None else "no rating"
        head = staff + zero.offset_m if zero else None
        return tuple(
            TimedHeadView(
                at=moment(row["at"]),
                staff_m=row["staff_m"],
                tail_staff_m=row.get("tail_staff_m"),
                head_m=None if head is None else float(head[i]),
                discharge_m3s=None,
                uncertainty_pct=None,
                flow=f"not rated: {lacking}",
            )
            for i, row in enumerate(rows)
        )
    head, device = staff + zero.offset_m, device_of(rating)
    rated = rate(
        device,
        head,
        tail + zero.tail_offset_m,
        np.full(head.shape, structure.head_uncertainty_m),
        free_seen=np.zeros(head.shape, dtype=bool),
    )

    wet = np.array([not row.get("dry") for row in rows])
    lost = far_under(head, device) & wet

    def known(values: Any, i: int) -> float | None:
        return float(values[i]) if np.isfinite(values[i]) and not lost[i] else None

    return tuple(
        TimedHeadView(
            at=moment(row["at"]),
            staff_m=row["staff_m"],
            tail_staff_m=row.get("tail_staff_m"),
            head_m=float(head[i]),
            discharge_m3s=known(rated.discharge_m3s, i),
            uncertainty_pct=known(rated.uncertainty_pct, i),
            flow=(Flow.NOT_RATED if lost[i] else Flow(int(rated.flow[i]))).word,
        )
        for i, row in enumerate(rows)
    )


def steadiness(
    body: dict[str, Any],
    heads: tuple[TimedHeadView, ...],
    structure: Structure,
    rating: Rating | None,
    limits: Limits,
) -> Steadiness | None:
    """Class the last readings since the gate was last moved; None without any."""
    gate = [moment(step["at"]) for step in body.get("gate") or []]
    moved = max(gate, default=None)
    since = [h for h in heads if moved is None or h.at >= moved][-LAST_HEADS:]
    if not since:
        return None
    levels = [h.staff_m if h.head_m is None else h.head_m for h in since]
    exponent: float | None = None
    flow: float | None = None
    if rating is not None and since[0].head_m is not None:
        device = device_of(rating)
        mean = np.array([max(sum(levels) / len(levels), 1e-6)])
        exponent = float(np.atleast_1d(device.exponent(mean))[0])
        flow = float(device.free_flow(mean).discharge_m3s[0])
    start = since[-1].at
    return classify(
        [(h.at - start).total_seconds() for h in since],
        levels,
        exponent=exponent,
        discharge_m3s=flow,
        pond_area_m2=structure.pond_area_m2,
        gate_opened_s=None if moved is None else (moved - start).total_seconds(),
        reading_uncertainty_m=structure.head_uncertainty_m,
        limits=limits,
    )
