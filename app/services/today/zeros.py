"""Gauge zeros that are not proven, and levels that are overdue.

A head is no better than the zero under it. A zero is proven by a level run that stands and set it;
crest and staff are levelled again every year (common practice), and where nobody has, the list
says since when.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.language.words import counted
from app.records.entries import Entry
from app.records.sites import GaugeZero, Site, Structure
from app.services.entries.links import standing_only, what_stands
from app.services.settings.in_force import value
from app.services.sites.dated import histories, in_force

NONE, NOT_PROVEN, OVERDUE = "no zero in force", "not proven", "levels overdue"
RANK = (NONE, NOT_PROVEN, OVERDUE)


@dataclass(frozen=True, kw_only=True)
class ZeroLine:
    """A structure whose gauge zero needs somebody with a level."""

    site: Site
    structure: Structure
    state: str
    words: str
    zero_from: datetime | None
    levelled_at: datetime | None
    now: datetime

    @property
    def levelled_days_ago(self) -> int | None:
        return None if self.levelled_at is None else (self.now - self.levelled_at).days

    def as_row(self) -> dict[str, Any]:
        """Return the line as a row of ZERO_COLUMNS."""
        return {
            "site_id": self.site.id,
            "site_code": self.site.code,
            "site_name": self.site.name,
            "structure_id": self.structure.id,
            "structure": self.structure.name,
            **{
                key: getattr(self, key)
                for key in ("state", "words", "zero_from", "levelled_at", "levelled_days_ago")
            },
        }


def zeros_due(session: Session, now: datetime) -> list[ZeroLine]:
    """Return the structures whose zero is missing, not proven or long not levelled, worst first."""
    places = session.exec(
        select(Structure, Site)
        .where(Structure.site_id == Site.id)
        .order_by(Site.name, col(Structure.id))
    ).all()
    zeros = histories(session, GaugeZero, [s.id for s, _ in places if s.id is not None])
    links = what_stands(session)
    levelled = _levelled(session, now)
    every = timedelta(seconds=value(session, "levels_every_s"))
    found = []
    for structure, site in places:
        zero = in_force(zeros[structure.id or 0], now)
        last = levelled.get(structure.id or 0)
        proven = zero is not None and zero.run_entry_id is not None
        proven = proven and links.stands(zero.run_entry_id or "") if zero else False
        state, words = _state(zero, proven=proven, last=last, now=now, every=every)
        if state:
            found.append(
                ZeroLine(
                    site=site,
                    structure=structure,
                    state=state,
                    words=words,
                    zero_from=zero.valid_from if zero else None,
                    levelled_at=last,
                    now=now,
                )
            )
    return sorted(found, key=lambda x: (RANK.index(x.state), -(x.levelled_days_ago or 10**6)))


def _state(
    zero: GaugeZero | None, *, proven: bool, last: datetime | None, now: datetime, every: timedelta
) -> tuple[str, str]:
    """Return the state of a gauge zero and its words; two empty ones where nothing is due."""
    if zero is None:
        return NONE, "Its staff has no zero over the crest, so no reading gives a discharge."
    if not proven:
        words = "It was typed in: no level run that stands has set it."
        if zero.run_entry_id is not None:
            words = "The level run that set it stands no more."
        elif last is not None:
            words += f" The run of {last:%Y-%m-%d} has set no zero."
        return NOT_PROVEN, words
    if last is None or now - last > every:
        since = "a year (common practice)" if every.days == 365 else counted(every.days, "day")
        return OVERDUE, f"Crest and staff were not levelled for over {since}."
    return "", ""


def _levelled(session: Session, now: datetime) -> Mapping[int, datetime]:
    """Return the time of the newest level run that stands, by structure."""
    rows = session.execute(
        sa.select(col(Entry.structure_id), sa.func.max(col(Entry.observed_at)))
        .where(
            col(Entry.kind) == "level_run",
            col(Entry.structure_id).is_not(None),
            col(Entry.observed_at) <= now,
            standing_only(session, Entry.id, what_stands(session)),
        )
        .group_by(col(Entry.structure_id))
    )
    return {key: at for key, at in rows if key is not None}
