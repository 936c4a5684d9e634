"""Take a logger file into the record: look first, then do it, and take it back if need be.

The original is kept to the byte. The same bytes twice are held already; a reading that is held
with the same value is passed over, one that differs is kept in its own file's block and shown,
and the one that was there first counts. A clock that ran wrong becomes a clock layer: the stamps
of the file stay as they are.
"""

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series.layers import Shape
from app.language.progress import Progress
from app.records.audit import write_audit
from app.records.people import Person
from app.records.sensors import CorrectionLayer, Logger, LoggerImport
from app.services.days import rebuild as series_store
from app.services.entries import kept_files
from app.services.loggers.asking.refusals import (
    CLOCK_SHAPES,
    allowed,
    refuse_double_zero,
    refuse_untold_scale,
)
from app.services.loggers.choose import Choice, choose
from app.services.loggers.overlap import (
    held_already,
    overlap,
    quantities_of,
)
from app.services.loggers.register import add_logger
from app.services.loggers.results import ImportResult
from app.services.loggers.waiting import note_upload, said_of
from app.services.series import raw as raw_series


def do_import(
    session: Session,
    site_id: int,
    content: bytes,
    name: str,
    person: Person,
    now: datetime,
    *,
    logger_id: int | None = None,
    new_logger: Mapping[str, Any] | None = None,
    answers: Mapping[str, Any] | None = None,
    clock_fast_s: float = 0.0,
    clock_shape: str = "linear",
    progress: Progress | None = None,
) -> ImportResult:
    """Take a file in: keep the original, store the readings, make the flows again.

    The original is kept for good even when the import is refused later on. What `progress`
    raises cancels the import before anything is written.

    Raises
    ------
    BadInput
        Naming row and column while a question is open, or the month that is approved.
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
        new=new_logger is not None,
        said_serial=said.serial if said else "",
    )
    refuse_untold_scale(choice)
    file, logger = choice.file.ready(), choice.logger
    earlier = held_already(session, sha256, site_id, logger)
    if earlier is not None:
        words = f"held since {earlier.at:%Y-%m-%d} as import {earlier.id}: nothing was done"
        return ImportResult(
            state="already_held",
            import_id=earlier.id,
            logger_id=earlier.logger_id,
            sentence=file.sentence,
            notes=[words],
        )
    kept_files.keep(
        session,
        person,
        "logger_file",
        name=name,
        sent_sha256=sha256,
        content=content,
        received_at=now,
    )
    if said is None or said.site_id is None:
        note_upload(session, person, sha256, site_id, now)
        session.commit()  # like the bytes: it waits at this site if the import is refused
    if new_logger is not None:
        logger = _new_logger(session, choice, new_logger, person)
    if logger is None or logger.id is None:
        raise BadInput(
            "logger",
            "",
            "it is not known which logger wrote this file",
            "Choose a logger of the site, or add one with a name and a structure.",
        )
    refuse_double_zero(choice, logger.reads, logger.name)
    allowed(session, logger, file, clock_fast_s, clock_shape)
    return _store(
        session,
        logger,
        choice,
        name=name,
        sha256=sha256,
        person=person,
        now=now,
        clock_fast_s=clock_fast_s,
        clock_shape=clock_shape,
    )


def _new_logger(
    session: Session, choice: Choice, given: Mapping[str, Any], person: Person
) -> Logger:
    fields = {k: str(given[k]) for k in ("name", "serial", "quantity", "reads") if given.get(k)}
    fields = {"reads": choice.suggested_reads, "serial": choice.file.serial or "", **fields}
    fields.setdefault("name", fields["serial"] or "Logger")
    return add_logger(session, int(given["structure_id"]), by_id=person.id, **fields)


def _store(
    session: Session,
    logger: Logger,
    choice: Choice,
    *,
    name: str,
    sha256: str,
    person: Person,
    now: datetime,
    clock_fast_s: float,
    clock_shape: str,
) -> ImportResult:
    file = choice.file
    assert person.id is not None
    assert logger.id is not None
    first, last = int(file.t_s[0]), int(file.t_s[-1])
    done = LoggerImport(
        logger_id=logger.id,
        sha256=sha256,
        name=name.replace("\0", "")[:200],
        sentence=file.sentence,
        choices=file.choices,
        rows=int(file.t_s.size),
        from_s=first,
        to_s=last,
        step_s=file.step_s,
        problems=file.problem_count,
        by_id=person.id,
        at=now,
    )
    session.add(done)
    session.flush()
    assert done.id is not None
    new = same = differing = 0
    for quantity, value in quantities_of(file, logger.quantity):
        met = overlap(session, logger.structure_id, quantity, file.t_s, value)
        new, same = new + met.new.size, same + met.same
        differing += met.differs.size
        raw_series.write_blocks(
            session,
            done.id,
            logger.structure_id,
            logger_id=logger.id,
            quantity=quantity,
            t_s=file.t_s,
            value_m=value,
        )
    done.conflicts = differing
    if clock_fast_s:
        done.layer_id = _clock_layer(
            session,
            logger,
            done,
            fast_s=clock_fast_s,
            shape=CLOCK_SHAPES[clock_shape],
            person=person,
            now=now,
        )
    logger.remembered = choice.to_remember()
    session.add_all([done, logger])
    session.flush()
    slack = int(abs(clock_fast_s)) + 1
    made = series_store.rebuild(session, logger.structure_id, first - slack, last + slack)
    after = {"import_id": done.id, "file": done.name, "sha256": sha256, "readings": new}
    write_audit(session, person.id, "logger file imported", "logger", logger.id, after=after)
    return ImportResult(
        state="imported",
        import_id=done.id,
        logger_id=logger.id,
        sentence=file.sentence,
        rows=done.rows,
        new=new,
        already_same=same,
        conflict_count=differing,
        layer_id=done.layer_id,
        rebuilt_days=made.days,
        held_months=made.held,
        notes=choice.warnings,
    )


def _clock_layer(
    session: Session,
    logger: Logger,
    done: LoggerImport,
    *,
    fast_s: float,
    shape: Shape,
    person: Person,
    now: datetime,
) -> int:
    """Add the clock correction of a file: nothing at its first stamp, all of it at its last."""
    assert person.id is not None
    layers = []
    for quantity in ("head", "tailwater") if logger.quantity == "head" else (logger.quantity,):
        layers.append(
            CorrectionLayer(
                structure_id=logger.structure_id,
                quantity=quantity,
                shape=str(shape),
                from_s=done.from_s,
                to_s=done.to_s,
                amount=0.0 if shape is Shape.CLOCK_DRIFT else fast_s,
                amount_end=fast_s,
                reason=f"Clock {fast_s:+.0f} s against true time at the download of {done.name}",
                offer_key=f"clock:{done.id}",
                by_id=person.id,
                at=now,
            )
        )
    session.add_all(layers)
    session.flush()
    assert layers[0].id is not None
    return layers[0].id
