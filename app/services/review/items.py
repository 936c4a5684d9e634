"""The items of the review queue, gathered from what the record holds.

Keys: fault:, drowned:, offer:, differs:, stale: (of a structure); refused:, conflict:, file: (of
the office). Nothing is decided here.
"""

import json
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.hydraulics.base.findings import Fault
from app.hydraulics.series.layers import Shape
from app.language import forms, words
from app.records.entries import RefusedEntry
from app.records.sensors import FoundFault, Logger, LoggerImport
from app.records.sites import Site, Structure
from app.services.corrections.offers import offers
from app.services.corrections.visits import checks, seen_by
from app.services.days import staleness
from app.services.days.stale import StaleMonths, StaleReadings, grouped
from app.services.loggers.waiting import kept_logger_files
from app.services.readings.observed import SENSOR_DIFFERENCE_M
from app.services.series import faults as series_faults
from app.services.series.flow import inputs_of
from app.services.series.months import instant, month_begins_s

MARKED = (Fault.SPIKE, Fault.STUCK, Fault.FLAT, Fault.RANGE, Fault.NOISE)


@dataclass(frozen=True)
class Comment:
    """One answer to an item: who, when, what."""

    by: str
    at: datetime
    action: str
    text: str


@dataclass(frozen=True, kw_only=True)
class QueueItem:
    """One thing that needs a person; `revision` goes back with the decision."""

    key: str
    kind: str
    title: str
    words: str
    site_id: int | None
    site_code: str
    structure_id: int | None
    quantity: str
    from_s: int
    to_s: int
    size: float | None = None
    unit: str = ""
    form: dict[str, str] | None = None
    alternatives: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    link: dict[str, Any] = field(default_factory=dict)
    state: str = "open"
    revision: int = 0
    last_by: str = ""
    last_at: datetime | None = None
    comments: list[Comment] = field(default_factory=list)

    @property
    def from_at(self) -> datetime:
        return instant(self.from_s)

    @property
    def to_at(self) -> datetime:
        return instant(self.to_s)


def items_of_structure(session: Session, site: Site, structure: Structure) -> list[QueueItem]:
    """Return the items of one structure's long record."""
    assert structure.id is not None
    inputs = inputs_of(session, structure.id)
    found = series_faults.found(session, inputs)
    items = [_fault(site, row) for row in found]
    seen = seen_by(session, inputs)
    for offer in offers(session, structure.id, seen):
        if offer.form is None:
            continue
        what = "weed and the like" if offer.kind == "weed" else "the sensor against the staff"
        items.append(
            QueueItem(
                key=f"offer:{offer.key}",
                kind="offer",
                title=f"correction offered: {offer.shape}, {what}",
                words=offer.why,
                site_id=site.id,
                site_code=site.code,
                structure_id=structure.id,
                quantity="head",
                from_s=offer.from_s,
                to_s=offer.to_s,
                size=offer.amount_end_m,
                unit="m",
                form=offer.form,
                alternatives=offer.alternatives,
                state="accepted" if offer.state == "accepted" else "open",
            )
        )
    for check in checks(session, structure.id, seen):
        left = check.left_offset_m
        if left is not None and abs(left) > SENSOR_DIFFERENCE_M:
            at = int(check.at.timestamp())
            items.append(
                QueueItem(
                    key=f"differs:{check.entry_id}",
                    kind="differs",
                    title="a reading differs from the sensor",
                    words=f"staff minus sensor is {words.millimetres(left)} after the corrections "
                    f"({check.occasion}): {check.action}",
                    site_id=site.id,
                    site_code=site.code,
                    structure_id=structure.id,
                    quantity="head",
                    from_s=at,
                    to_s=at,
                    size=left,
                    unit="m",
                    link={"entry_id": check.entry_id},
                )
            )
    items += _stale_items(session, site, structure)
    return items


def _stale_items(session: Session, site: Site, structure: Structure) -> list[QueueItem]:
    """Return what of a structure no longer follows what is in force, with the way to mend it."""
    assert site.id is not None
    assert structure.id is not None
    offset = site.utc_offset_min
    found: list[tuple[StaleMonths | StaleReadings, int, int]] = [
        (x, month_begins_s(x.first, offset), month_begins_s(x.last + 1, offset) - 1)
        for x in grouped(staleness.stale_months(session, structure.id))
    ]
    for readings in staleness.stale_readings(session, site.id, structure.id):
        first, last = (int(t.timestamp()) for t in (readings.first_at, readings.last_at))
        found.append((readings, first, last))
    return [
        QueueItem(
            key=f"stale:{structure.id}:{row.mark}",
            kind="stale",
            title=row.title,
            words=f"{row.words}; {row.remedy}",
            site_id=site.id,
            site_code=site.code,
            structure_id=structure.id,
            quantity="head",
            from_s=a,
            to_s=b,
            link={"month": row.of, "act": row.act(site.id), "approved": row.approved},
        )
        for row, a, b in found
    ]


def _fault(site: Site, row: FoundFault) -> QueueItem:
    kind = "drowned" if row.kind == series_faults.DROWNED else "fault"
    form = None
    if kind == "fault" and row.kind in MARKED:
        form = {
            "shape": str(Shape.SPIKE),
            "quantity": row.quantity,
            "from": forms.local_text(instant(row.from_s), site.utc_offset_min),
            "to": forms.local_text(instant(row.to_s), site.utc_offset_min),
            "reason": f"{row.kind}: {row.words}",
            "offer_key": f"fault:{row.structure_id}:{row.quantity}:{row.kind}:{row.from_s}",
        }
    return QueueItem(
        key=f"{kind}:{row.structure_id}:{row.quantity}:{row.kind}:{row.from_s}",
        kind=kind,
        title=row.kind if row.quantity == "head" else f"{row.kind} (tailwater)",
        words=row.words,
        site_id=site.id,
        site_code=site.code,
        structure_id=row.structure_id,
        quantity=row.quantity,
        from_s=row.from_s,
        to_s=row.to_s,
        size=row.size,
        unit=row.unit,
        form=form,
    )


def items_of_office(session: Session, site_id: int | None) -> list[QueueItem]:
    """Return refused and doubled records and files that wait."""
    sites = {site.id: site for site in session.exec(select(Site))}
    items = [
        *_refused(session, sites),
        *_doubled(session, sites),
        *_files(session, sites),
    ]
    return [item for item in items if site_id is None or item.site_id in (site_id, None)]


def _code(sites: dict[int | None, Site], site_id: int | None) -> str:
    return sites[site_id].code if site_id in sites else ""


def _refused(session: Session, sites: dict[int | None, Site]) -> list[QueueItem]:
    items = []
    for row in session.exec(select(RefusedEntry).where(~col(RefusedEntry.settled))):
        try:
            site_id = json.loads(row.content).get("site_id")
        except (ValueError, AttributeError):
            site_id = None
        site_id = site_id if isinstance(site_id, int) and site_id in sites else None
        at = int(row.received_at.timestamp())
        items.append(
            QueueItem(
                key=f"refused:{row.sha256}",
                kind="refused",
                title="an entry of a phone was refused",
                words=f"{row.field} {row.value[:60]}: {row.rule}. {row.remedy}",
                site_id=site_id,
                site_code=_code(sites, site_id),
                structure_id=None,
                quantity="",
                from_s=at,
                to_s=at,
                link={"refused_sha256": row.sha256, "entry_id": row.entry_id},
            )
        )
    return items


def _doubled(session: Session, sites: dict[int | None, Site]) -> list[QueueItem]:
    rows = session.exec(
        select(LoggerImport, Logger, Structure)
        .where(
            LoggerImport.logger_id == Logger.id,
            Logger.structure_id == Structure.id,
            col(LoggerImport.undone_at).is_(None),
            LoggerImport.conflicts > 0,
        )
        .order_by(col(LoggerImport.id))
    )
    return [
        QueueItem(
            key=f"conflict:{row.id}",
            kind="conflict",
            title="a file says otherwise than the record",
            words=f"{row.name}: {row.conflicts} readings differ from those held; "
            "the earlier ones count. Take the earlier file back if this one is right",
            site_id=structure.site_id,
            site_code=_code(sites, structure.site_id),
            structure_id=structure.id,
            quantity=logger.quantity,
            from_s=row.from_s,
            to_s=row.to_s,
            size=float(row.conflicts),
            unit="readings",
            link={"import_id": row.id, "logger_id": logger.id},
        )
        for row, logger, structure in rows
    ]


def _files(session: Session, sites: dict[int | None, Site]) -> list[QueueItem]:
    items = []
    seen: set[str] = set()
    for line in sorted(kept_logger_files(session), key=lambda x: (x.sha256, x.site_id or 0)):
        at = int(line.received_at.timestamp())
        again = f":{line.site_id}" if line.sha256 in seen else ""  # it waits at two sites
        seen.add(line.sha256)
        items.append(
            QueueItem(
                key=f"file:{line.sha256}{again}",
                kind="file",
                title="a logger file waits to be imported",
                words=f"{line.name}, {line.size} bytes, sent by {line.by}",
                site_id=line.site_id,
                site_code=_code(sites, line.site_id),
                structure_id=None,
                quantity="",
                from_s=at,
                to_s=at,
                link={"sha256": line.sha256},
            )
        )
    return items
