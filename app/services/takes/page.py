"""Views of the takes: every period on record, what needs attention, the calendar of a year."""

from datetime import date, timedelta
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series.limits import Verdict
from app.services.days import daily
from app.services.series.months import date_of, day_number
from app.services.takes.capacity import capacity
from app.services.takes.days import day_verdicts
from app.services.takes.limits import limit_line, limits, period_of
from app.services.takes.lines import UseLine
from app.services.takes.use import last_day, marked, season_of, use_of, use_of_many


def history_of_use(session: Session, structure_id: int, limit_id: int) -> list[UseLine]:
    """Return the use of a limit in every period on record, oldest first."""
    line = limit_line(session, limit_id)
    if line.structure_id != structure_id:
        raise BadInput("limit", limit_id, "is not of this structure", "Choose it again.")
    whole = daily.span(session, structure_id)
    if whole is None:
        return []
    day = max(whole[0], line.valid_from)
    final = min(whole[1], line.valid_to or whole[1])
    out = []
    while day <= final:
        _, last = period_of(line, day)
        if day <= last:
            out.append(use_of(session, line, min(last, final)))
        day = max(last, day) + timedelta(days=1)
    return marked(session, out)


def alerts(session: Session, as_of: date | None = None) -> list[UseLine]:
    """Return the limits that are over, near, projected over, or cannot be told, worst first."""
    found = []
    for line in use_of_many(session, limits(session), as_of):
        ahead = (line.projection or {}).get("verdict")
        if line.verdict != "within" or line.near or ahead == "over":
            found.append(line)
    rank = {"over": 0, "cannot tell": 2}
    return sorted(found, key=lambda x: (rank.get(x.verdict, 1), -(x.used_pct or 0.0)))


def heat(session: Session, structure_id: int, as_of: date | None = None) -> dict[str, Any]:
    """Return the volume of every day of a water year against the daily limit, for a calendar."""
    day = as_of or last_day(session, structure_id) or date_of(0)
    first, last = season_of(session, None, day)
    begin, end = day_number(first), day_number(last)
    held = [x for x in limits(session, structure_id) if x.kind == "daily" and x.holds(day)]
    limit = held[-1].amount if held else None
    found = daily.arrays(session, structure_id, begin, end)
    rows = {row["day"]: row for row in daily.daily(session, structure_id, first, last)}
    final = last_day(session, structure_id) or first
    until = min(last, final)
    most = capacity(session, structure_id, first, until).rate_m3s
    verdicts = None if limit is None else day_verdicts(found, limit, begin, end, most)
    known = found.volume_m3[np.isfinite(found.volume_m3)]
    largest = limit or (float(known.max()) if known.size else 0.0)
    days = []
    for k, (when, row) in enumerate(sorted(rows.items())):
        volume = row["volume_m3"]
        answer = None if verdicts is None else Verdict(int(verdicts[k])).word
        days.append(
            {
                "day": when.isoformat(),
                "volume_m3": volume,
                "share": None if volume is None or largest <= 0 else volume / largest,
                "verdict": answer if when <= final else None,
                "word": row["word"] if when <= final else "to come",
            }
        )
    return {"first": first.isoformat(), "last": last.isoformat(), "limit_m3": limit, "days": days}
