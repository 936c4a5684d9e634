"""Which readings the office has reviewed, for the mark on the phone.

A reading is reviewed when its time lies in a reviewed or approved month of its structure, or when
its own item of the review queue was accepted.
"""

from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.services.corrections import decisions
from app.services.days.state import DRAFT, states
from app.services.series.months import month_of


def mark_reviewed(
    session: Session, readings: list[dict[str, Any]], utc_offset_min: int
) -> list[dict[str, Any]]:
    """Return the readings of one site with "reviewed" true or false beside their figures."""
    months = {
        key: {month for month, row in states(session, key).items() if row.state != DRAFT}
        for key in {one["structure_id"] for one in readings if one["structure_id"] is not None}
    }
    answers = decisions.newest(session, [f"differs:{one['id']}" for one in readings])
    out = []
    for one in readings:
        at = datetime.fromisoformat(one["observed_at"]).timestamp()
        seen = month_of(int(at), utc_offset_min) in months.get(one["structure_id"], set())
        answer = answers.get(f"differs:{one['id']}")
        out.append({**one, "reviewed": seen or bool(answer and answer.action == "accept")})
    return out
