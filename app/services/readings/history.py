"""A site's history: readings as they stand, by day and by flow word."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta, timezone
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlmodel import Session, col

from app.errors import BadInput
from app.hydraulics.rating.uncertainty import round_to_uncertainty
from app.hydraulics.series.daily import DailyFlow, daily_flow
from app.hydraulics.series.stretches import closed
from app.language import words
from app.language.tables import part_of
from app.language.trade import OCCASIONS
from app.language.words import counted
from app.records.entries import Entry
from app.records.sites import Site, Structure
from app.services.entries.links import standing_only, what_stands
from app.services.entries.written import copied_by, observer_of, source_words
from app.services.readings.list import Span, span_of, standing
from app.services.sites.changes import names_of
from app.services.sites.register import get_site, structures_of

SCREENFUL = 100  # rows of readings on one page


@dataclass(frozen=True)
class History:
    """Readings of one structure of a site over a range, oldest first."""

    site: Site
    structures: list[Structure]
    structure: Structure | None
    span: Span
    rows: list[dict[str, Any]]

    @property
    def rivals(self) -> int:
        return sum(row["rival"] for row in self.rows)


def history(session: Session, site_id: int, span: Span, structure_id: int | None) -> History:
    """Return a history; without a structure named, that of the site's first.

    Raises
    ------
    BadInput
        When the structure is not at the site.
    """
    site = get_site(session, site_id)
    structures = structures_of(session, site_id)
    structure = next((s for s in structures if structure_id in (None, s.id)), None)
    if structure is None and structure_id is not None:
        raise BadInput(
            "structure", structure_id, "this structure is not at this site", "Choose it again."
        )
    rows: list[dict[str, Any]] = []
    if structure is not None:
        names = names_of(session)
        zone = timezone(timedelta(minutes=site.utc_offset_min))
        for row in standing(session, site_id, span, structure.id):
            row["structure"] = structure.name
            author = names.get(row["by_id"], "")
            row["observer"] = observer_of(row["body"], author)
            row["source"] = source_words(row["body"])
            row["copied_by"] = copied_by(row["body"], author)
            row["occasion"] = OCCASIONS[row["body"].get("occasion", "during")]
            row["observed_at_local"] = row["observed_at"].astimezone(zone)
            rows.append(row)
    return History(site, structures, structure, span, rows)


def newest_day(session: Session, site: Site) -> date | None:
    """Return the site day of the newest reading that stands."""
    newest = session.execute(
        sa.select(sa.func.max(col(Entry.observed_at))).where(
            col(Entry.site_id) == site.id,
            col(Entry.kind) == "head_reading",
            standing_only(session, Entry.id, what_stands(session, site.id)),
        )
    ).scalar()
    if newest is None:
        return None
    zone = timezone(timedelta(minutes=site.utc_offset_min))
    day: date = newest.astimezone(zone).date()
    return day


def usual_span(newest: date | None, utc_offset_min: int) -> Span:
    """Return the twelve months up to the newest reading; open when there is none."""
    if newest is None:
        return span_of("", "", utc_offset_min)
    first = newest - timedelta(days=364)
    return span_of(first.isoformat(), newest.isoformat(), utc_offset_min)


def quick_ranges(newest: date | None) -> list[tuple[str, date, date]]:
    """Return ranges that people ask for: name, first and last day."""
    if newest is None:
        return []
    spans = (("30 days", 29), ("12 months", 364), ("5 years", 5 * 365))
    return [(name, newest - timedelta(days=days), newest) for name, days in spans]


def newest_first(found: History, part: int) -> tuple[list[dict[str, Any]], int]:
    """Return one screenful of readings, newest first, and how many screenfuls there are."""
    rows, _, parts = part_of(found.rows[::-1], part, SCREENFUL)
    return list(rows), parts


def figures(rows: Sequence[dict[str, Any]], key: str) -> NDArray[np.float64]:
    return np.array([math.nan if r[key] is None else r[key] for r in rows], dtype=np.float64)


def seconds(rows: Sequence[dict[str, Any]]) -> NDArray[np.int64]:
    return np.array([int(r["observed_at"].timestamp()) for r in rows], dtype=np.int64)


def daily(found: History) -> list[dict[str, Any]]:
    """Return one row a site day that has a reading, oldest first.

    A day is a mean over time only where readings cover at least nine tenths of it; otherwise the
    plain mean of what was read, and `basis` says so. The volume is of the covered time alone.
    The uncertainty of a mean takes the errors of its readings as fully alike (the upper bound).
    """
    if not found.rows:
        return []
    flows = daily_flow(
        seconds(found.rows),
        figures(found.rows, "discharge_m3s"),
        utc_offset_min=found.site.utc_offset_min,
        uncertainty_pct=figures(found.rows, "uncertainty_pct"),
        how=closed(
            np.zeros(len(found.rows), np.int8),
            figures(found.rows, "head_m"),
            figures(found.rows, "discharge_m3s"),
        ),
    )
    place = {int(day): k for k, day in enumerate(flows.day)}
    groups: dict[date, list[dict[str, Any]]] = defaultdict(list)
    for row in found.rows:
        groups[row["observed_at_local"].date()].append(row)
    days = []
    for day, group in groups.items():
        k = place.get((day - date(1970, 1, 1)).days)
        covered_s = float(flows.measured_s[k] + flows.estimated_s[k]) if k is not None else 0.0
        rated = [r for r in group if r["discharge_m3s"] is not None]
        one: dict[str, Any] = {
            "day": day.isoformat(),
            "readings": len(group),
            "determined": len(rated),
            "covered_h": round(covered_s / 3600.0, 4),
            **volume_of(flows, k if covered_s else None),
            "flow": sorted({r["flow"] for r in group}),
            "flags": sorted({flag for r in group for flag in r["flags"]}),
            "basis": basis_words(len(group), len(rated)),
            **extremes(rated),
        }
        one |= plain_mean(rated)
        if k is not None and not flows.partial[k]:
            one["mean_m3s"] = float(flows.mean_m3s[k])
            one["basis"] = (
                f"mean over {covered_s / 3600.0:.1f} h covered by {counted(len(group), 'reading')}"
            )
        days.append(one)
    return days


def volume_of(flows: DailyFlow, k: int | None) -> dict[str, Any]:
    """Return the volume of the covered time of day `k`; nothing is known without one."""
    if k is None:
        return {"volume_m3": None, "volume_uncertainty_m3": None, "volume_shown": "not known"}
    volume, spread = float(flows.volume_m3[k]), float(flows.volume_uncertainty_m3[k])
    pct = 100.0 * spread / volume if volume > 0 else math.nan
    margin = "" if volume == 0 else f" ± {words.percent(pct)}"
    return {
        "volume_m3": volume,
        "volume_uncertainty_m3": spread if math.isfinite(spread) else None,
        "volume_shown": f"{round_to_uncertainty(volume, pct)} m³{margin}",
    }


def basis_words(readings: int, rated: int) -> str:
    """Return what a day's figures rest on."""
    text = f"from {counted(rated, 'reading')}, not a continuous record"
    without = readings - rated
    return text + (f"; {without} without a discharge left out" if without else "")


def plain_mean(rated: Sequence[dict[str, Any]]) -> dict[str, float | None]:
    """Return the mean of readings and its uncertainty, %; None when one has none."""
    if not rated:
        return {"mean_m3s": None, "mean_uncertainty_pct": None}
    flows = figures(rated, "discharge_m3s")
    mean = float(flows.mean())
    spread = float((flows * figures(rated, "uncertainty_pct")).mean())
    known = mean > 0 and math.isfinite(spread)
    return {"mean_m3s": mean, "mean_uncertainty_pct": spread / mean if known else None}


def extremes(rated: Sequence[dict[str, Any]]) -> dict[str, float | None]:
    """Return the lowest and highest discharge read, each with its own uncertainty."""
    low = min(rated, key=lambda r: r["discharge_m3s"], default=None)
    high = max(rated, key=lambda r: r["discharge_m3s"], default=None)
    return {
        "low_m3s": low["discharge_m3s"] if low else None,
        "low_uncertainty_pct": low["uncertainty_pct"] if low else None,
        "high_m3s": high["discharge_m3s"] if high else None,
        "high_uncertainty_pct": high["uncertainty_pct"] if high else None,
    }


def by_flow_word(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the readings counted by flow word, in the order of the words."""
    groups: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        groups[row["flow_code"]].append(row)
    return [
        {
            "flow": words.flow_word(code),
            "flow_code": code,
            "readings": len(group),
            "last_at": group[-1]["observed_at"],
            **extremes([r for r in group if r["discharge_m3s"] is not None]),
        }
        for code, group in sorted(groups.items())
    ]
