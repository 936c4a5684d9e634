"""Limits on what may be taken at a structure: dated, added and ended, never changed.

No permit's form is copied: a limit is a kind, an amount, a season and the days it holds for.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.people import Person
from app.records.sites import Site, Structure
from app.records.takes import TakeLimit
from app.services.sites import twice
from app.services.sites.changes import names_of
from app.services.sites.structures import place

LIMIT_KINDS = {
    "rate": "largest rate",
    "daily": "volume of a day",
    "monthly": "volume of a month",
    "season": "volume of a season",
    "residual": "least flow to be left",
}
RATES = ("rate", "residual")


@dataclass(frozen=True, kw_only=True)
class LimitLine:
    """A limit as people read it; `amount` in m3/s for rates, else in m3."""

    id: int
    structure_id: int
    structure_name: str
    site_id: int
    site_code: str
    kind: str
    kind_words: str
    amount: float
    unit: str
    window_s: int
    valid_from: date
    valid_to: date | None
    season_begins: str
    season_ends: str
    note: str
    by: str
    added_at: datetime
    ended_at: datetime | None
    end_reason: str

    def holds(self, day: date) -> bool:
        """Tell whether the limit holds on a day."""
        return self.valid_from <= day and (self.valid_to is None or day <= self.valid_to)


def limits(
    session: Session, structure_id: int | None = None, site_id: int | None = None
) -> list[LimitLine]:
    """Return the limits of a structure, a site, or of all, in the order they were added."""
    statement = select(TakeLimit, Structure, Site).where(
        TakeLimit.structure_id == Structure.id, Structure.site_id == Site.id
    )
    if structure_id is not None:
        statement = statement.where(TakeLimit.structure_id == structure_id)
    if site_id is not None:
        statement = statement.where(Structure.site_id == site_id)
    names = names_of(session)
    return [
        LimitLine(
            id=row.id or 0,
            structure_id=row.structure_id,
            structure_name=structure.name,
            site_id=site.id or 0,
            site_code=site.code,
            kind=row.kind,
            kind_words=LIMIT_KINDS[row.kind]
            + (f", mean of {row.window_s // 60} min" if row.window_s else ""),
            amount=row.amount,
            unit="m3/s" if row.kind in RATES else "m3",
            window_s=row.window_s,
            valid_from=row.valid_from,
            valid_to=row.valid_to,
            season_begins=row.season_begins,
            season_ends=row.season_ends,
            note=row.note,
            by=names.get(row.by_id, ""),
            added_at=row.added_at,
            ended_at=row.ended_at,
            end_reason=row.end_reason,
        )
        for row, structure, site in session.exec(statement.order_by(col(TakeLimit.id)))
    ]


def limit_line(session: Session, limit_id: int) -> LimitLine:
    """Return one limit; raises NotFound."""
    row = session.get(TakeLimit, limit_id)
    if row is None:
        raise NotFound(f"limit {limit_id}")
    return next(x for x in limits(session, row.structure_id) if x.id == limit_id)


def add_limit(
    session: Session, structure_id: int, form: Form, person: Person, now: datetime
) -> TakeLimit:
    """Add a limit from a form: kind, amount, window_min, valid_from, valid_to, season_begins,
    season_ends, note.

    Raises
    ------
    BadInput
        For the first field that breaks a rule.
    """  # noqa: D205
    place(session, structure_id)
    kind = form.get("kind", "")
    if kind not in LIMIT_KINDS:
        raise BadInput("kind", kind[:20], f"one of {', '.join(LIMIT_KINDS)}", "Choose one.")
    unit = "m3/s" if kind in RATES else "m3"
    found = forms.together(
        amount=lambda: forms.needed(form, "amount", low=0.0, high=1e12, unit=unit),
        window=lambda: _window_min(form, kind),
        first=lambda: forms.day_needed(form, "valid_from", "Give the first day of the limit."),
        last=lambda: forms.site_day(form.get("valid_to", ""), "valid_to"),
        season_begins=lambda: forms.day_of_year(
            form.get("season_begins") or "07-01", "season_begins"
        ),
        season_ends=lambda: forms.day_of_year(form.get("season_ends") or "06-30", "season_ends"),
        note=lambda: forms.text(form, "note", most=2000),
    )
    amount, first, last = found["amount"], found["first"], found["last"]
    if last is not None and last < first:
        raise BadInput("valid_to", str(last), f"lies before {first}", "Swap the two.")
    assert person.id is not None
    row = TakeLimit(
        structure_id=structure_id,
        kind=kind,
        amount=amount,
        window_s=int(found["window"] * 60),
        valid_from=first,
        valid_to=last,
        season_begins=found["season_begins"],
        season_ends=found["season_ends"],
        note=found["note"],
        by_id=person.id,
        added_at=now,
    )
    known = twice.sent_again(session, row)
    if known is not None:
        return known
    session.add(row)
    session.flush()
    after = {"limit_id": row.id, "kind": kind, "amount": amount, "unit": unit, "from": str(first)}
    write_audit(session, person.id, "limit added", "structure", structure_id, after=after)
    return row


def _window_min(form: Form, kind: str) -> float:
    window = forms.number(form, "window_min", low=0.0, high=366 * 1440.0, unit="min") or 0.0
    if window and kind != "rate":
        raise BadInput("window_min", window, "only a rate has a window", "Leave it empty.")
    return window


def end_limit(session: Session, limit_id: int, form: Form, person: Person, now: datetime) -> None:
    """Let a limit hold up to a last day, from its form: last_day and reason.

    Raises
    ------
    NotFound
        When there is no such limit.
    BadInput
        With every fault of the form, or when it was ended already.
    """
    row = session.get(TakeLimit, limit_id)
    if row is None:
        raise NotFound(f"limit {limit_id}")
    found = forms.together(
        last_day=lambda: forms.day_needed(form, "last_day", "Give the last day it holds."),
        reason=lambda: forms.text(form, "reason", most=2000, required=True),
    )
    last_day, reason = found["last_day"], found["reason"]
    if row.ended_at is not None:
        raise BadInput("limit", limit_id, "was ended already", "Add a new one.")
    if last_day < row.valid_from:
        raise BadInput("last_day", str(last_day), "lies before its first day", "Give a later day.")
    facts = {
        "limit_id": limit_id,
        "kind": row.kind,
        "amount": row.amount,
        "unit": "m3/s" if row.kind in RATES else "m3",
        "from": str(row.valid_from),
    }
    before = {**facts, "valid_to": None if row.valid_to is None else str(row.valid_to)}
    row.valid_to, row.ended_at, row.end_reason = last_day, now, reason
    session.add(row)
    session.flush()
    write_audit(
        session,
        person.id,
        "limit ended",
        "structure",
        row.structure_id,
        before=before,
        after={**facts, "valid_to": str(last_day)},
        reason=reason,
    )


def season_days(begins: str, ends: str, day: date) -> tuple[date, date]:
    """Return first and last day of the season a day lies in, or of the one before it."""
    month, first = int(begins[:2]), int(begins[3:])
    start = date(day.year, month, first)
    if start > day:
        start = date(day.year - 1, month, first)
    last = date(start.year, int(ends[:2]), int(ends[3:]))
    if last < start:
        last = date(start.year + 1, int(ends[:2]), int(ends[3:]))
    return start, last


def period_of(line: LimitLine, day: date) -> tuple[date, date]:
    """Return first and last day of the period of a limit that a day lies in.

    The season is the period of a rate, a daily limit and a residual flow too: over it the times
    over are counted.
    """
    if line.kind == "monthly":
        first = day.replace(day=1)
        return first, (first + timedelta(days=32)).replace(day=1) - timedelta(days=1)
    return season_days(line.season_begins, line.season_ends, day)
