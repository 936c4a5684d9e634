"""What rating again changes of a long record, as figures to show."""

from dataclasses import dataclass
from datetime import date
from typing import Any


@dataclass(frozen=True)
class Tally:
    """How many of something change, and by how much where there is a figure before and after.

    `mean_pct` and `largest_pct` are over the `compared` ones; `largest_at` says when.
    """

    total: int = 0
    changed: int = 0
    compared: int = 0
    mean_pct: float | None = None
    largest_pct: float | None = None
    largest_at: str = ""


@dataclass(frozen=True)
class VolumeChange:
    """A volume before and after, None where nothing is known."""

    before_m3: float | None
    after_m3: float | None

    @property
    def change_pct(self) -> float | None:
        return change_of_pct(self.before_m3, self.after_m3)


@dataclass(frozen=True)
class MonthChange(VolumeChange):
    """A month of which something changes."""

    month: str
    state: str
    points: int
    days: int


@dataclass(frozen=True)
class YearChange(VolumeChange):
    """A water year of which the volume changes."""

    period: str


@dataclass(frozen=True, kw_only=True)
class AnswerChange:
    """A limit over one of its periods whose use or answer changes; amounts in `unit`."""

    limit_id: int
    limit_words: str
    amount: float
    unit: str
    first: date
    last: date
    before: float | None
    after: float | None
    answer_before: str
    answer_after: str
    ahead_before: str
    ahead_after: str

    @property
    def turns(self) -> bool:
        """Tell whether the answer itself is another one, now or at the end of the period."""
        return (self.answer_before, self.ahead_before) != (self.answer_after, self.ahead_after)

    @property
    def change_pct(self) -> float | None:
        return change_of_pct(self.before, self.after)


@dataclass(frozen=True, kw_only=True)
class RecordChange:
    """What making the record of one structure again changes."""

    structure_id: int
    name: str
    points: Tally
    days: Tally
    months: list[MonthChange]
    years: list[YearChange]
    answers: list[AnswerChange]
    answers_looked_at: int

    @property
    def turning(self) -> list[AnswerChange]:
        return [x for x in self.answers if x.turns]

    def months_by_state(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for line in self.months:
            found[line.state] = found.get(line.state, 0) + 1
        return found

    @property
    def words(self) -> str:
        """Return what changed in a line."""
        states = ", ".join(f"{n} {state}" for state, n in self.months_by_state().items())
        volumes = ", ".join(
            f"{x.period} {x.before_m3 or 0.0:.0f} to {x.after_m3 or 0.0:.0f} m3"
            for x in self.years
            if None not in (x.before_m3, x.after_m3)
        )
        return (
            f"{len(self.months)} months ({states or 'none'}), {self.days.changed} days, "
            f"{self.points.changed} logger readings; water years: {volumes or 'as before'}; "
            f"{len(self.turning)} answers of takes turned"
        )

    def summary(self) -> dict[str, Any]:
        """Return the counts and changes, for the audit trail and the command line."""
        return {
            "structure_id": self.structure_id,
            "structure": self.name,
            "points": vars(self.points),
            "days": vars(self.days),
            "months": len(self.months),
            "months_by_state": self.months_by_state(),
            "years": [{**vars(x), "change_pct": x.change_pct} for x in self.years],
            "takes_looked_at": self.answers_looked_at,
            "takes_with_another_figure": len(self.answers),
            "takes_with_another_answer": len(self.turning),
        }


def change_of_pct(before: float | None, after: float | None) -> float | None:
    return 100.0 * (after - before) / before if before and after is not None else None
