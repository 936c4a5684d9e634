"""What is stale, as people are told of it: months, readings, and both of a site.

Nothing is decided here: `staleness` says what is stale.

Public: StaleMonth, StaleReadings, SiteStale
"""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from app.records.sites import Site
from app.services.approval_state import APPROVED, DRAFT
from app.services.site_months import month_text


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

    @property
    def title(self) -> str:
        is_approved = "is approved and " if self.approved else ""
        return f"{self.month} {is_approved}no longer follows what is in force"

    @property
    def remedy(self) -> str:
        if self.approved:
            return "it was left as it is: open it again with a reason, or accept that it stands"
        return f"it is {self.state}: rate the site again"

    def act(self, site_id: int) -> str:
        """Return the address of the act that mends it."""
        if self.approved:
            return f"/structures/{self.structure_id}/months#m-{self.month}"
        return f"/sites/{site_id}/rate-again"


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

    @property
    def state(self) -> str:
        return DRAFT

    @property
    def title(self) -> str:
        one = self.count == 1
        said = "reading no longer follows" if one else "readings no longer follow"
        return f"{self.count} {said} what is in force"

    @property
    def remedy(self) -> str:
        return "rate the site again"

    def act(self, site_id: int) -> str:
        """Return the address of the act that mends it."""
        return f"/sites/{site_id}/rate-again"


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
            said.append(f"{self.reading_count} reading{'' if self.reading_count == 1 else 's'}")
        if self.waiting:
            states = Counter(x.state for x in self.waiting)
            listed = ", ".join(f"{n} {state}" for state, n in sorted(states.items()))
            count = len(self.waiting)
            said.append(f"{count} month{'' if count == 1 else 's'} of the record ({listed})")
        return " and ".join(said) or "nothing"

    @property
    def why(self) -> list[str]:
        """Return the reasons of all of it, each once."""
        found = [word for row in (*self.months, *self.readings) for word in row.why]
        return list(dict.fromkeys(found))

    @property
    def held_by_structure(self) -> list[tuple[int, str, list[str]]]:
        """Return structure, its name and its approved months that were left."""
        return [
            (key, name, [x.month for x in self.held if x.structure_id == key])
            for key, name in self.structures.items()
            if any(x.structure_id == key for x in self.held)
        ]
