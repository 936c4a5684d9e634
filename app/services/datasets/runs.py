"""The record in stretches by the same ratings, point by point, for what writes a time series."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from sqlmodel import Session

from app.hydraulics.series.stretches import gap_rule_s
from app.language.forms import day_begins
from app.language.tables import csv_cell
from app.records.sites import Site, Structure
from app.services.datasets.parts import days_of, seconds
from app.services.readings.list import Span
from app.services.record.blocks import Block, blocks
from app.services.series.months import instant


@dataclass(frozen=True, kw_only=True)
class Point:
    """A value with its time; None where there is none, with the reason."""

    at: str
    value_m3s: float | None
    quality: str
    flow: str = ""
    flags: str = ""
    how: str = ""
    stale: str = ""
    uncertainty_pct: float | None = None


@dataclass(frozen=True, kw_only=True)
class Run:
    """A stretch of points by the same ratings; its points are made when they are written."""

    structure: Structure
    rating_ids: tuple[int, ...]
    first: str
    last: str
    what: str
    points: Iterable[Point]
    gap_s: int | None = None


def series_runs(session: Session, site: Site, structure: Structure, span: Span) -> Iterator[Run]:
    """Yield the stretches of a series: read once to find them, once more to write each."""
    key, (begin, end) = structure.id or 0, seconds(span)
    found: list[list[Any]] = []  # rating, first and last second
    steps: list[Any] = []
    for block in blocks(session, key, begin, end):
        ids = np.array([one or 0 for one in block.values("rating_id")])[block.which]
        edges = [0, *(np.flatnonzero(np.diff(ids)) + 1).tolist(), ids.size]
        for a, b in pairwise(edges):
            rating, first, last = int(ids[a]), int(block.t_s[a]), int(block.t_s[b - 1])
            if found and found[-1][0] == rating:
                found[-1][2] = last
            else:
                found.append([rating, first, last])
        steps.append(gap_rule_s(block.t_s))
    for rating, first, last in found:
        yield Run(
            structure=structure,
            rating_ids=(rating,) if rating else (),
            first=csv_cell(instant(first)),
            last=csv_cell(instant(last)),
            what="series",
            points=_series_points(blocks(session, key, first, last)),
            gap_s=max(steps),
        )


def _series_points(found: Iterable[Block]) -> Iterator[Point]:
    for block in found:
        said = [
            {
                "quality": one["quality_word"],
                "flow": one["flow"],
                "flags": ", ".join(one["flags"]),
                "how": one["how"],
                "stale": one["stale"],
            }
            for one in block.said
        ]
        stamps = np.datetime_as_string(block.t_s.astype("M8[s]")).tolist()
        flows = block.figures["discharge_m3s"].tolist()
        spreads = block.figures["uncertainty_pct"].tolist()
        for at, flow, pct, which in zip(stamps, flows, spreads, block.which.tolist(), strict=True):
            yield Point(
                at=at + "Z",
                value_m3s=None if flow != flow else flow,
                uncertainty_pct=None if pct != pct or flow != flow else pct,
                **said[which],
            )


def daily_runs(session: Session, site: Site, structure: Structure, span: Span) -> Iterator[Run]:
    """Yield the days of each set of ratings; the time of a mean is the beginning of its day."""
    days: list[list[dict[str, Any]]] = []
    cited: list[list[int]] = []
    for row in days_of(session, structure.id or 0, span):
        ids = row["rating_ids"]  # none on a day without record, which stands with those before it
        if not days or (ids and cited[-1] and ids != cited[-1]):
            days.append([])
            cited.append(ids)
        days[-1].append(row)
        cited[-1] = cited[-1] or ids
    for held, ids in zip(days, cited, strict=True):
        yield Run(
            structure=structure,
            rating_ids=tuple(ids),
            first=_begins(site, held[0]["day"]),
            last=_begins(site, held[-1]["day"] + timedelta(days=1)),
            what="daily",
            points=[_day(site, one) for one in held],
        )


def _begins(site: Site, day: date) -> str:
    return csv_cell(day_begins(day, site.utc_offset_min))


def _day(site: Site, row: dict[str, Any]) -> Point:
    mean = row["mean_m3s"]
    if mean is None:
        quality = "not determined" if row["word"] == "not determined" else "missing"
    elif row["estimated_fraction"]:
        quality = "estimated"
    else:
        quality = "unchecked" if row["state"] == "draft" else "good"
    return Point(
        at=_begins(site, row["day"]),
        value_m3s=mean,
        quality=quality,
        flow=csv_cell(row["flow"] or []),
        flags=csv_cell(row["flags"] or []),
        how=row["word"],
        stale=row["stale"],
        uncertainty_pct=row["mean_uncertainty_pct"],
    )
