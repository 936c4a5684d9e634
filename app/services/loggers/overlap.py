"""How the readings of a file meet those that are held already."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from sqlmodel import Session, col, select

from app.hydraulics.base.arrays import Floats, Ints
from app.records.sensors import Logger, LoggerImport
from app.records.sites import Site, Structure
from app.services.loggers.reader.result import LoggerFile
from app.services.series import raw as raw_series


@dataclass(frozen=True)
class Conflict:
    """Two readings of one time: the one that counts and the other one."""

    at: datetime
    quantity: str
    held_m: float
    other_m: float
    held_file: str
    other_file: str


def quantities_of(file: LoggerFile, logger_quantity: str) -> list[tuple[str, Floats]]:
    """Return which column of a file becomes which series."""
    if logger_quantity != "head":
        return [(logger_quantity, file.head_m)]
    found = [("head", file.head_m)]
    if file.tailwater_m is not None:
        found.append(("tailwater", file.tailwater_m))
    return found


@dataclass(frozen=True)
class Overlap:
    """How the readings of a file meet those that are held; index arrays into the file."""

    new: Ints
    same: int
    differs: Ints
    held_m: Floats
    held_import: Ints


def overlap(
    session: Session, structure_id: int, quantity: str, t_s: Ints, value_m: Floats
) -> Overlap:
    """Compare a file's readings with the held series at the same times."""
    known = np.flatnonzero(np.isfinite(value_m))
    none = np.empty(0, dtype=np.int64)
    if known.size == 0:
        return Overlap(none, 0, none, np.empty(0), none)
    held = raw_series.raw_series(
        session, structure_id, quantity, int(t_s[known[0]]), int(t_s[known[-1]])
    )
    if held.t_s.size == 0:
        return Overlap(known, 0, none, np.empty(0), none)
    at = np.minimum(np.searchsorted(held.t_s, t_s[known]), held.t_s.size - 1)
    both = held.t_s[at] == t_s[known]
    other = both & (held.value_m[at] != value_m[known])
    return Overlap(
        known[~both],
        int(np.count_nonzero(both & ~other)),
        known[other],
        held.value_m[at[other]],
        held.import_id[at[other]],
    )


def import_names(session: Session, structure_id: int) -> dict[int, str]:
    rows = session.exec(
        select(LoggerImport).where(
            col(LoggerImport.logger_id).in_(
                select(Logger.id).where(Logger.structure_id == structure_id)
            )
        )
    )
    return {row.id or 0: row.name for row in rows}


def held_already(
    session: Session, sha256: str, site_id: int, logger: Logger | None
) -> LoggerImport | None:
    """Return the import that took in these very bytes, for this logger or at this site."""
    statement = select(LoggerImport).where(
        LoggerImport.sha256 == sha256, col(LoggerImport.undone_at).is_(None)
    )
    if logger is not None:
        statement = statement.where(LoggerImport.logger_id == logger.id)
    else:
        here = select(Logger.id).where(
            Logger.structure_id == Structure.id, Structure.site_id == site_id
        )
        statement = statement.where(col(LoggerImport.logger_id).in_(here))
    return session.exec(statement.order_by(col(LoggerImport.id))).first()


def held_elsewhere(session: Session, sha256: str) -> list[str]:
    """Say when another site holds these very bytes: it may be the wrong site's file."""
    names = session.exec(
        select(Site.name).where(
            LoggerImport.sha256 == sha256,
            col(LoggerImport.undone_at).is_(None),
            LoggerImport.logger_id == Logger.id,
            Logger.structure_id == Structure.id,
            Structure.site_id == Site.id,
        )
    ).all()
    if not names:
        return []
    return [f"the same file is held at {', '.join(sorted(set(names)))}: is this the right site?"]
