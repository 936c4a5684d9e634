"""The plan of a site's visits: how often, in which season, by whom, in which round."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.people import Person
from app.records.visits import VisitPlan
from app.services.settings.in_force import value
from app.services.sites import twice
from app.services.sites.changes import names_of
from app.services.sites.register import get_site

LONGEST_DAYS = 366
FIELDS = (
    "valid_from", "interval_days", "outside_days", "season_begins", "season_ends", "person_id",
    "round", "to_do", "access",
)  # fmt: skip


@dataclass(frozen=True)
class PlanLine:
    """A plan as people read it."""

    row: VisitPlan
    person: str
    by: str

    @property
    def words(self) -> str:
        """Return how often a visit is asked for."""
        said = _often(self.row.interval_days)
        if not self.row.season_begins:
            return said
        rest = _often(self.row.outside_days)
        return f"{said} from {self.row.season_begins} to {self.row.season_ends}, else {rest}"


def _often(days: int | None) -> str:
    if days is None:
        return "no visit asked for"
    return "every day" if days == 1 else f"every {days} days"


def plans_of(session: Session, ids: Iterable[int] | None = None) -> dict[int, list[VisitPlan]]:
    """Return the plans of some sites, or of all, in the order in which they take over."""
    statement = select(VisitPlan).order_by(col(VisitPlan.valid_from), col(VisitPlan.id))
    if ids is not None:
        statement = statement.where(col(VisitPlan.site_id).in_(list(ids)))
    found: dict[int, list[VisitPlan]] = defaultdict(list)
    for row in session.exec(statement):
        found[row.site_id].append(row)
    return found


def line_of(row: VisitPlan, names: dict[int, str]) -> PlanLine:
    return PlanLine(row, names.get(row.person_id or 0, ""), names.get(row.by_id, ""))


def plan_lines(session: Session, site_id: int) -> list[PlanLine]:
    """Return the plans of a site, newest first."""
    names = names_of(session)
    return [line_of(row, names) for row in reversed(plans_of(session, [site_id])[site_id])]


def form_of(session: Session, row: VisitPlan | None) -> dict[str, str]:
    """Return a plan as the form of the next one shows it; the day and the reason stay empty.

    The first plan of a site has the interval that the office proposes.
    """
    if row is None:
        usual = value(session, "visit_interval_days")
        return {} if usual is None else {"interval_days": str(usual)}
    said = {key: getattr(row, key) for key in FIELDS if key != "valid_from"}
    return {key: "" if value is None else str(value) for key, value in said.items()}


def add_plan(session: Session, site_id: int, form: Form, person: Person, now: datetime) -> None:
    """State how often a site is to be visited from a day on.

    The form: valid_from, interval_days (empty: no visit is asked for), season_begins, season_ends,
    outside_days, person_id, round, to_do, access, reason.

    Raises
    ------
    BadInput
        With every field that breaks a rule.
    """
    site = get_site(session, site_id)
    assert person.id is not None
    today = (now + timedelta(minutes=site.utc_offset_min)).date()
    read = forms.together(
        valid_from=lambda: forms.site_day(form.get("valid_from", ""), "valid_from") or today,
        interval_days=lambda: forms.whole_days(form, "interval_days", high=LONGEST_DAYS),
        season=lambda: _season(form),
        person_id=lambda: _person(session, form),
        round=lambda: forms.text(form, "round", most=40),
        to_do=lambda: forms.text(form, "to_do", most=4000),
        access=lambda: forms.text(form, "access", most=4000),
        reason=lambda: forms.text(form, "reason", most=2000, required=True),
    )
    reason = read.pop("reason")
    values: dict[str, Any] = {**read.pop("season"), **read}
    row = VisitPlan(
        site_id=site_id,
        **values,
        reason=reason,
        by_id=person.id,
        added_at=now,
    )
    if twice.said_again(session, row, "site_id") is not None:
        return
    session.add(row)
    told = {key: str(v) if isinstance(v, date) else v for key, v in values.items() if v}
    write_audit(
        session, person.id, "visits planned", "site", site_id, after=told, reason=row.reason
    )


def _season(form: Form) -> dict[str, Any]:
    """Return first and last day of the season and the interval outside it; empty: all year."""

    def day(field: str, other: str) -> str:
        typed = form.get(field, "").strip()
        if not typed and form.get(other, "").strip():
            raise BadInput(
                field, "", "a season has a first and a last day", "Give both, or neither."
            )
        return forms.day_of_year(typed, field) if typed else ""

    def outside() -> int | None:
        days = forms.whole_days(form, "outside_days", high=LONGEST_DAYS)
        if days is not None and not (form.get("season_begins", "") + form.get("season_ends", "")):
            raise BadInput(
                "outside_days", days, "without a season there is no rest of the year",
                "Give the season, or leave this empty.",
            )  # fmt: skip
        return days

    return forms.together(
        season_begins=lambda: day("season_begins", "season_ends"),
        season_ends=lambda: day("season_ends", "season_begins"),
        outside_days=outside,
    )


def _person(session: Session, form: Form) -> int | None:
    typed = form.get("person_id", "").strip()
    if not typed:
        return None
    known = typed.isascii() and typed.isdigit() and len(typed) < 10
    found = session.get(Person, int(typed)) if known else None
    if found is None or not found.active:
        raise BadInput("person_id", typed[:20], "nobody who signs in", "Choose one of the list.")
    return int(typed)
