"""Which logger wrote a file, and the file read with what is remembered of that logger.

Public: Choice, choose(session, site_id, content, logger_id, answers, progress)
"""

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.records.sensors import Logger
from app.records.sites import Rating, Structure
from app.services.logger_file import read_logger_file
from app.services.logger_reader.columns import HEAD_SOURCES, Meaning
from app.services.logger_reader.result import LoggerFile
from app.services.logger_reader.table import find_table
from app.services.logger_reader.text import encoding_of, sample_lines
from app.services.loggers import by_serial, get_logger, loggers
from app.services.rating import device_of, histories
from app.services.sites import get_site

HEAD_LINES = 120  # the serial number stands above the readings


@dataclass(frozen=True)
class Choice:
    """A file as it was read, the logger it belongs to (None: not known), and what is odd."""

    file: LoggerFile
    logger: Logger | None
    suggested_reads: str
    warnings: list[str]


def serial_of(content: bytes) -> str | None:
    """Return the serial number in the head of a file, without reading all of it."""
    try:
        raw = io.BytesIO(content)
        encoding = encoding_of(raw)
        head, _ = sample_lines(raw, encoding)
        serial: str | None = find_table(head[:HEAD_LINES], [], {}).serial
        return serial
    except BadInput:
        return None  # the reader will say what is wrong


def choose(
    session: Session,
    site_id: int,
    content: bytes,
    logger_id: int | None,
    answers: Mapping[str, Any] | None,
    progress: Callable[[int, int], None] | None,
) -> Choice:
    """Find the logger and read the file with its remembered answers under the given ones.

    Raises
    ------
    BadInput
        When no reading can be taken from the file, or the logger is not at the site.
    """
    site = get_site(session, site_id)
    warnings: list[str] = []
    logger = _logger(session, site_id, content, logger_id, warnings)
    given = dict(answers or {})
    remembered = dict(logger.remembered) if logger else {}
    file = None
    if remembered:
        try:
            file = read_logger_file(
                content,
                utc_offset_min=site.utc_offset_min,
                answers={**remembered, **given},
                progress=progress,
            )
        except BadInput:
            warnings.append("what was remembered of this logger does not fit this file")
    if file is None:
        file = read_logger_file(
            content, utc_offset_min=site.utc_offset_min, answers=given, progress=progress
        )
    source = next(c.meaning for m in HEAD_SOURCES for c in file.layout.columns if c.meaning is m)
    reads = "staff" if source is Meaning.HEAD else "crest"
    if logger is not None:
        if logger.reads == "staff" and source is not Meaning.HEAD:
            warnings.append(
                "the heights of the sensor are given over the crest, yet this logger is said to "
                "read as the staff: the gauge zero would be added twice"
            )
        warnings += _odd_heads(session, logger, file)
    return Choice(file, logger, reads, warnings)


def _logger(
    session: Session, site_id: int, content: bytes, logger_id: int | None, warnings: list[str]
) -> Logger | None:
    serial = serial_of(content)
    here = {line.id: line for line in loggers(session, site_id)}
    if logger_id is not None:
        logger = get_logger(session, logger_id)
        if logger_id not in here:
            raise BadInput("logger", logger_id, "is not at this site", "Choose one of the site's.")
        if serial and logger.serial and serial != logger.serial:
            warnings.append(f"the file names serial {serial}, this logger has {logger.serial}")
        return logger
    if serial:
        known = by_serial(session, serial)
        if known is not None and known.id in here:
            return known
        if known is not None:
            structure = session.get(Structure, known.structure_id)
            place = get_site(session, structure.site_id).name if structure else "another site"
            warnings.append(f"the logger with serial {serial} is at {place}: is this its file?")
        return None
    if len(here) == 1:
        line = next(iter(here.values()))
        if not line.serial:
            return get_logger(session, line.id)
        warnings.append(f"the file names no serial; taken as of {line.name}, the only one here")
        return get_logger(session, line.id)
    return None


def _odd_heads(session: Session, logger: Logger, file: LoggerFile) -> list[str]:
    """Say when the heads do not look like this structure's."""
    if logger.quantity != "head":
        return []
    ratings = histories(session, Rating, [logger.structure_id])[logger.structure_id]
    known = file.head_m[np.isfinite(file.head_m)]
    if not ratings or known.size == 0:
        return []
    try:
        highest = device_of(max(ratings, key=lambda r: r.valid_from)).head_max_m
    except BadInput:
        return []
    middle = float(np.median(known))
    if middle > 1.5 * highest or middle < -0.5 * highest:
        return [
            f"half of the heads lie beyond {middle:.3f} m, the structure measures up to "
            f"{highest:.3f} m: check unit, heights and site"
        ]
    return []
