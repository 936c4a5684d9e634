"""Which logger wrote a file, and the file read with what is remembered of that logger."""

import io
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.language.progress import Progress
from app.records.sensors import Logger
from app.records.sites import Rating, Structure
from app.services.loggers.read import read_logger_file
from app.services.loggers.reader.cells.dates import STANDARD
from app.services.loggers.reader.cells.text import encoding_of, sample_lines
from app.services.loggers.reader.columns import HEAD_SOURCES, Meaning
from app.services.loggers.reader.result import LoggerFile
from app.services.loggers.reader.table import find_table
from app.services.loggers.register import by_serial, get_logger, loggers
from app.services.sites.dated import device_of, histories
from app.services.sites.register import get_site

HEAD_LINES = 120  # the serial number stands above the readings


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A file as it was read, the logger it belongs to (None: not known), and what is odd.

    `told` are the answers it was read with: what was `given` now over what was `remembered`.
    """

    file: LoggerFile
    logger: Logger | None
    suggested_reads: str
    warnings: list[str]
    given: dict[str, Any]
    told: dict[str, Any]
    remembered: dict[str, Any]
    how_known: str

    def to_remember(self) -> dict[str, Any]:
        """Return the choices to read this logger's next file by.

        The site's standard time is only remembered where somebody said so, because it would keep
        a later file from asking about an hour that is repeated or missing.
        """
        kept = dict(self.file.choices)
        if kept.get("time_zone") == STANDARD and "time_zone" not in self.told:
            del kept["time_zone"]
        return kept


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
    progress: Progress | None,
    *,
    new: bool = False,
    said_serial: str = "",
) -> Choice:
    """Find the logger and read the file with its remembered answers under the given ones.

    `new` says that it is a logger which is not known yet, so nothing is remembered of it;
    `said_serial` is the number somebody wrote down beside a file that names none.

    Raises
    ------
    BadInput
        When no reading can be taken from the file, or the logger is not at the site.
    """
    site = get_site(session, site_id)
    warnings: list[str] = []
    logger, how_known = _logger(
        session, site_id, content, logger_id, warnings, new=new, said_serial=said_serial
    )
    given = dict(answers or {})
    remembered = dict(logger.remembered) if logger else {}
    file = None
    if remembered:
        try:
            file = read_logger_file(
                content,
                utc_offset_min=site.utc_offset_min,
                answers=over(remembered, given),
                progress=progress,
            )
        except BadInput:
            warnings.append("what was remembered of this logger does not fit this file")
            remembered = {}
    if file is None:
        file = read_logger_file(
            content, utc_offset_min=site.utc_offset_min, answers=given, progress=progress
        )
    source = next(c.meaning for m in HEAD_SOURCES for c in file.layout.columns if c.meaning is m)
    reads = "staff" if source is Meaning.HEAD else "crest"
    if logger is not None:
        warnings += _odd_heads(session, logger, file)
    return Choice(
        file=file,
        logger=logger,
        suggested_reads=reads,
        warnings=warnings,
        given=given,
        told=over(remembered, given),
        remembered=remembered,
        how_known=how_known,
    )


def over(remembered: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is remembered with the given answers over it, column by column.

    What a column is said to be anew takes all that was remembered of it, and the place of the
    column that gave the head before.
    """
    before, now = remembered.get("columns"), given.get("columns")
    if not isinstance(before, Mapping) or not isinstance(now, Mapping):
        return {**remembered, **given}
    moved = any(_gives_head(said) for said in now.values())
    columns: dict[str, Any] = {
        number: said
        for number, said in before.items()
        if number not in now and not (moved and _gives_head(said))
    }
    for number, said in now.items():
        held = before.get(number, {})
        same = isinstance(said, Mapping) and said.get("meaning") in (None, held.get("meaning"))
        columns[number] = {**held, **said} if same else said
    return {**remembered, **given, "columns": columns}


def _gives_head(said: object) -> bool:
    return isinstance(said, Mapping) and said.get("meaning") in HEAD_SOURCES


def _logger(
    session: Session,
    site_id: int,
    content: bytes,
    logger_id: int | None,
    warnings: list[str],
    *,
    new: bool,
    said_serial: str,
) -> tuple[Logger | None, str]:
    """Return the logger and how it is known; None for a new one, or when nobody can tell."""
    written = serial_of(content)
    serial = written or said_serial
    here = {line.id: line for line in loggers(session, site_id)}
    if new:
        twin = by_serial(session, serial) if serial else None
        if twin is not None:
            warnings.append(f"serial {serial} is that of {twin.name}, which is known already")
        return None, ""
    if logger_id is not None:
        logger = get_logger(session, logger_id)
        if logger_id not in here:
            raise BadInput("logger", logger_id, "is not at this site", "Choose one of the site's.")
        if serial and logger.serial and serial != logger.serial:
            warnings.append(f"the file names serial {serial}, this logger has {logger.serial}")
        return logger, ""
    if serial:
        known = by_serial(session, serial)
        if known is not None and known.id in here:
            return known, "known by its serial"
        if known is not None:
            structure = session.get(Structure, known.structure_id)
            place = get_site(session, structure.site_id).name if structure else "another site"
            warnings.append(f"the logger with serial {serial} is at {place}: is this its file?")
        return None, ""
    if len(here) == 1:
        line = next(iter(here.values()))
        if line.serial:
            warnings.append(f"the file names no serial; taken as of {line.name}, the only one here")
        return get_logger(session, line.id), "the only one here; say so if it is a new one"
    return None, ""


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
