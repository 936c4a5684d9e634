"""The items of the review queue, gathered from what is stored.

Keys: refused:, conflict:, file: (of the office); those of a structure's long record are made in
`of_record`. Nothing is decided here.
"""

import hashlib
import json
import re
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.language.words import counted, duration
from app.records.entries import RefusedEntry
from app.records.sensors import Logger, LoggerImport
from app.records.sites import Site, Structure
from app.services.corrections import decisions
from app.services.loggers.waiting import kept_logger_files
from app.services.series.months import instant

OF_THE_RECORD = ("fault", "drowned", "differs", "stale")
SHARE_LOST = re.compile(r"(\d+) % of the readings")
# As people read them: of one, of several.
KINDS: dict[str, tuple[str, str]] = {
    "fault": ("fault of the series", "faults of the series"),
    "drowned": ("drowned stretch", "drowned stretches"),
    "offer": ("layer offered", "layers offered"),
    "differs": ("difference of staff and sensor", "differences of staff and sensor"),
    "conflict": ("file that disagrees", "files that disagree"),
    "file": ("file to import", "files to import"),
    "refused": ("refused entry", "refused entries"),
    "rival": ("rival correction", "rival corrections"),
    "link": ("correction without effect", "corrections without effect"),
    "zero": ("zero without a run", "zeros without a run"),
    "ahead": ("time ahead", "times ahead"),
    "stale": ("line out of date", "lines out of date"),
}


@dataclass(frozen=True)
class Comment:
    """One answer to an item: who, when, what."""

    by: str
    at: datetime
    action: str
    text: str

    @property
    def did(self) -> str:
        """Return what was done, as it stands after a name."""
        return decisions.SAID[self.action]


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
    def mark(self) -> str:
        """Return a short mark of the key, for addresses and the ids of a page."""
        return mark_of(self.key)

    @property
    def sentence(self) -> str:
        """Return what is said of it as a sentence; the lists keep the bare words."""
        text = said_of_the_series(self) if self.kind in ("fault", "drowned") else self.words
        if self.kind not in ("file", "conflict"):  # which begin with the name of the file
            text = text[:1].upper() + text[1:]
        return text if text.endswith((".", "?", "!")) else f"{text}."

    @property
    def accepting(self) -> str:
        """Return what accepting it does, as its button says."""
        if self.kind == "offer":
            return "Accept the correction"
        return "Accept: it stands" if self.kind in OF_THE_RECORD else "Accept: seen"

    @property
    def sets_aside(self) -> bool:
        """Tell whether it carries a correction that accepting does not lay by itself."""
        return bool(self.form) and self.kind != "offer"

    @property
    def from_at(self) -> datetime:
        return instant(self.from_s)

    @property
    def to_at(self) -> datetime:
        return instant(self.to_s)


def mark_of(key: str) -> str:
    """Return the mark of an item's key: the same key has the same mark everywhere."""
    return hashlib.sha256(key.encode()).hexdigest()[:10]


def said_of_the_series(item: QueueItem) -> str:
    """Return what was found in a series, of which quantity it speaks included."""
    what, words = item.quantity or "head", item.words
    if item.kind == "drowned":
        lasted = duration(item.to_s - item.from_s)
        return f"the tail drowned the structure for {lasted}{_lost(words)}"
    if words.startswith(("stands ", "lies ")):
        return f"the {what} {words}"
    return f"the {words}" if words.startswith("head ") else words


def _lost(words: str) -> str:
    found = SHARE_LOST.search(words)
    if found is None:
        return ""
    of = "of its first month " if "goes on" in words else ""
    if found[1] in ("0", "100"):
        return f"; {'every' if found[1] == '0' else 'no'} reading {of}can be determined"
    return f"; {found[1]} % of the readings {of}cannot be determined"


def items_of_office(session: Session, site_id: int | None) -> list[QueueItem]:
    """Return refused and doubled entries and files that wait."""
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
            words=f"{row.name}: "
            f"{counted(row.conflicts, 'reading differs', 'readings differ')} "
            "from those held; the earlier ones count. "
            "Take the earlier file back if this one is right",
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
                words=f"{line.name}, {counted(line.size, 'byte')}, sent by {line.by}",
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
