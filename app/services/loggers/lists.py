"""Lists of logger files that were taken in, and of the readings on which two of them differ."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.records.sensors import Logger, LoggerImport
from app.records.sites import Structure
from app.services.loggers.overlap import Conflict, import_names
from app.services.loggers.register import get_logger
from app.services.series import raw as raw_series
from app.services.series.flow import QUANTITIES
from app.services.series.months import instant
from app.services.sites.changes import names_of


@dataclass(frozen=True, kw_only=True)
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
            id=row.id or 0,
            logger_id=row.logger_id,
            logger_name=logger.name,
            name=row.name,
            sha256=row.sha256,
            sentence=row.sentence,
            rows=row.rows,
            from_at=instant(row.from_s),
            to_at=instant(row.to_s),
            conflicts=row.conflicts,
            problems=row.problems,
            imported_at=row.at,
            imported_by=names.get(row.by_id, ""),
            undone_at=row.undone_at,
            undone_by=names.get(row.undone_by_id or 0, ""),
            undo_reason=row.undo_reason,
            choices=dict(row.choices),
        )
        for row, logger in found
    ]


def conflicts(session: Session, logger_id: int, limit: int = 200, skip: int = 0) -> list[Conflict]:
    """Return the times at which a later file of a logger says something else than what counts.

    The first `skip` of them are passed over, so that a long list can be read in pages.
    """
    logger = get_logger(session, logger_id)
    names = import_names(session, logger.structure_id)
    mine = set(
        session.exec(select(LoggerImport.id).where(LoggerImport.logger_id == logger_id)).all()
    )
    out: list[Conflict] = []
    met = 0
    for quantity in QUANTITIES:
        found = raw_series.doubles(session, logger.structure_id, quantity)
        for k in range(found.t_s.size):
            other = int(found.other_import[k])
            met += other in mine
            if other in mine and met > skip and len(out) < limit:
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
