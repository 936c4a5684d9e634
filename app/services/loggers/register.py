"""The loggers of a site: what they are, how their figures stand, what they have sent so far."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.records.audit import write_audit
from app.records.sensors import Logger, LoggerBlock, LoggerImport
from app.records.sites import Structure
from app.services.series.flow import QUANTITIES
from app.services.series.months import instant
from app.services.sites.structures import get_structure

READS = {
    "staff": "as the staff gauge, so the gauge zero in force is added",
    "crest": "over the crest already",
}


@dataclass(frozen=True, kw_only=True)
class LoggerLine:
    """A logger with what it has sent."""

    id: int
    structure_id: int
    structure_name: str
    name: str
    serial: str
    quantity: str
    reads: str
    reads_words: str
    interval_s: int | None
    points: int
    files: int
    first_at: datetime | None
    last_at: datetime | None
    remembered: dict[str, Any]


def loggers(session: Session, site_id: int) -> list[LoggerLine]:
    """Return the loggers of a site, in the order they were added."""
    found = session.exec(
        select(Logger, Structure)
        .where(Logger.structure_id == Structure.id, Structure.site_id == site_id)
        .order_by(col(Logger.id))
    ).all()
    return lines_of(session, found)


def line_of(session: Session, logger: Logger) -> LoggerLine:
    return lines_of(session, [(logger, get_structure(session, logger.structure_id))])[0]


def lines_of(session: Session, found: Sequence[tuple[Logger, Structure]]) -> list[LoggerLine]:
    ids = [logger.id for logger, _ in found]
    sent = {
        row[0]: row
        for row in session.execute(
            sa.select(
                col(LoggerBlock.logger_id),
                sa.func.sum(col(LoggerBlock.count)),
                sa.func.min(col(LoggerBlock.from_s)),
                sa.func.max(col(LoggerBlock.to_s)),
            )
            .where(col(LoggerBlock.logger_id).in_(ids))
            .group_by(col(LoggerBlock.logger_id))
        )
    }
    files: dict[int, list[int | None]] = {}
    for logger_id, step in session.execute(
        sa.select(col(LoggerImport.logger_id), col(LoggerImport.step_s))
        .where(col(LoggerImport.logger_id).in_(ids), col(LoggerImport.undone_at).is_(None))
        .order_by(col(LoggerImport.id))
    ):
        files.setdefault(logger_id, []).append(step)
    lines = []
    for logger, structure in found:
        assert logger.id is not None
        _, points, first, last = sent.get(logger.id, (0, 0, None, None))
        steps = files.get(logger.id, [])
        lines.append(
            LoggerLine(
                id=logger.id,
                structure_id=logger.structure_id,
                structure_name=structure.name,
                name=logger.name,
                serial=logger.serial,
                quantity=logger.quantity,
                reads=logger.reads,
                reads_words=READS[logger.reads],
                interval_s=steps[-1] if steps else None,
                points=int(points or 0),
                files=len(steps),
                first_at=None if first is None else instant(first),
                last_at=None if last is None else instant(last),
                remembered=dict(logger.remembered),
            )
        )
    return lines


def add_logger(
    session: Session,
    structure_id: int,
    *,
    name: str,
    serial: str = "",
    quantity: str = "head",
    reads: str = "staff",
    by_id: int | None,
) -> Logger:
    """Add a logger to a structure; raises BadInput or NotFound."""
    get_structure(session, structure_id)
    name, serial = name.strip(), serial.strip()
    for field, value, most, needed in (("name", name, 80, True), ("serial", serial, 40, False)):
        if (needed and not value) or len(value) > most or "\0" in value:
            raise BadInput(field, value[:40], f"1 to {most} characters", "Give a short text.")
    if quantity not in QUANTITIES:
        raise BadInput("quantity", quantity, "a logger measures head or tailwater", "Choose one.")
    if reads not in READS:
        raise BadInput("reads", reads, "figures stand over staff or crest", "Choose one.")
    other = by_serial(session, serial) if serial else None
    if other is not None and other.quantity == quantity and other.structure_id == structure_id:
        raise BadInput("serial", serial, f"logger {other.name} has it", "Choose that logger.")
    logger = Logger(
        structure_id=structure_id,
        name=name,
        serial=serial,
        quantity=quantity,
        reads=reads,
        by_id=by_id,
    )
    session.add(logger)
    session.flush()
    after = {"name": name, "serial": serial, "quantity": quantity, "reads": reads}
    write_audit(session, by_id, "logger added", "structure", structure_id, after=after)
    return logger


def get_logger(session: Session, logger_id: int, site_id: int | None = None) -> Logger:
    """Return a logger, of a site where one is named; raises NotFound."""
    logger = session.get(Logger, logger_id)
    if logger is not None and site_id is not None:
        structure = session.get(Structure, logger.structure_id)
        logger = logger if structure is not None and structure.site_id == site_id else None
    if logger is None:
        raise NotFound(f"logger {logger_id}")
    return logger


def by_serial(session: Session, serial: str) -> Logger | None:
    """Return the newest logger with a serial number."""
    return session.exec(
        select(Logger).where(Logger.serial == serial).order_by(col(Logger.id).desc())
    ).first()
