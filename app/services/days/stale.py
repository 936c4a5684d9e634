"""What is stale, as people are told of it: months, readings, and both of a site.

Nothing is decided here: `staleness` says what is stale.
"""

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from app.language.words import counted
from app.records.sites import Site
from app.services.days.state import APPROVED
from app.services.series.months import month_text


@dataclass(frozen=True)
class StaleMonth:
    """A month whose stored flows no longer follow what is in force, and why."""

    structure_id: int
    number: int
    state: str
    why: tuple[str, ...]
    now: str  # a mark of what it would be made from, so that a look and an act agree

    @property
    def month(self) -> str:
        return month_text(self.number)

    @property
    def approved(self) -> bool:
        return self.state == APPROVED

    @property
    def words(self) -> str:
        return "; ".join(self.why)


@dataclass(frozen=True)
class StaleReadings:
    """The readings of a structure whose discharge no longer follows what is in force."""

    structure_id: int
    entry_ids: frozenset[str]
    first_at: datetime
    last_at: datetime
    why: tuple[str, ...]

    @property
    def count(self) -> int:
        return len(self.entry_ids)

    @property
    def words(self) -> str:
        return "; ".join(self.why)

    of = "readings"
    approved = False
    remedy = "rate the site again"

    @property
    def mark(self) -> str:
        """Return a mark of these very readings and reasons."""
        return _mark([*sorted(self.entry_ids), *self.why])

    @property
    def title(self) -> str:
        said = counted(self.count, "reading no longer follows", "readings no longer follow")
        return f"{said} what is in force"

    def act(self, site_id: int) -> str:
        """Return the address of the act that mends it."""
        return f"/sites/{site_id}/rate-again"


@dataclass(frozen=True)
class StaleMonths:
    """Months that one step mends: all that are not approved by the act, an approved one alone."""

    lines: tuple[StaleMonth, ...]

    @property
    def first(self) -> int:
        return self.lines[0].number

    @property
    def last(self) -> int:
        return self.lines[-1].number

    @property
    def approved(self) -> bool:
        return self.lines[0].approved

    @property
    def of(self) -> str:
        """Return the month, or the first and the last one."""
        first, last = self.lines[0].month, self.lines[-1].month
        return first if first == last else f"{first} to {last}"

    @property
    def mark(self) -> str:
        """Return a mark of these months and of what is in force: an answer to it is to no other."""
        return f"{self.lines[0].month}:{_mark([x.now for x in self.lines])}"

    @property
    def title(self) -> str:
        if self.approved:
            return f"{self.of} is approved and no longer follows what is in force"
        if len(self.lines) == 1:
            return f"{self.of} no longer follows what is in force"
        return f"{counted(len(self.lines), 'month')}, {self.of}, no longer follow what is in force"

    @property
    def words(self) -> str:
        return "; ".join(dict.fromkeys(why for x in self.lines for why in x.why))

    @property
    def remedy(self) -> str:
        if self.approved:
            return "it was left as it is: open it again with a reason, or accept that it stands"
        return f"{by_state(self.lines)}: rate the site again"

    def act(self, site_id: int) -> str:
        """Return the address of the step that mends it."""
        if self.approved:
            return f"/structures/{self.lines[0].structure_id}/months#m-{self.of}"
        return f"/sites/{site_id}/rate-again"


def grouped(months: Sequence[StaleMonth]) -> list[StaleMonths]:
    """Return the months of one structure by the step that mends them."""
    waiting = tuple(x for x in months if not x.approved)
    alone = [StaleMonths((x,)) for x in months if x.approved]
    return [StaleMonths(waiting), *alone] if waiting else alone


def by_state(months: Sequence[StaleMonth]) -> str:
    """Return how many months are in each state, such as 12 draft, 1 reviewed."""
    states = Counter(x.state for x in months)
    return ", ".join(f"{n} {state}" for state, n in sorted(states.items()))


def _mark(parts: Sequence[str]) -> str:
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:10]


@dataclass(frozen=True)
class SiteStale:
    """What of a site is stale: `waiting` is made again by one act, `held` is approved."""

    site: Site
    structures: dict[int, str]
    months: tuple[StaleMonth, ...]
    readings: tuple[StaleReadings, ...]

    def __bool__(self) -> bool:
        return bool(self.months or self.readings)

    @property
    def waiting(self) -> tuple[StaleMonth, ...]:
        return tuple(x for x in self.months if not x.approved)

    @property
    def held(self) -> tuple[StaleMonth, ...]:
        return tuple(x for x in self.months if x.approved)

    @property
    def act_helps(self) -> bool:
        """Tell whether rating again does anything here."""
        return bool(self.waiting or self.readings)

    @property
    def reading_count(self) -> int:
        return sum(x.count for x in self.readings)

    @property
    def count(self) -> int:
        return self.reading_count + len(self.waiting)

    @property
    def count_words(self) -> str:
        """Return how much the act would do, such as 3 readings and 14 months (12 draft, ...)."""
        said = []
        if self.reading_count:
            said.append(counted(self.reading_count, "reading"))
        if self.waiting:
            listed = by_state(self.waiting)
            count = len(self.waiting)
            said.append(f"{counted(count, 'month')} of the record ({listed})")
        return " and ".join(said) or "nothing"

    @property
    def why(self) -> list[str]:
        """Return the reasons of all of it, each once."""
        found = [word for month in self.months for word in month.why]
        found += [word for readings in self.readings for word in readings.why]
        return list(dict.fromkeys(found))

    @property
    def held_by_structure(self) -> list[tuple[int, str, list[str]]]:
        """Return structure, its name and its approved months that were left."""
        return [
            (key, name, [x.month for x in self.held if x.structure_id == key])
            for key, name in self.structures.items()
            if any(x.structure_id == key for x in self.held)
        ]
