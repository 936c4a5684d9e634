"""A mark of the flow history: when it holds, what it says, and the page that it opens."""

from dataclasses import dataclass, field
from datetime import datetime

from app.services.series.months import instant

READING, GAUGING, CORRECTION = "staff reading", "check gauging", "correction"
RATING, ZERO, LIMIT = "rating", "gauge zero", "take limit"
MARK_KINDS = (READING, GAUGING, CORRECTION, RATING, LIMIT)  # a gauge zero comes with the ratings
EARLIEST_S, LATEST_S = -(2**31), 2**32  # 1901 to 2106: no clock of a logger or phone is outside


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One mark of the flow history: when it holds, what it says, and the page that it opens.

    `discharge_m3s` is given only with its uncertainty. `parts` are the stretches of a limit.
    """

    kind: str
    from_s: int
    to_s: int
    title: str
    words: str
    href: str
    by: str = ""
    discharge_m3s: float | None = None
    uncertainty_pct: float | None = None
    head_m: float | None = None
    tailwater_m: float | None = None
    flow_code: int | None = None
    flow: str = ""
    flags: list[str] = field(default_factory=list)
    amount_m3s: float | None = None
    parts: list[tuple[int, int]] = field(default_factory=list)

    @property
    def code(self) -> int | str | None:
        """What its shape is: of a reading the flow word, of a gauging a diamond."""
        return "gauging" if self.kind == GAUGING else self.flow_code

    @property
    def begins_at(self) -> datetime:
        return instant(self.from_s)

    @property
    def ends_at(self) -> datetime:
        return instant(self.to_s)
