"""One line of use of a limit, and its answer in words."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from app.hydraulics.series import limits as sums
from app.hydraulics.series.limits import Verdict
from app.services.takes.capacity import Capacity
from app.services.takes.limits import LimitLine

MISSING_H = sums.SLACK_S / 3600.0  # longer than rounding


@dataclass(frozen=True, kw_only=True)
class UseLine:
    """Use of one limit over one of its periods, up to a day; amounts in `limit.unit`.

    `high` None: nobody can say how much. For a residual flow `used` is the least that was left
    and "over" says that less was left than must be.
    """

    limit: LimitLine
    first: date
    last: date
    as_of: date
    used: float | None
    uncertainty: float | None
    low: float | None
    high: float | None
    used_pct: float | None
    verdict: str
    near: bool
    times_over: int
    times_unknown: int
    worst_at: datetime | None
    missing_h: float
    capacity_m3s: float | None
    capacity_words: str
    words: str
    projection: dict[str, Any] | None
    stale: str = ""

    def as_row(self) -> dict[str, Any]:
        """Return the line as a row of USE_COLUMNS."""
        ahead = self.projection or {}
        return {
            **{k: v for k, v in vars(self).items() if k not in ("limit", "projection")},
            "structure": self.limit.structure_name,
            "limit_id": self.limit.id,
            "kind": self.limit.kind,
            "amount": self.limit.amount,
            "unit": self.limit.unit,
            "window_s": self.limit.window_s,
            "projected": ahead.get("expected"),
            "projected_low": ahead.get("low"),
            "projected_high": ahead.get("high"),
            "reached_day": ahead.get("reached_day"),
            "projected_verdict": ahead.get("verdict"),
        }


def said_of(
    line: LimitLine,
    verdict: Verdict,
    pct: float | None,
    missing_h: float,
    times: int,
    race: Capacity,
) -> str:
    """Return the answer in a sentence."""
    if line.kind == "residual":
        said = {"over": "less was left than must be", "within": "enough was left"}
        text = said.get(verdict.word, "cannot tell whether enough was left")
    else:
        text = verdict.word + ("" if pct is None else f", {pct:.0f} % of the limit")
    if times > 1:
        text += f", {times} times"
    if missing_h > MISSING_H:
        text += f"; {missing_h:.{0 if missing_h >= 10 else 1}f} h without record, {race.words}"
    return text
