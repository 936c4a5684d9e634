"""What a line of Today is: how pressing, how many, the list it opens, and the first few things."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.services.today.board import SiteRow

THINGS_NAMED = 3  # things named under a line; the list it opens holds all

# How pressing a line is: what is broken or lost, what goes wrong now, what can wait.
BROKEN, PRESSING, SOON, WHEN_THERE_IS_TIME = 0, 1, 2, 3
URGENCY = {
    BROKEN: "act now",
    PRESSING: "today",
    SOON: "soon",
    WHEN_THERE_IS_TIME: "when there is time",
}


@dataclass(frozen=True, kw_only=True)
class Thing:
    """One thing under a line, with the address of the page where it is settled."""

    words: str
    address: str


@dataclass(frozen=True, kw_only=True)
class Line:
    """Something that needs a person; `count` is the length of the list at `address`."""

    key: str
    urgency: int
    count: int
    title: str
    address: str
    things: tuple[Thing, ...] = field(default=())

    @property
    def urgency_words(self) -> str:
        return URGENCY[self.urgency]

    @property
    def more(self) -> int:
        """Return how many are not named under the line."""
        return self.count - len(self.things)

    def as_row(self) -> dict[str, Any]:
        """Return the line as a row of `tables.WORK_COLUMNS`."""
        return {
            **{key: getattr(self, key) for key in ("key", "count", "title", "address")},
            "urgency": self.urgency_words,
            "things": [thing.words for thing in self.things],
        }


@dataclass(frozen=True, kw_only=True)
class Look:
    """What every source is asked with: the database, the time, and the sites as the board has them.

    The sites are read already, so that no source reads them again.
    """

    session: Session
    now: datetime
    rows: Sequence[SiteRow]


Source = Callable[[Look], list[Line]]


def counted(count: int, one: str, many: str) -> str:
    """Return a count with its noun, plural where it is not one."""
    return f"{count} {one if count == 1 else many}"
