"""Rate a site again after anything a discharge rests on was changed: look first, then one act.

The act covers the head readings and the long record alike: every reading gets the value that is
in force now (the earlier one stays, no longer current), and the record of every structure with a
stale month is made again but for its approved months, which are listed. What is stale is asked of
`staleness` and nobody else. A second act finds nothing to do.
"""

import hashlib
import json
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col

from app.errors import BadInput
from app.language.progress import Progress
from app.records.audit import write_audit
from app.records.flows import FlowValue
from app.records.sites import Site
from app.services.days import rebuild as series_store
from app.services.days import staleness
from app.services.days.stale import SiteStale, StaleMonth
from app.services.rerating.changes import RecordChange, VolumeChange
from app.services.rerating.readings import FACTS, NUMBERS, ReadingChanges, reading_changes
from app.services.rerating.record import compare
from app.services.rerating.snapshot import Snapshot, snapshot
from app.services.rerating.trial import on_copies
from app.services.series.months import month_begins_s

BLOCK = 500  # rows a statement: engines limit the parameters of one


@dataclass(frozen=True)
class HeldMonth(VolumeChange):
    """An approved month that is left as it is, and what it would hold if it were opened again."""

    stale: StaleMonth
    structure: str

    @property
    def month(self) -> str:
        return self.stale.month


@dataclass(frozen=True)
class Rerate(ReadingChanges):
    """What rating a site again changes, of its readings and of its long records.

    `token` stands for exactly these changes, so that what is done is what was looked at.
    """

    stale: SiteStale
    token: str
    records: list[RecordChange] = field(default_factory=list)
    held: list[HeldMonth] = field(default_factory=list)

    @property
    def does_anything(self) -> bool:
        return bool(self.rows or self.stale.act_helps)

    def summary(self) -> dict[str, Any]:
        """Return all counts and changes."""
        return {
            **self.reading_summary(),
            "confirmed": len(self.confirmed),
            "why": self.stale.why,
            "records": [record.summary() for record in self.records],
            "approved_months_left": [f"{x.structure} {x.month}" for x in self.held],
        }

    def facts(self) -> dict[str, Any]:
        """Return what was done in plain figures and words, for the audit trail."""
        said = {**self.reading_summary(), "why": "; ".join(self.stale.why)}
        said |= {f"record of {record.name}": record.words for record in self.records}
        if self.held:
            said["approved months left"] = ", ".join(f"{x.structure} {x.month}" for x in self.held)
        return said


def look(session: Session, site_id: int, now: datetime) -> Rerate:
    """Return what rating a site again would change; writes nothing.

    The long record is made again on copies that are thrown away, by the code of the act.
    """
    found = _plan(session, site_id, now)
    months = found.stale.months
    if not months:
        return found
    ids = sorted({x.structure_id for x in months})
    with on_copies(session, ids):
        before = {key: snapshot(session, key) for key in ids}
        _make_again(session, found.stale, None)
        after = {key: snapshot(session, key) for key in ids}
        records = [compare(before[key], after[key]) for key in ids]
        held = _held(session, found.stale, after)
    return _with(found, records, held)


def rerate(
    session: Session,
    site_id: int,
    token: str,
    reason: str,
    *,
    now: datetime,
    by_id: int | None,
    progress: Progress | None = None,
) -> Rerate:
    """Put the new values in place in the caller's transaction; old values stay, not current.

    What `progress` raises stops the act; the caller then rolls back and nothing was changed.

    Raises
    ------
    BadInput
        When no reason is given, or something changed since this was looked at.
    """
    reason = reason.strip()[:2000]
    if not reason:
        raise BadInput("reason", "", "this is needed", "Say why the site is rated again.")
    if session.get_bind().dialect.name == "postgresql":  # SQLite has one writer in any case
        session.execute(sa.select(col(Site.id)).where(col(Site.id) == site_id).with_for_update())
    found = _plan(session, site_id, now)
    if found.token != token:
        raise BadInput(
            "preview",
            "",
            "readings, ratings or corrections changed since this was looked at",
            "Look at the changes below as they are now, then do it again.",
        )
    if not found.does_anything:
        return found
    ids = sorted({x.structure_id for x in found.stale.waiting})
    before = {key: snapshot(session, key) for key in ids}
    _write_readings(session, found)
    _make_again(session, found.stale, progress)
    records = [compare(before[key], snapshot(session, key)) for key in ids]
    held = [
        HeldMonth(None, None, x, found.stale.structures[x.structure_id]) for x in found.stale.held
    ]
    done = _with(found, records, held)
    write_audit(session, by_id, "rated again", "site", site_id, after=done.facts(), reason=reason)
    return done


def _plan(session: Session, site_id: int, now: datetime) -> Rerate:
    """Return what there is to do, the long record not yet worked out."""
    readings = reading_changes(session, site_id, now)
    stale = staleness.of_site(session, site_id)
    values = [[v["entry_id"], *(v[key] for key in (*NUMBERS, *FACTS))] for v in readings.values]
    months = [[x.structure_id, x.number, x.state, x.now] for x in stale.months]
    confirmed = [list(row.values()) for row in readings.confirmed]
    text = json.dumps([values, readings.old_ids, confirmed, months])
    token = hashlib.sha256(text.encode()).hexdigest()[:32]
    return Rerate(**vars(readings), stale=stale, token=token)


def _with(found: Rerate, records: list[RecordChange], held: list[HeldMonth]) -> Rerate:
    return Rerate(**{**vars(found), "records": records, "held": held})


def _write_readings(session: Session, found: Rerate) -> None:
    for start in range(0, len(found.old_ids), BLOCK):
        session.execute(
            sa.update(FlowValue)
            .where(col(FlowValue.id).in_(found.old_ids[start : start + BLOCK]))
            .values(current=False)
            .execution_options(synchronize_session=False)
        )
    if found.values:
        session.execute(sa.insert(FlowValue), found.values)
    if found.confirmed:
        table: sa.Table = FlowValue.__table__  # type: ignore[attr-defined]
        cited: dict[str, Any] = {
            key: sa.bindparam(key) for key in found.confirmed[0] if key != "value_id"
        }
        statement = table.update().where(table.c.id == sa.bindparam("value_id")).values(cited)
        session.connection().execute(statement, found.confirmed)


def _make_again(session: Session, stale: SiteStale, progress: Progress | None) -> None:
    """Make the whole record of every structure with a stale month again, approved months not."""
    ids = sorted({x.structure_id for x in stale.waiting})
    total = series_store.month_count(session, ids)
    done = 0

    def report(months: int) -> None:
        nonlocal done
        done += months
        if progress is not None:
            progress(min(done, total), total)

    for structure_id in ids:
        series_store.rebuild(session, structure_id, progress=report)


def _held(session: Session, stale: SiteStale, after: dict[int, Snapshot]) -> list[HeldMonth]:
    """Return the approved months with what they would hold; on copies only."""
    offset = stale.site.utc_offset_min
    opened = {}
    for key in {x.structure_id for x in stale.held}:
        numbers = [x.number for x in stale.held if x.structure_id == key]
        a, b = month_begins_s(min(numbers), offset), month_begins_s(max(numbers) + 1, offset)
        series_store.rebuild(session, key, a, b - 1, approved_too=True)
        opened[key] = snapshot(session, key)
    return [
        HeldMonth(
            _month_volume(after[x.structure_id], x.month),
            _month_volume(opened[x.structure_id], x.month),
            x,
            stale.structures[x.structure_id],
        )
        for x in stale.held
    ]


def _month_volume(record: Snapshot, month: str) -> float | None:
    volume: float | None = record.months.get(month, {}).get("volume_m3")
    return volume
