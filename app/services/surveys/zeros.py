"""The gauge zeros that level runs set.

A run is an observation and is always kept. It sets a gauge zero when somebody says so, on the
phone in the run itself or later in the office; a run whose misclosure is over the limit, or not
known, needs a reason for that.
"""

import logging
import math
from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, SillbookError
from app.hydraulics.base.rounding import fixed
from app.language.words import counted, noun
from app.records.audit import write_audit
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import GaugeZero, Structure
from app.services.entries.links import standing_only, what_stands
from app.services.surveys.runs import RunView, get_run

log = logging.getLogger("sillbook.surveys")

MOST_OFFSET_M = 10.0  # zero and crest further apart than this are not over one datum


def doubt(view: RunView) -> str:
    """Return why a run needs a reason before it sets a gauge zero; empty when it needs none."""
    run = view.run
    if run is None or not run.arithmetic_agrees:
        return "the book does not agree with itself"
    if run.within_limit is None:
        return "the run is not closed, so its misclosure is not known"
    if not run.within_limit:
        found, limit = fixed(float(run.misclosure_mm), 1), fixed(float(run.limit_mm), 2)
        return f"the misclosure {found} mm is over the limit {limit} mm"
    return ""


def accept_zero(
    session: Session, run_entry_id: str, valid_from: datetime, reason: str, person: Person
) -> GaugeZero:
    """Add the gauge zero of a run in the caller's transaction; the same call twice adds one.

    Raises
    ------
    NotFound
        When there is no such run.
    BadInput
        When the run names no structure, has no crest corner or no mark of the staff, or is in
        doubt and no reason is given.
    """
    view = get_run(session, run_entry_id)
    entry, reason = view.entry, reason.strip()[:2000]
    if not view.stands:
        raise BadInput(
            "run",
            run_entry_id,
            "this run was withdrawn or replaced",
            "Use the run that stands, or level it again.",
        )
    if view.problem:
        raise view.problem
    if entry.structure_id is None:
        raise BadInput("structure_id", "", "a gauge zero belongs to a structure", "Choose it.")
    found = view.results
    if found is None or math.isnan(found.zero_rl_m):
        raise BadInput(
            "rows",
            "no crest corner" if found is None else "no mark of the staff",
            "a gauge zero needs the crest and a mark of the staff in one run",
            "Level both, and say what the staff reads at the mark.",
        )
    if abs(found.zero_minus_crest_m) > MOST_OFFSET_M:
        raise BadInput(
            "staff_mark_m",
            view.entry.body.get("staff_mark_m"),
            f"the gauge zero would lie {found.zero_minus_crest_m:.3f} m from the crest",
            "Check the mark of the staff and its unit.",
        )
    if doubt(view) and not reason:
        raise BadInput(
            "reason",
            "",
            doubt(view),
            "Level it again, or say why it may set the zero all the same.",
        )
    # one at a time a structure: two phones may send the same run at the same instant
    lock = select(Structure).where(Structure.id == entry.structure_id).with_for_update()
    session.exec(lock).one()
    same = select(GaugeZero).where(
        GaugeZero.run_entry_id == run_entry_id, GaugeZero.valid_from == valid_from
    )
    known = session.exec(same).first()
    if known is not None:
        return known
    zero = GaugeZero(
        structure_id=entry.structure_id,
        valid_from=valid_from,
        crest_rl_m=round(found.crest_rl_m, 9),  # binary dust, far below what a staff shows
        zero_rl_m=round(found.zero_rl_m, 9),
        tail_zero_rl_m=None if view.tail_zero_rl_m is None else round(view.tail_zero_rl_m, 9),
        reason=reason or f"Level run of {entry.observed_at:%Y-%m-%d}",
        run_entry_id=run_entry_id,
        by_id=person.id,
    )
    session.add(zero)
    session.flush()
    after = zero.model_dump(
        include={"id", "crest_rl_m", "zero_rl_m", "tail_zero_rl_m", "run_entry_id"}
    ) | {"valid_from": valid_from.isoformat()}
    write_audit(
        session, person.id, "gauge zero added", "structure", entry.structure_id,
        after=after, reason=zero.reason,
    )  # fmt: skip
    return zero


def set_zeros(session: Session, entry_ids: Sequence[str], person: Person) -> dict[str, str]:
    """Set the gauge zeros that stored runs ask for; return the words for each receipt.

    The runs are stored already: whatever happens here never looks like a lost run, and sending a
    run again (which a phone does that got no receipt) makes up for a zero that was not set.
    """
    query = select(Entry).where(col(Entry.id).in_(entry_ids), Entry.kind == "level_run")
    asked = [(e.id, e.body["set_zero"]) for e in session.exec(query) if e.body.get("set_zero")]
    said: dict[str, str] = {}
    for entry_id, wish in asked:
        try:
            valid_from = datetime.fromisoformat(wish["from"])
            zero = accept_zero(session, entry_id, valid_from, _reason(wish), person)
            said[entry_id] = zero_words(session, zero)
            session.commit()
        except SillbookError as error:
            session.rollback()
            said[entry_id] = f"gauge zero not set: {error}"
        except Exception:
            session.rollback()
            log.exception("setting a gauge zero failed")
            said[entry_id] = "gauge zero not set: the server failed; set it in the office"
    return said


def _reason(wish: dict[str, str]) -> str:
    """Return the reason of a wish, with why a run in doubt was accepted."""
    because = wish.get("accepted_because", "").strip()
    said = (wish.get("reason", "").strip(), because and f"accepted because: {because}")
    return "; ".join(filter(None, said))


def zero_words(session: Session, zero: GaugeZero) -> str:
    later = session.execute(
        sa.select(sa.func.count()).where(
            col(FlowValue.structure_id) == zero.structure_id,
            col(FlowValue.current),
            col(FlowValue.at) >= zero.valid_from,
            col(FlowValue.gauge_zero_id).is_distinct_from(zero.id),
            standing_only(session, FlowValue.entry_id, what_stands(session)),
        )
    ).scalar_one()
    words = f"gauge zero set, {zero.offset_m * 1000:+.1f} mm from the crest"
    if later:
        words += f"; {counted(later, 'reading')} since then "
        words += (
            noun(later, "keeps its value", "keep their values") + " until the site is rated again"
        )
    return words
