"""Rate a site again after a new rating or gauge zero: look first, then do it; old values stay."""

import hashlib
import json
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.audit import write_audit
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sites import Site
from app.services import series_store, words
from app.services.entries.links import what_stands
from app.services.rating import rated_rows
from app.services.sites import get_site
from app.services.tables import Column, Table

BLOCK = 500  # rows a statement: engines limit the parameters of one
SAME = 1e-9  # a share: nothing but the last digits differs

RERATE_COLUMNS = (
    Column("entry_id", "Reading"),
    Column("at", "Observed, UTC"),
    Column("before_m3s", "Before, m3/s"),
    Column("before_pct", "Uncertainty before, %"),
    Column("before_flow", "Flow word before"),
    Column("after_m3s", "After, m3/s"),
    Column("after_pct", "Uncertainty after, %"),
    Column("after_flow", "Flow word after"),
    Column("change_pct", "Change, %"),
    Column("before_rating_id", "Rating before"),
    Column("after_rating_id", "Rating after"),
    Column("before_gauge_zero_id", "Gauge zero before"),
    Column("after_gauge_zero_id", "Gauge zero after"),
    Column("stands", "Not replaced by a correction"),
)


@dataclass(frozen=True)
class Rerate:
    """What rating a site again changes: one row a reading whose value would be another.

    `token` stands for exactly these changes, so that what is done is what was looked at.
    """

    site: Site
    readings: int
    rows: list[dict[str, Any]]
    values: list[dict[str, Any]]
    old_ids: list[int]
    token: str

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

    def summary(self) -> dict[str, Any]:
        return {
            "readings": self.readings,
            "changed": len(self.rows),
            "compared": len(self.compared),
            "mean_change_pct": self.mean_pct,
            "largest_change_pct": self.largest_pct,
            "other_flow_word": self.other_word,
        }


def look(session: Session, site_id: int, now: datetime) -> Rerate:
    """Return what rating a site again would change; writes nothing."""
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
    rows, values, old_ids = [], [], []
    for entry in readings:
        new, old = rated[entry.id], held.get(entry.id)
        if old is not None and same(old, new):
            continue
        if old is not None and old.id is not None:
            old_ids.append(old.id)
        values.append(new)
        rows.append(compare(entry, old, new, links.stands(entry.id)))
    return Rerate(site, len(readings), rows, values, old_ids, token_of(values, old_ids))


NUMBERS = (
    "head_m",
    "head_uncertainty_m",
    "tailwater_m",
    "discharge_m3s",
    "uncertainty_pct",
    "submergence_ratio",
)
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


def token_of(values: Sequence[dict[str, Any]], old_ids: Sequence[int]) -> str:
    parts = [[v["entry_id"], *(v[key] for key in (*NUMBERS, *FACTS))] for v in values]
    return hashlib.sha256(json.dumps([parts, list(old_ids)]).encode()).hexdigest()[:32]


def rerate(
    session: Session, site_id: int, token: str, reason: str, now: datetime, by_id: int | None
) -> Rerate:
    """Put the new values in place in the caller's transaction; the old ones stay, not current.

    Raises
    ------
    BadInput
        When no reason is given, or readings or ratings changed since they were looked at.
    """
    reason = reason.strip()[:2000]
    if not reason:
        raise BadInput("reason", "", "this is needed", "Say why the site is rated again.")
    if session.get_bind().dialect.name == "postgresql":  # SQLite has one writer in any case
        session.execute(sa.select(col(Site.id)).where(col(Site.id) == site_id).with_for_update())
    found = look(session, site_id, now)
    if found.token != token:
        raise BadInput(
            "preview",
            "",
            "readings or ratings changed since this was looked at",
            "Look at the changes below as they are now, then do it again.",
        )
    for start in range(0, len(found.old_ids), BLOCK):
        session.execute(
            sa.update(FlowValue)
            .where(col(FlowValue.id).in_(found.old_ids[start : start + BLOCK]))
            .values(current=False)
            .execution_options(synchronize_session=False)
        )
    if found.values:
        session.execute(sa.insert(FlowValue), found.values)
    series_store.rebuild_site(session, site_id)
    write_audit(
        session, by_id, "rated again", "site", site_id, after=found.summary(), reason=reason
    )
    return found


def rerate_table(found: Rerate) -> Table:
    return Table(f"rate-again-{found.site.code}", RERATE_COLUMNS, found.rows)
