"""Set a value, or go back to the built-in one: a new row with who, when and why, never a change."""

import json
from itertools import pairwise
from typing import Any

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.hydraulics.series.sensor_checks import ACCEPTANCE
from app.language import forms
from app.language.forms import ChangedMeanwhile, Form
from app.records.audit import write_audit
from app.records.database import utc_now
from app.records.people import Person
from app.records.settings import Setting
from app.services.settings.kinds import BOX, Known
from app.services.settings.known import known

SUBJECT = "setting"


def set_from_form(session: Session, key: str, form: Form, by_id: int | None) -> None:
    """Set a value from its form: value, reason, and the revision the form was made from.

    Raises
    ------
    ChangedMeanwhile
        When somebody set it since the form was opened; nothing is written.
    BadInput
        With every fault of the form.
    """
    of = known(key)
    found = forms.together(
        typed=lambda: of.read(form),
        reason=lambda: forms.text(form, "reason", most=4000, required=True),
    )
    _keep(session, of, found["typed"], found["reason"], by_id, forms.revision(form))


def back_to_default(session: Session, key: str, form: Form, by_id: int | None) -> None:
    """Let the built-in value hold again; raises as `set_from_form`."""
    reason = forms.text(form, "reason", most=4000, required=True)
    _keep(session, known(key), None, reason, by_id, forms.revision(form))


def set_bands(session: Session, found: list[tuple[float, float | None]], person: Person) -> None:
    """Set the limits of the bands, metres and per cent of flow (None: not used).

    Raises
    ------
    BadInput
        When there is not one pair a band, or the limits do not rise.
    """
    if len(found) != len(ACCEPTANCE) or found[0][0] != 0.0:
        raise BadInput(
            "bands",
            len(found),
            f"there are {len(ACCEPTANCE)} bands, the first from 0",
            "Give each its limit.",
        )
    metres = [over_m for over_m, _ in found]
    if any(b <= a for a, b in pairwise(metres)) or not metres[-1] < 1.0:
        raise BadInput("bands", metres, "limits rise, and stay below 1 m", "Order them.")
    of = known("acceptance_bands")
    pairs = [[over_m, pct] for over_m, pct in found]
    reason = "set on a page of corrections"
    _keep(session, of, pairs, reason, person.id, _last(session, of.key)[0])


def _last(session: Session, key: str) -> tuple[int, Any]:
    """Return the number of changes so far and the value that holds; 0 and the default if none."""
    statement = select(Setting).where(Setting.key == key).order_by(col(Setting.revision).desc())
    row = session.exec(statement).first()
    if row is None:
        return 0, known(key).default
    return row.revision, known(key).default if row.value is None else json.loads(row.value)


def _keep(
    session: Session, of: Known, new: Any, reason: str, by_id: int | None, revision: int
) -> None:
    at, before = _last(session, of.key)
    after = of.default if new is None else new
    if at != revision:
        raise _clash(session, of)
    if before == after and (new is None) == (at == 0):
        return  # sent twice, or nothing was changed
    kept = None if new is None else json.dumps(new)
    session.add(
        Setting(key=of.key, revision=at + 1, value=kept, reason=reason, by_id=by_id, at=utc_now())
    )
    try:
        session.flush()
    except IntegrityError:  # two people set it at the same instant
        session.rollback()
        raise _clash(session, of) from None
    write_audit(
        session,
        by_id,
        "set" if new is not None else "set to the default",
        SUBJECT,
        of.key,
        before={of.key: of.say(before)},
        after={of.key: of.say(after)},
        reason=reason,
    )


def _clash(session: Session, of: Known) -> ChangedMeanwhile:
    revision, held = _last(session, of.key)
    row = session.exec(
        select(Setting).where(Setting.key == of.key, Setting.revision == revision)
    ).first()
    person = session.get(Person, row.by_id) if row and row.by_id else None
    now = {BOX: of.box(held), "revision": str(revision)}
    return ChangedMeanwhile(SUBJECT, now, person.name if person else "Somebody else")
