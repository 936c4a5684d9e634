"""The calendar of takes as rows of months, for a page: which day, how dark, which words."""

from typing import Any

STEPS = 5  # shades from nothing to the limit; words and figures say the same


def calendar(heat: dict[str, Any]) -> dict[str, Any]:
    """Return the days of a heat view with their place in the table and one of a few shades."""
    days = []
    for day in heat["days"]:
        share = day["share"]
        step = 0 if share is None else min(STEPS, max(0, round(share * STEPS)))
        text = day["day"]
        days.append({**day, "month": text[:7], "number": int(text[8:]), "step": step})
    return {**heat, "days": days}
