"""What an import of a file would do, worked out without doing it."""

import hashlib
from collections.abc import Mapping
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.language.progress import Progress
from app.services.loggers.asking.questions import answered
from app.services.loggers.asking.refusals import allowed, refuse_double_zero, refuse_untold_scale
from app.services.loggers.choose import choose
from app.services.loggers.overlap import (
    Conflict,
    held_already,
    held_elsewhere,
    import_names,
    overlap,
    quantities_of,
)
from app.services.loggers.register import line_of
from app.services.loggers.register import loggers as loggers_of
from app.services.loggers.results import ImportPreview
from app.services.loggers.waiting import said_of
from app.services.series.months import instant

SHOWN_CONFLICTS = 20


def preview_import(
    session: Session,
    site_id: int,
    content: bytes,
    name: str,
    *,
    logger_id: int | None = None,
    new: bool = False,
    reads: str = "",
    answers: Mapping[str, Any] | None = None,
    clock_fast_s: float = 0.0,
    clock_shape: str = "linear",
    progress: Progress | None = None,
) -> ImportPreview:
    """Read a file and say what taking it in would do; writes nothing.

    `new` means a logger that is not known yet, with its figures as `reads` says.

    Raises
    ------
    BadInput
        When no reading can be taken from the file, naming row and column.
    """
    sha256 = hashlib.sha256(content).hexdigest()
    said = said_of(session, site_id, sha256)
    choice = choose(
        session,
        site_id,
        content,
        logger_id,
        answers,
        progress,
        new=new,
        said_serial=said.serial if said else "",
    )
    file, logger = choice.file, choice.logger
    earlier = held_already(session, sha256, site_id, logger)
    elsewhere = [] if earlier else held_elsewhere(session, sha256)
    conflicts: list[Conflict] = []
    fresh = same = differing = 0
    blocked: BadInput | None = None
    if logger is not None:
        names = import_names(session, logger.structure_id)
        for quantity, value in quantities_of(file, logger.quantity):
            met = overlap(session, logger.structure_id, quantity, file.t_s, value)
            fresh, same = fresh + met.new.size, same + met.same
            differing += met.differs.size
            for k, i in enumerate(met.differs[:SHOWN_CONFLICTS].tolist()):
                held_by = names.get(int(met.held_import[k]), "")
                conflicts.append(
                    Conflict(
                        instant(file.t_s[i]), quantity, float(met.held_m[k]), float(value[i]),
                        held_by, name,
                    )
                )  # fmt: skip
        try:
            allowed(session, logger, file, clock_fast_s, clock_shape)
        except BadInput as error:
            blocked = error
    else:
        fresh = sum(int(np.isfinite(v).sum()) for _, v in quantities_of(file, "head"))
    try:
        refuse_double_zero(choice, logger.reads if logger else reads, logger.name if logger else "")
        refuse_untold_scale(choice)
        file.ready()
    except BadInput as error:
        blocked = error
    return ImportPreview(
        sha256=sha256,
        sentence=file.sentence,
        guesses=file.guesses,
        questions=file.questions,
        problems=file.problems,
        problem_count=file.problem_count,
        first=file.first,
        last=file.last,
        rows=int(file.t_s.size),
        from_at=instant(file.t_s[0]),
        to_at=instant(file.t_s[-1]),
        step_s=file.step_s,
        gaps=file.gaps,
        missing=file.missing,
        serial=file.serial,
        logger=line_of(session, logger) if logger else None,
        logger_candidates=loggers_of(session, site_id),
        suggested_reads=choice.suggested_reads,
        new=fresh,
        already_same=same,
        conflicts=conflicts,
        conflict_count=differing,
        already_held=earlier is not None,
        held_by=f"import {earlier.id} of {earlier.at:%Y-%m-%d}" if earlier else "",
        warnings=choice.warnings + elsewhere,
        blocked=blocked,
        choices=file.choices,
        candidates=file.candidates,
        answered=answered(content, choice),
        remembered=choice.remembered,
        how_known=choice.how_known,
    )
