"""The dated ratings of a structure side by side: gaugings against each, and volumes by each."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from sqlmodel import Session

from app.hydraulics.rating.tests import BiasTest, VolumeEffect
from app.records.sites import Rating
from app.services.fits.tests import Standing, evidence_of, judged_by, next_from, point_of
from app.services.gaugings.results import GaugingResult
from app.services.ratings.curve import curve_at, device_or_none
from app.services.ratings.volumes import HeadRecord, as_if_always, effect, head_record
from app.services.sites.views import described

SHARES = (10.0, 50.0, 90.0)  # heads at which ratings are laid side by side: low, middle, high


@dataclass(frozen=True, kw_only=True)
class Side:
    """One dated rating beside the one looked at."""

    rating: Rating
    described: str
    until: datetime | None
    gaugings: int
    bias: BiasTest | None
    differences_pct: list[float | None]  # at the heads of `Sides.heads_m`
    effect: VolumeEffect | None


@dataclass(frozen=True)
class Sides:
    """All dated ratings over the same gaugings and the same heads."""

    record: HeadRecord | None
    heads_m: list[float]
    rows: list[Side]


def side_by_side(session: Session, found: Standing) -> Sides:
    """Return every rating of a structure against the gaugings in view and the same heads."""
    if found.rating is None or found.structure.id is None:
        return Sides(None, [], [])
    record = head_record(session, found.structure.id, found.span)
    heads = usual_heads(record)
    ones = [point.one for point in found.points]
    base = device_or_none(found.rating)
    shown = curve_at(base, found.structure, heads).discharge_m3s if base else None
    rows = []
    for rating in found.ratings:
        bias, count = bias_of(found, ones, rating)
        device = device_or_none(rating)
        differences: list[float | None] = [None] * len(heads)
        if device is not None and shown is not None:
            q = curve_at(device, found.structure, heads).discharge_m3s
            change = 100.0 * (q / shown - 1.0)
            differences = [float(c) if np.isfinite(c) else None for c in change]
        volumes = None
        if record is not None and device is not None and base is not None:
            volumes = effect(record, as_if_always(found.rating), as_if_always(rating))
        until = next_from(found.ratings, rating)
        rows.append(
            Side(
                rating=rating,
                described=described(rating),
                until=until,
                gaugings=count,
                bias=bias,
                differences_pct=differences,
                effect=volumes,
            )
        )
    return Sides(record, heads, rows)


def usual_heads(record: HeadRecord | None) -> list[float]:
    """Return a low, a middle and a high head of a record, to 10 mm."""
    if record is None:
        return []
    above = record.head_m[np.isfinite(record.head_m) & (record.head_m > 0.0)]
    if above.size == 0:
        return []
    return sorted({max(0.01, round(float(h), 2)) for h in np.percentile(above, SHARES)})


def bias_of(
    found: Standing, ones: Sequence[GaugingResult], rating: Rating
) -> tuple[BiasTest | None, int]:
    points = [point_of(one, found.site) for one in judged_by(ones, rating)]
    counted = [point for point in points if point.counted]
    tests = evidence_of(counted)
    return (tests.bias if tests else None), len(counted)
