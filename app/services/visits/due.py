"""When the next visit to a site is due, by its plan and its last visit.

One rule: a visit is wanted on every day on which as many days have passed since the last one as
the plan asks for on that day; it is due on the first of the days in a row that reach to today, or
on the next such day. So an interval that is tightened asks from its own first day on, one that is
loosened lets off, and one that is only said anew changes nothing. Days on which no visit is asked
for end what was missed: when the season begins again, the visit is due on its first day.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from app.records.visits import VisitPlan

DAY = timedelta(days=1)
SOON = timedelta(days=7)
AHEAD_YEARS = 2  # an interval is a year at most, and a season comes every year

OVERDUE, TODAY, SOON_WORD, LATER, RESTING, NO_INTERVAL = (
    "overdue", "due today", "due soon", "later", "out of season", "no interval set",
)  # fmt: skip
DUE_STATES = (OVERDUE, TODAY, SOON_WORD, LATER, RESTING, NO_INTERVAL)

Piece = tuple[date, date, int | None]  # first day, last day, interval asked for


@dataclass(frozen=True)
class Due:
    """When the next visit is due; `days` from today, below zero when it is overdue."""

    state: str
    on: date | None
    days: int | None
    interval_days: int | None

    @property
    def words(self) -> str:
        """Return it as a person says it; what is not set is never fine."""
        if self.on is None or self.days is None:
            return self.state
        count = f"{abs(self.days)} day{'' if abs(self.days) == 1 else 's'}"
        if self.state == OVERDUE:
            return f"overdue by {count}, since {self.on}"
        if self.state == NO_INTERVAL:
            return f"{NO_INTERVAL} yet, by the plan to come due {self.on}"
        if self.state == TODAY:
            return "due today"
        if self.state == RESTING:
            return f"out of season, next due {self.on}"
        return f"due {self.on}, in {count}"


def in_force(plans: Sequence[VisitPlan], day: date) -> VisitPlan | None:
    """Return the plan that holds on a day: the latest begun; of two begun together the newer."""
    begun = [plan for plan in plans if plan.valid_from <= day]
    return max(begun, key=lambda p: (p.valid_from, p.id or 0)) if begun else None


def in_season(plan: VisitPlan, day: date) -> bool:
    """Tell whether a day lies in the season of a plan; without one every day does."""
    begins, ends = plan.season_begins, plan.season_ends
    if not begins or not ends:
        return True
    now = f"{day:%m-%d}"
    return begins <= now <= ends if begins <= ends else now >= begins or now <= ends


def interval_on(plans: Sequence[VisitPlan], day: date) -> int | None:
    """Return after how many days a visit is asked for on a day; None: none is asked for."""
    plan = in_force(plans, day)
    if plan is None:
        return None
    return plan.interval_days if in_season(plan, day) else plan.outside_days


def pieces(plans: Sequence[VisitPlan], first: date, last: date) -> Iterator[Piece]:
    """Yield the stretches between two days in which one interval holds."""
    cuts = {first}
    cuts.update(plan.valid_from for plan in plans)
    for plan in plans:
        if plan.season_begins and plan.season_ends:
            for year in range(first.year, last.year + 1):
                cuts.add(_day(year, plan.season_begins))
                cuts.add(_day(year, plan.season_ends) + DAY)
    starts = sorted(cut for cut in cuts if first <= cut <= last)
    for begin, after in zip(starts, [*starts[1:], last + DAY], strict=True):
        yield begin, after - DAY, interval_on(plans, begin)


def _day(year: int, text: str) -> date:
    return date(year, int(text[:2]), int(text[3:]))


def due(plans: Sequence[VisitPlan], last_visit: date | None, today: date) -> Due:
    """Return when the next visit is due.

    Parameters
    ----------
    plans : all of a site's, in any order
    last_visit : day of the last visit that stands, None when there was none
    """
    plan = in_force(plans, today)
    coming = [p for p in plans if p.valid_from > today]
    asked = plan is not None and (plan.interval_days or plan.outside_days)
    if not asked and not any(p.interval_days or p.outside_days for p in coming):
        return Due(NO_INTERVAL, None, None, None)
    now = interval_on(plans, today)
    begin = min(p.valid_from for p in plans)
    if last_visit is not None:
        begin = max(begin, last_visit + DAY)
    begin = min(begin, today)
    found = None
    for first, end, interval in pieces(plans, begin, _day(today.year + AHEAD_YEARS, "12-31")):
        if interval is None:
            if first <= today:
                found = None  # what was missed before a rest is not asked for after it
            continue
        day = first if last_visit is None else max(first, last_visit + interval * DAY)
        if found is None or (day > first and first <= today):
            found = day if day <= end else None
        if found is not None and end >= today:
            break
    if found is None:
        return Due(RESTING if asked else NO_INTERVAL, None, None, now)
    days = (found - today).days
    if now is None:
        return Due(RESTING if asked else NO_INTERVAL, found, days, now)
    state = OVERDUE if days < 0 else TODAY if days == 0 else LATER
    if state == LATER and days <= SOON.days:
        state = SOON_WORD
    return Due(state, found, days, now)
