"""Calibrations of instruments, and the two-peg tests that level runs brought along.

A calibration is put right by a new one that names it, and taken back by one that says there was
none; the earlier row stays. A two-peg test is read from the level run it was booked with, so that
withdrawing the run takes the test along.
"""

import hashlib
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.hydraulics.levelling.results import two_peg
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.equipment import Calibration, InstrumentFact
from app.records.files import KeptFile
from app.records.people import Person
from app.services.entries import kept_files
from app.services.equipment.coefficients import coefficient_lines, read_coefficients
from app.services.equipment.fitness import OUTCOMES, Check
from app.services.equipment.naming import named_runs
from app.services.equipment.register import facts_of, get_instrument
from app.services.sites import twice
from app.services.sites.changes import names_of

CERTIFICATE = "certificate"
PEG_TEST = "two-peg test"


@dataclass(frozen=True, kw_only=True)
class CalibrationLine:
    """A calibration or check as people read it; `stands` is False once another has replaced it."""

    id: int | None
    entry_id: str | None
    instrument_id: int
    what: str
    on_day: date
    by_whom: str
    outcome: str
    result: str
    coefficients: list[dict[str, Any]]
    due_on: date | None
    certificate_sha256: str | None
    certificate_name: str
    replaces_id: int | None
    void: bool
    stands: bool
    reason: str
    by: str
    added_at: datetime | None

    @property
    def outcome_words(self) -> str:
        return OUTCOMES[self.outcome]

    @property
    def check(self) -> Check:
        return Check(self.on_day, self.outcome, self.due_on, self.what)


def calibrations_of(
    session: Session, ids: Iterable[int] | None = None
) -> dict[int, list[CalibrationLine]]:
    """Return calibrations and two-peg tests of some instruments, or of all, oldest first.

    On one day a calibration counts after a two-peg test.
    """
    wanted = None if ids is None else sorted(set(ids))
    statement = select(Calibration).order_by(col(Calibration.on_day), col(Calibration.id))
    if wanted is not None:
        statement = statement.where(col(Calibration.instrument_id).in_(wanted))
    rows = list(session.exec(statement))
    names, replaced = names_of(session), {row.replaces_id for row in rows}
    files = _file_names(session, {row.certificate_sha256 for row in rows})
    found: dict[int, list[CalibrationLine]] = defaultdict(list)
    for test in _peg_tests(session, wanted):
        found[test.instrument_id].append(test)
    for row in rows:
        found[row.instrument_id].append(
            CalibrationLine(
                id=row.id,
                entry_id=None,
                what="calibration",
                certificate_name=files.get(row.certificate_sha256 or "", ""),
                stands=row.id not in replaced and not row.void,
                by=names.get(row.by_id, ""),
                **row.model_dump(exclude={"id", "by_id"}),
            )
        )
    for lines in found.values():
        lines.sort(key=lambda x: (x.on_day, x.id is not None, x.id or 0, x.entry_id or ""))
    return found


def checks_of(lines: Iterable[CalibrationLine]) -> list[Check]:
    return [line.check for line in lines if line.stands]


def _file_names(session: Session, wanted: set[str | None]) -> dict[str, str]:
    ids = [one for one in wanted if one is not None]
    if not ids:
        return {}
    statement = select(KeptFile.sent_sha256, KeptFile.name)
    return dict(session.exec(statement.where(col(KeptFile.sent_sha256).in_(ids))).all())


def _peg_tests(session: Session, wanted: list[int] | None) -> list[CalibrationLine]:
    """Return the two-peg tests of named levels, each from its standing run, oldest first."""
    runs = [run for run in named_runs(session, wanted) if run.peg_test]
    facts = facts_of(session, {run.instrument_id for run in runs})
    names, found = names_of(session), []
    for run in runs:
        try:
            test = two_peg(**(run.peg_test or {}))
        except BadInput:
            continue  # the run's own page says what is wrong with it
        interval = _interval_on(facts[run.instrument_id], run.day)
        found.append(
            CalibrationLine(
                id=None,
                entry_id=run.entry_id,
                instrument_id=run.instrument_id,
                what=PEG_TEST,
                on_day=run.day,
                by_whom=names.get(run.by_id, ""),
                outcome="fit" if test.passes else "not_fit",
                result=f"{test.collimation_mm_per_m:+.3f} mm per m, limit {test.limit_mm_per_m:g}",
                coefficients=[],
                due_on=run.day + timedelta(days=interval) if interval else None,
                certificate_sha256=None,
                certificate_name="",
                replaces_id=None,
                void=False,
                stands=True,
                reason="",
                by=names.get(run.by_id, ""),
                added_at=None,
            )
        )
    return found


def _interval_on(facts: list[InstrumentFact], day: date) -> int | None:
    """Return the interval as it was said by the end of a day; before all that, as said first."""
    said = [fact for fact in facts if fact.added_at.date() <= day]
    return (said[-1] if said else facts[0]).interval_days


def add_calibration(
    session: Session,
    instrument_id: int,
    form: Form,
    person: Person,
    now: datetime,
    certificate: tuple[str, bytes] | None = None,
) -> None:
    """Add a calibration from a form, or put one right.

    The form: on_day, by_whom, outcome, result, coefficients (one a line: name: value unit),
    due_on (else counted from the instrument's interval), and to put one right replaces_id and
    reason, with void=yes where there was none.

    Raises
    ------
    BadInput
        For the first field that breaks a rule.
    """
    get_instrument(session, instrument_id)
    assert person.id is not None
    earlier = _earlier(session, instrument_id, form)
    void = earlier is not None and form.get("void") == "yes"
    found = forms.together(
        reason=lambda: forms.text(form, "reason", most=2000, required=earlier is not None),
        values=lambda: None if void else _values(session, instrument_id, form, now.date()),
    )
    reason = found["reason"]
    if earlier is not None and void:
        values = earlier.model_dump(include=set(KEPT))
    else:
        values = found["values"]
        values["certificate_sha256"] = earlier.certificate_sha256 if earlier else None
        if certificate is not None and certificate[1]:
            name, content = certificate
            sha256 = hashlib.sha256(content).hexdigest()
            kept_files.keep(
                session,
                person,
                CERTIFICATE,
                name=name,
                sent_sha256=sha256,
                content=content,
                received_at=now,
            )
            values["certificate_sha256"] = sha256
    row = Calibration(
        instrument_id=instrument_id,
        **values,
        replaces_id=earlier.id if earlier else None,
        void=void,
        reason=reason,
        by_id=person.id,
        added_at=now,
    )
    if twice.said_again(session, row, "instrument_id") is not None:
        return
    if earlier is not None and _replaced(session, earlier):
        raise BadInput(
            "replaces_id", earlier.id, "it was put right already", "Put the newer one right."
        )
    session.add(row)
    session.flush()
    write_audit(
        session,
        person.id,
        "calibration taken back" if void else "calibration corrected" if earlier else "calibrated",
        "instrument",
        instrument_id,
        before=_told(earlier) if earlier else None,
        after=None if void else _told(row),
        reason=reason,
    )


KEPT = (
    "on_day", "by_whom", "outcome", "result", "coefficients", "due_on", "certificate_sha256",
)  # fmt: skip


def _told(row: Calibration) -> dict[str, Any]:
    said = {key: getattr(row, key) for key in KEPT}
    return said | {
        "on_day": str(row.on_day),
        "due_on": str(row.due_on) if row.due_on else None,
        "coefficients": coefficient_lines(row.coefficients),
    }


def _earlier(session: Session, instrument_id: int, form: Form) -> Calibration | None:
    text = form.get("replaces_id", "").strip()
    if not text:
        return None
    known = text.isascii() and text.isdigit() and len(text) < 10
    found = session.get(Calibration, int(text)) if known else None
    if found is None or found.instrument_id != instrument_id:
        raise BadInput("replaces_id", text[:20], "no such calibration of it", "Open it again.")
    return found


def _replaced(session: Session, row: Calibration) -> bool:
    newer = session.exec(select(Calibration.id).where(Calibration.replaces_id == row.id)).first()
    return row.void or newer is not None


def _values(session: Session, instrument_id: int, form: Form, today: date) -> dict[str, Any]:
    found = forms.together(
        on_day=lambda: _on_day(form, today),
        by_whom=lambda: forms.text(form, "by_whom", most=200, required=True),
        outcome=lambda: _outcome(form),
        result=lambda: forms.text(form, "result", most=4000),
        coefficients=lambda: read_coefficients(form.get("coefficients", "")),
        due_on=lambda: forms.site_day(form.get("due_on", ""), "due_on"),
    )
    on_day, outcome, due = found["on_day"], found["outcome"], found["due_on"]
    if due is not None and due <= on_day:
        raise BadInput("due_on", str(due), f"is not after {on_day}", "Check the two days.")
    interval = facts_of(session, [instrument_id])[instrument_id][-1].interval_days
    if due is None and interval and outcome != "not_fit":
        due = on_day + timedelta(days=interval)
    return {**found, "due_on": None if outcome == "not_fit" else due}


def _on_day(form: Form, today: date) -> date:
    on_day = forms.day_needed(form, "on_day", "Give the day of the calibration.")
    if on_day > today + timedelta(days=1):  # it may be tomorrow at the site already
        raise BadInput("on_day", str(on_day), "lies ahead of today", "Enter it once it is done.")
    return on_day


def _outcome(form: Form) -> str:
    outcome = form.get("outcome", "")
    if outcome not in OUTCOMES:
        known = ", ".join(OUTCOMES.values())
        raise BadInput("outcome", outcome[:20], f"one of {known}", "Choose one.")
    return outcome


def certificate(session: Session, calibration_id: int) -> KeptFile:
    """Return the certificate of a calibration; raises NotFound."""
    row = session.get(Calibration, calibration_id)
    if row is None or row.certificate_sha256 is None:
        raise NotFound(f"certificate of calibration {calibration_id}")
    return kept_files.kept(session, row.certificate_sha256)
