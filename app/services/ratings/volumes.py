"""What one rating or another makes of the same heads: volumes over a stretch of the record.

The heads are those of the logger series where there is one, else those people read. A gap counts
for neither rating.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from app.errors import SillbookError
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import DAY_S
from app.hydraulics.rating.rate import rate
from app.hydraulics.rating.tests import VolumeEffect, volume_effect
from app.hydraulics.series.stretches import gap_rule_s
from app.language.forms import day_begins
from app.records.sites import Rating, Site, Structure
from app.services.readings.list import Span, span_of, standing
from app.services.series.flow import flows, inputs_of
from app.services.series.raw import extent
from app.services.sites.dated import device_of, in_force
from app.services.sites.structures import place

USUAL_DAYS = 365
READINGS_GAP_S = 40 * DAY_S
"""Readings further apart than this are not joined: a month and a bit between visits."""


@dataclass(frozen=True, kw_only=True)
class HeadRecord:
    """Heads over the crest in the order of time; NaN where there is a gap or no tailwater."""

    basis: str
    structure: Structure
    first: date
    last: date
    t_s: Floats
    head_m: Floats
    tailwater_m: Floats
    free_seen: NDArray[np.bool_]

    @property
    def known(self) -> int:
        return int(np.isfinite(self.head_m).sum())

    @property
    def words(self) -> str:
        return f"{self.known} {self.basis}, {self.first} to {self.last}"


def head_record(session: Session, structure_id: int, span: Span | None = None) -> HeadRecord | None:
    """Return the heads of a range, of the last twelve months when it is open; None when none."""
    site, structure = place(session, structure_id)
    held = extent(session, structure_id)
    bounds = _bounded(site, span, held[1]) if held is not None else None
    if bounds is not None:
        found = _logged(session, site, structure, bounds)
        if found is not None:
            return found
    return _read(session, site, structure, span)


def _bounded(site: Site, span: Span | None, newest_s: float) -> Span | None:
    """Return the range asked for with its open ends closed: twelve months to the newest.

    None when it begins after the newest.
    """
    zone = timezone(timedelta(minutes=site.utc_offset_min))
    last = span.last if span and span.last else datetime.fromtimestamp(newest_s, zone).date()
    first = span.first if span and span.first else last - timedelta(days=USUAL_DAYS - 1)
    if first > last:
        return None
    return span_of(first.isoformat(), last.isoformat(), site.utc_offset_min)


def _logged(session: Session, site: Site, structure: Structure, span: Span) -> HeadRecord | None:
    assert span.since
    assert span.until
    assert span.first
    assert span.last
    assert structure.id is not None
    inputs = inputs_of(session, structure.id)
    found = flows(session, inputs, int(span.since.timestamp()), int(span.until.timestamp()))
    if not np.isfinite(found.head_m).any():
        return None
    t = found.t_s.astype(np.float64)
    return _record(
        "values of the logger series",
        structure,
        span,
        gap_s=gap_rule_s(found.t_s),
        t=t,
        head=found.head_m,
        tail=found.tailwater_m,
        seen=np.zeros(t.shape, bool),
    )


def _read(
    session: Session, site: Site, structure: Structure, span: Span | None
) -> HeadRecord | None:
    assert site.id is not None
    whole = span or span_of("", "", site.utc_offset_min)
    rows = [
        row for row in standing(session, site.id, whole, structure.id) if row["head_m"] is not None
    ]
    if not rows:
        return None
    bounds = _bounded(site, span, rows[-1]["observed_at"].timestamp())
    if bounds is None or bounds.since is None:
        return None
    rows = [row for row in rows if row["observed_at"] >= bounds.since]
    t = np.array([row["observed_at"].timestamp() for row in rows])
    t, at = np.unique(t, return_index=True)  # of two readings at one instant the first
    tails = [row["tailwater_m"] for row in rows]
    seen = [(row["body"].get("tailwater") or {}).get("state") == "clearly_free" for row in rows]
    return _record(
        "head readings",
        structure,
        bounds,
        gap_s=READINGS_GAP_S,
        t=t,
        head=np.array([row["head_m"] for row in rows])[at],
        tail=np.array([np.nan if tail is None else tail for tail in tails])[at],
        seen=np.array(seen)[at],
    )


def _record(
    basis: str,
    structure: Structure,
    span: Span,
    *,
    gap_s: float,
    t: Floats,
    head: Floats,
    tail: Floats,
    seen: NDArray[np.bool_],
) -> HeadRecord:
    """Return the record with a hole put into every gap, so that nothing bridges it."""
    assert span.first
    assert span.last
    holes = np.nonzero(np.diff(t) > gap_s)[0] + 1
    return HeadRecord(
        basis=basis,
        structure=structure,
        first=span.first,
        last=span.last,
        t_s=np.insert(t, holes, t[holes - 1] + 1.0),
        head_m=np.insert(head, holes, np.nan),
        tailwater_m=np.insert(tail, holes, np.nan),
        free_seen=np.insert(seen, holes, False),
    )


def discharges(record: HeadRecord, ratings: Sequence[Rating]) -> Floats:
    """Return the discharges of a record by dated ratings; NaN where none is determined."""
    found = np.full(record.t_s.shape, np.nan)
    edges = sorted({r.valid_from.timestamp() for r in ratings})
    for k, begin in enumerate(edges):
        end = edges[k + 1] if k + 1 < len(edges) else np.inf
        part = (record.t_s >= begin) & (record.t_s < end)
        rating = in_force(ratings, datetime.fromtimestamp(begin, UTC))
        if rating is None or not part.any():
            continue
        try:
            device = device_of(rating)
        except SillbookError:
            continue
        spread = np.full(int(part.sum()), record.structure.head_uncertainty_m)
        tails, seen = record.tailwater_m[part], record.free_seen[part]
        rated = rate(device, record.head_m[part], tails, spread, free_seen=seen)
        found[part] = rated.discharge_m3s
    return found


def as_if_always(rating: Rating) -> list[Rating]:
    """Return a rating as though it had held from the first, for comparing; never stored."""
    return [
        Rating(
            structure_id=rating.structure_id,
            valid_from=day_begins(date(1990, 1, 1), 0),
            family=rating.family,
            dims=rating.dims,
        )
    ]


def effect(record: HeadRecord, old: Sequence[Rating], new: Sequence[Rating]) -> VolumeEffect:
    """Return the volumes of a record by two sets of dated ratings, where both say something."""
    return volume_effect(record.t_s, discharges(record, old), discharges(record, new))
