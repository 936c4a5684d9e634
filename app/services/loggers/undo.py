"""Take a logger file back: its readings and its clock layer, nothing else."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, select

from app.errors import BadInput, NotFound
from app.records.audit import write_audit
from app.records.people import Person
from app.records.sensors import CorrectionLayer, LayerWithdrawal, Logger, LoggerImport
from app.services.days import rebuild as series_store
from app.services.days.state import approved_months, refuse_if_approved
from app.services.series import raw as raw_series
from app.services.series.months import instant, month_of, month_text
from app.services.sites.structures import place


@dataclass(frozen=True)
class UndoResult:
    """What taking a file back has removed."""

    import_id: int
    points: int
    from_at: datetime
    to_at: datetime
    rebuilt_days: int


def undo_import(
    session: Session, import_id: int, person: Person, now: datetime, reason: str
) -> UndoResult:
    """Take a file back: its readings and its clock layer, nothing else; the original is kept.

    Raises
    ------
    NotFound
        When there is no such import.
    BadInput
        When it was taken back already, no reason is given, or an approved month rests on it.
    """
    done = session.get(LoggerImport, import_id)
    if done is None:
        raise NotFound(f"import {import_id}")
    reason = reason.strip()[:2000]
    if not reason:
        raise BadInput("reason", "", "this is needed", "Say why the file is taken back.")
    if done.undone_at is not None:
        raise BadInput("import", import_id, "was taken back already", "Import the file again.")
    logger = session.get(Logger, done.logger_id)
    assert logger is not None
    assert person.id is not None
    site, _ = place(session, logger.structure_id)
    approved = approved_months(session, logger.structure_id)
    for quantity in ("head", "tailwater") if approved else ():
        held = raw_series.raw_series(session, logger.structure_id, quantity, done.from_s, done.to_s)
        mine = held.t_s[held.import_id == import_id]
        for month in sorted({month_of(t, site.utc_offset_min) for t in mine.tolist()} & approved):
            raise BadInput(
                "month",
                month_text(month),
                "is approved and rests on this file",
                "Open the month again with a reason, then take the file back.",
            )
    clocks = session.exec(
        select(CorrectionLayer).where(CorrectionLayer.offer_key == f"clock:{import_id}")
    ).all()
    for layer in clocks:
        assert layer.id is not None
        if session.get(LayerWithdrawal, layer.id) is None:
            refuse_if_approved(
                session, layer.structure_id, layer.from_s, layer.to_s, "taking its clock back"
            )
            session.add(LayerWithdrawal(layer_id=layer.id, reason=reason, by_id=person.id, at=now))
    points = raw_series.delete_blocks(session, import_id)
    done.undone_at, done.undone_by_id, done.undo_reason = now, person.id, reason
    session.add(done)
    session.flush()
    slack = 1 + int(max((abs(x.amount_end or 0.0) for x in clocks), default=0.0))
    made = series_store.rebuild(
        session, logger.structure_id, done.from_s - slack, done.to_s + slack
    )
    before = {"import_id": import_id, "file": done.name, "readings": points}
    write_audit(
        session, person.id, "logger file taken back", "logger", logger.id, before=before,
        reason=reason,
    )  # fmt: skip
    return UndoResult(import_id, points, instant(done.from_s), instant(done.to_s), made.days)
