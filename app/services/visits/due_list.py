"""The due list: every site with its plan, its last visit and when the next one is due."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.language.typed import CLOCK_SKEW
from app.records.entries import Entry
from app.records.sites import Site
from app.records.visits import VisitPlan
from app.services.entries.links import standing_only, what_stands
from app.services.equipment.naming import day_of
from app.services.sites.changes import names_of
from app.services.visits.done import VISIT_KIND
from app.services.visits.due import (
    DUE_STATES,
    LATER,
    NO_INTERVAL,
    OVERDUE,
    RESTING,
    SOON_WORD,
    TODAY,
    Due,
    due,
    in_force,
)
from app.services.visits.plans import PlanLine, line_of, plans_of

NOBODY = "none"  # of the filter by person: sites that nobody looks after
PRESSING = (OVERDUE, TODAY, SOON_WORD)


@dataclass(frozen=True, kw_only=True)
class DueLine:
    """A site in the due list; `seen_since` is a day after the last visit on which somebody read."""

    site: Site
    due: Due
    plan: PlanLine | None
    last_on: date | None
    last_id: str | None
    last_by: str
    seen_since: date | None

    @property
    def rank(self) -> tuple[int, int, str]:
        order = (OVERDUE, TODAY, SOON_WORD, LATER, NO_INTERVAL, RESTING)
        days = self.due.days if self.due.days is not None else 0
        return (order.index(self.due.state), days, self.site.name)

    @property
    def person(self) -> str:
        return self.plan.person if self.plan else ""

    @property
    def round(self) -> str:
        return self.plan.row.round if self.plan else ""

    def as_row(self) -> dict[str, Any]:
        return {
            "site_id": self.site.id,
            "code": self.site.code,
            "name": self.site.name,
            "state": self.due.state,
            "due_on": self.due.on,
            "days": self.due.days,
            "words": self.due.words,
            "last_visit_on": self.last_on,
            "last_visit_id": self.last_id,
            "last_visit_by": self.last_by or None,
            "interval_days": self.due.interval_days,
            "plan": self.plan.words if self.plan else NO_INTERVAL,
            "person": self.person or None,
            "round": self.round or None,
            "seen_since_on": self.seen_since,
        }


def due_list(session: Session, now: datetime) -> list[DueLine]:
    """Return all sites, overdue first, then as they fall due; in a few statements for all."""
    sites = list(session.exec(select(Site)))
    plans, names = plans_of(session), names_of(session)
    last = _newest(session, [VISIT_KIND], now)
    seen = _newest(session, ["head_reading", "check_gauging"], now)
    found = []
    for site in sites:
        assert site.id is not None
        visit, read = last.get(site.id), seen.get(site.id)
        today = (now + timedelta(minutes=site.utc_offset_min)).date()
        held: Sequence[VisitPlan] = plans.get(site.id, [])
        on = visit[1] if visit else None
        plan = in_force(held, today)
        found.append(
            DueLine(
                site=site,
                due=due(held, on, today),
                plan=line_of(plan, names) if plan else None,
                last_on=on,
                last_id=visit[0] if visit else None,
                last_by=names.get(visit[2], "") if visit else "",
                seen_since=read[1] if read and (on is None or read[1] > on) else None,
            )
        )
    return sorted(found, key=lambda x: x.rank)


def _newest(session: Session, kinds: list[str], now: datetime) -> dict[int, tuple[str, date, int]]:
    """Return id, site day and author of each site's newest standing entry of some kinds.

    One whose time lies ahead of now counts for nothing here: its clock was wrong.
    """
    place = sa.func.row_number().over(
        partition_by=col(Entry.site_id),
        order_by=(col(Entry.observed_at).desc(), col(Entry.id).desc()),
    )
    ranked = (
        sa.select(
            col(Entry.site_id), col(Entry.id), col(Entry.observed_at), col(Entry.utc_offset_min),
            col(Entry.by_id), place.label("place"),
        )
        .where(
            col(Entry.kind).in_(kinds),
            col(Entry.observed_at) <= now + CLOCK_SKEW,
            standing_only(session, Entry.id, what_stands(session)),
        )
        .subquery()
    )  # fmt: skip
    rows = session.execute(sa.select(ranked).where(ranked.c.place == 1))
    return {site: (key, day_of(at, offset), by) for site, key, at, offset, by, _ in rows}


def chosen(
    found: Sequence[DueLine],
    *,
    person: str = "",
    round_: str = "",
    state: str = "",
    words: str = "",
) -> list[DueLine]:
    """Return the lines of a person (an id, or "none"), a round, a state, with some words."""
    sought = words.casefold().strip()
    return [
        x
        for x in found
        if (not person or _is_of(x, person))
        and (not round_ or x.round == round_)
        and (not state or x.due.state == state)
        and (not sought or sought in f"{x.site.name} {x.site.code}".casefold())
    ]


def _is_of(line: DueLine, person: str) -> bool:
    named = line.plan.row.person_id if line.plan else None
    return named is None if person == NOBODY else str(named) == person


def counts(found: Sequence[DueLine]) -> list[tuple[str, int]]:
    """Return how many sites are in each state, those with none left out."""
    number = Counter(line.due.state for line in found)
    return [(state, number[state]) for state in DUE_STATES if number[state]]


def rounds(found: Sequence[DueLine]) -> list[str]:
    return sorted({line.round for line in found if line.round})
