"""Lists of logger files: those taken in, those that phones sent and nobody took in, conflicts.

Public: imports(session, site_id), kept_logger_files(session, site_id), conflicts
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.records.entries import Entry
from app.records.files import KeptFile
from app.records.sensors import Logger, LoggerImport
from app.records.sites import Structure
from app.services import raw_series
from app.services.changes import names_of
from app.services.entries.links import what_stands
from app.services.logger_overlap import Conflict, import_names
from app.services.loggers import get_logger
from app.services.series_flow import QUANTITIES
from app.services.site_months import instant

LOGGER_FILE = "logger_file"


@dataclass(frozen=True)
class ImportLine:
    """A file that was taken in, and whether it was taken back."""

    id: int
    logger_id: int
    logger_name: str
    name: str
    sha256: str
    sentence: str
    rows: int
    from_at: datetime
    to_at: datetime
    conflicts: int
    problems: int
    imported_at: datetime
    imported_by: str
    undone_at: datetime | None
    undone_by: str
    undo_reason: str
    choices: dict[str, Any]


@dataclass(frozen=True)
class KeptLine:
    """A logger file that a phone sent and nobody has taken in yet."""

    sha256: str
    name: str
    size: int
    received_at: datetime
    by: str
    site_id: int | None
    structure_id: int | None
    entry_id: str | None
    serial: str
    clock_fast_s: float | None
    note: str


def imports(session: Session, site_id: int) -> list[ImportLine]:
    """Return the files taken in at a site, newest first."""
    names = names_of(session)
    found = session.exec(
        select(LoggerImport, Logger)
        .where(
            LoggerImport.logger_id == Logger.id,
            Logger.structure_id == Structure.id,
            Structure.site_id == site_id,
        )
        .order_by(col(LoggerImport.id).desc())
    )
    return [
        ImportLine(
            row.id or 0,
            row.logger_id,
            logger.name,
            row.name,
            row.sha256,
            row.sentence,
            row.rows,
            instant(row.from_s),
            instant(row.to_s),
            row.conflicts,
            row.problems,
            row.at,
            names.get(row.by_id, ""),
            row.undone_at,
            names.get(row.undone_by_id or 0, ""),
            row.undo_reason,
            dict(row.choices),
        )
        for row, logger in found
    ]


def kept_logger_files(session: Session, site_id: int | None = None) -> list[KeptLine]:
    """Return kept logger files that were never taken in; those of a site and those of none."""
    names = names_of(session)
    used = sa.select(col(LoggerImport.sha256))
    links = what_stands(session)
    told: dict[str, Entry] = {}
    for one in session.exec(
        select(Entry).where(Entry.kind == LOGGER_FILE).order_by(col(Entry.received_at))
    ):
        sha256 = str(one.body.get("sha256"))
        if links.stands(one.id) or sha256 not in told:
            told[sha256] = one
    rows = session.execute(
        sa.select(
            col(KeptFile.sent_sha256),
            col(KeptFile.name),
            col(KeptFile.size),
            col(KeptFile.received_at),
            col(KeptFile.by_id),
        )
        .where(col(KeptFile.kind) == LOGGER_FILE, col(KeptFile.sent_sha256).not_in(used))
        .order_by(col(KeptFile.received_at).desc())
    )
    lines = []
    for sha256, name, size, received_at, by_id in rows:
        entry = told.get(sha256)
        body: dict[str, Any] = entry.body if entry else {}
        if entry is not None and not links.stands(entry.id):
            continue  # taken back by who sent it; the bytes are kept
        if site_id is not None and entry is not None and entry.site_id != site_id:
            continue
        lines.append(
            KeptLine(
                sha256,
                body.get("name") or name,
                size,
                received_at,
                names.get(by_id, ""),
                entry.site_id if entry else None,
                entry.structure_id if entry else None,
                entry.id if entry else None,
                body.get("serial") or "",
                body.get("clock_fast_s"),
                body.get("note") or "",
            )
        )
    return lines


def conflicts(session: Session, logger_id: int, limit: int = 200) -> list[Conflict]:
    """Return the times at which a later file of a logger says something else than what counts."""
    logger = get_logger(session, logger_id)
    names = import_names(session, logger.structure_id)
    mine = set(
        session.exec(select(LoggerImport.id).where(LoggerImport.logger_id == logger_id)).all()
    )
    out: list[Conflict] = []
    for quantity in QUANTITIES:
        found = raw_series.doubles(session, logger.structure_id, quantity)
        for k in range(found.t_s.size):
            other = int(found.other_import[k])
            if other in mine and len(out) < limit:
                out.append(
                    Conflict(
                        instant(found.t_s[k]),
                        quantity,
                        float(found.held_m[k]),
                        float(found.other_m[k]),
                        names.get(int(found.held_import[k]), ""),
                        names.get(other, ""),
                    )
                )
    return out
