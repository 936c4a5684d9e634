"""Whether an instrument was in date on a day, by its calibrations and checks up to that day.

What came after an observation does not judge it, good or bad. Nothing on record is "unknown",
never fine; so is a calibration that nobody gave a due date.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

IN_DATE, OVERDUE, NOT_FIT, UNKNOWN = "in date", "overdue", "not fit for use", "unknown"
STATES = (NOT_FIT, OVERDUE, UNKNOWN, IN_DATE)
OUTCOMES = {
    "fit": "fit for use as found",
    "adjusted": "adjusted, then fit for use",
    "not_fit": "not fit for use",
}


@dataclass(frozen=True)
class Check:
    """A calibration, or a two-peg test of a level: the day, what it said, when the next is due."""

    on_day: date
    outcome: str
    due_on: date | None
    what: str


@dataclass(frozen=True)
class State:
    """Whether an instrument is in date on a day, with the check that says so."""

    word: str
    words: str
    due_on: date | None = None
    on_day: date | None = None

    @property
    def why(self) -> str:
        """Return the words after the first one, to stand below it."""
        return self.words.removeprefix(self.word).lstrip(": ")


def state_on(checks: Sequence[Check], day: date) -> State:
    """Return the state on a day.

    Parameters
    ----------
    checks : oldest first; those after the day are passed over

    A check that found the instrument not fit holds until one finds it fit or adjusts it. Of those
    after it the one due last counts, but a newer one without a due date ends what is overdue: it
    is unknown then.
    """
    known = [check for check in checks if check.on_day <= day]
    if not known:
        ahead = f" up to {day}" if checks else ""
        return State(UNKNOWN, f"{UNKNOWN}: no calibration on record{ahead}")
    last = known[-1]
    if last.outcome == "not_fit":
        return State(NOT_FIT, f"{NOT_FIT} by the {last.what} of {last.on_day}", None, last.on_day)
    place = max((k for k, c in enumerate(known) if c.outcome == "not_fit"), default=-1)
    held = known[place + 1 :]
    dated = [check for check in held if check.due_on is not None]
    best = max(dated, key=lambda c: (c.due_on or day, c.on_day), default=None)
    if best is not None and best.due_on is not None and day <= best.due_on:
        words = f"{IN_DATE}: {best.what} of {best.on_day}, next due {best.due_on}"
        return State(IN_DATE, words, best.due_on, best.on_day)
    if best is None or last.due_on is None:
        words = f"{UNKNOWN}: {last.what} of {last.on_day}, no due date given"
        return State(UNKNOWN, words, None, last.on_day)
    words = f"{OVERDUE}: {best.what} of {best.on_day}, was due {best.due_on}"
    return State(OVERDUE, words, best.due_on, best.on_day)
