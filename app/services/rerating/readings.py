"""What rating the readings of a site again changes: the values one by one, old against new.

Nothing is written here; `rerate` is the act.
"""

import math
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.language import words
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sites import Site
from app.services.entries.links import what_stands
from app.services.readings.rate import ENGINE, rated_rows
from app.services.sites.register import get_site

SAME = 1e-9  # a share: nothing but the last digits differs


@dataclass(frozen=True)
class ReadingChanges:
    """What rating again changes of the readings: one row a reading with another value.

    `old_ids` are the values that are no longer current. `confirmed` are values that stay as they
    are though something they rest on was changed; they cite what is in force from then on.
    """

    site: Site
    readings: int
    rows: list[dict[str, Any]]
    values: list[dict[str, Any]]
    old_ids: list[int]
    confirmed: list[dict[str, Any]]

    @property
    def compared(self) -> list[float]:
        """Return the changes, %, of readings that stand and have a discharge before and after."""
        return [r["change_pct"] for r in self.rows if r["stands"] and r["change_pct"] is not None]

    @property
    def mean_pct(self) -> float | None:
        return math.fsum(self.compared) / len(self.compared) if self.compared else None

    @property
    def largest_pct(self) -> float | None:
        """Return the change furthest from zero, with its sign."""
        return max(self.compared, key=abs, default=None)

    @property
    def other_word(self) -> int:
        return sum(r["before_flow"] != r["after_flow"] for r in self.rows)

    @property
    def word_changes(self) -> list[tuple[str, str, int]]:
        """Return how many readings go from one flow word to another."""
        moved = Counter(
            (r["before_flow"], r["after_flow"])
            for r in self.rows
            if r["before_flow"] != r["after_flow"]
        )
        return [(before, after, count) for (before, after), count in sorted(moved.items())]

    def reading_summary(self) -> dict[str, Any]:
        return {
            "readings": self.readings,
            "changed": len(self.rows),
            "compared": len(self.compared),
            "mean_change_pct": self.mean_pct,
            "largest_change_pct": self.largest_pct,
            "other_flow_word": self.other_word,
        }


def reading_changes(session: Session, site_id: int, now: datetime) -> ReadingChanges:
    """Return what rating the readings of a site again would change; writes nothing."""
    site = get_site(session, site_id)
    readings = session.exec(
        select(Entry)
        .where(Entry.site_id == site_id, Entry.kind == "head_reading")
        .order_by(col(Entry.observed_at), col(Entry.id))
    ).all()
    held: dict[str, FlowValue] = {
        value.entry_id: value
        for value in session.exec(
            select(FlowValue).where(FlowValue.site_id == site_id, col(FlowValue.current))
        )
    }
    links = what_stands(session, site_id)
    rated = {row["entry_id"]: row for row in rated_rows(session, readings, now)}
    rows, values, old_ids, confirmed = [], [], [], []
    for entry in readings:
        new, old = rated[entry.id], held.get(entry.id)
        if old is not None and same(old, new):
            if old.engine != ENGINE or any(getattr(old, key) != new[key] for key in CITED):
                confirmed.append({"value_id": old.id, **{k: new[k] for k in ("engine", *CITED)}})
            continue
        if old is not None and old.id is not None:
            old_ids.append(old.id)
        values.append(new)
        rows.append(compare(entry, old, new, links.stands(entry.id)))
    return ReadingChanges(site, len(readings), rows, values, old_ids, confirmed)


NUMBERS = (
    "head_m",
    "head_uncertainty_m",
    "tailwater_m",
    "discharge_m3s",
    "uncertainty_pct",
    "submergence_ratio",
)
CITED = ("structure_head_uncertainty_m", "structure_pond_area_m2", "limits")
FACTS = ("flow", "flags", "steadiness", "rating_id", "gauge_zero_id", "reason")


def same(old: FlowValue, new: dict[str, Any]) -> bool:
    """Tell whether a value would stay as it is."""
    if any(getattr(old, key) != new[key] for key in FACTS):
        return False
    return all(close(getattr(old, key), new[key]) for key in NUMBERS)


def close(old: float | None, new: float | None) -> bool:
    if old is None or new is None:
        return old is new
    return math.isclose(old, new, rel_tol=SAME, abs_tol=1e-12)


def compare(
    entry: Entry, old: FlowValue | None, new: dict[str, Any], stands: bool
) -> dict[str, Any]:
    before, after = (old.discharge_m3s if old else None), new["discharge_m3s"]
    change = 100.0 * (after - before) / before if before and after is not None else None
    return {
        "entry_id": entry.id,
        "at": entry.observed_at,
        "before_m3s": before,
        "before_pct": old.uncertainty_pct if old else None,
        "before_flow": words.flow_word(old.flow) if old else "not rated",
        "after_m3s": after,
        "after_pct": new["uncertainty_pct"],
        "after_flow": words.flow_word(new["flow"]),
        "change_pct": change,
        "before_rating_id": old.rating_id if old else None,
        "after_rating_id": new["rating_id"],
        "before_gauge_zero_id": old.gauge_zero_id if old else None,
        "after_gauge_zero_id": new["gauge_zero_id"],
        "stands": stands,
    }
