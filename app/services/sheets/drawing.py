"""The flow of a period as a drawing for paper: each day's mean with its least and greatest."""

import math
from collections.abc import Sequence
from datetime import date
from typing import Any

from app.language import words
from app.language.drawing import Drawing

WIDTH, HEIGHT = 900.0, 300.0
LEFT, RIGHT, TOP, BOTTOM = 70.0, 12.0, 14.0, 34.0
MOST_TICKS = 8


def hydrograph(rows: Sequence[dict[str, Any]], name: str, number: int) -> Drawing | None:
    """Return the days of a record drawn, None where no day has a flow; gaps stay gaps."""
    known = [row for row in rows if row["mean_m3s"] is not None]
    if not known:
        return None
    most = max(row["high_m3s"] or row["mean_m3s"] for row in known) or 1.0
    step = _step(most)
    top = math.ceil(most / step) * step
    wide = (WIDTH - LEFT - RIGHT) / max(len(rows), 1)

    def x(place: float) -> float:
        return LEFT + place * wide

    def y(flow: float) -> float:
        return HEIGHT - BOTTOM - flow / top * (HEIGHT - TOP - BOTTOM)

    out = Drawing(key=f"flow-{number}", width=WIDTH, height=HEIGHT, title=f"Daily flow, {name}")
    out.line([(0, 0), (WIDTH, 0), (WIDTH, HEIGHT), (0, HEIGHT)], "paper", closed=True)
    for k in range(round(top / step) + 1):
        out.line([(LEFT, y(k * step)), (WIDTH - RIGHT, y(k * step))], "leader")
        out.text(LEFT - 6, y(k * step) + 5, words.litres(k * step), "end")
    for place, row in enumerate(rows):
        if row["mean_m3s"] is None:
            continue
        low, high = row["low_m3s"], row["high_m3s"]
        if low is not None and high is not None:
            corners = [(x(place), y(low)), (x(place + 1), y(low)),
                       (x(place + 1), y(high)), (x(place), y(high))]  # fmt: skip
            out.line(corners, "band", closed=True)
        out.line([(x(place), y(row["mean_m3s"])), (x(place + 1), y(row["mean_m3s"]))], "water")
    every = max(1, math.ceil(len(rows) / MOST_TICKS))
    for place in range(0, len(rows), every):
        out.line([(x(place), HEIGHT - BOTTOM), (x(place), HEIGHT - BOTTOM + 5)], "axis")
        out.text(x(place), HEIGHT - 10, str(rows[place]["day"]), "start")
    out.line([(LEFT, TOP), (LEFT, HEIGHT - BOTTOM), (WIDTH - RIGHT, HEIGHT - BOTTOM)], "axis")
    out.description = _told(rows, known)
    return out


def _step(most: float) -> float:
    """Return a round step of which four to ten make the height."""
    power = 10.0 ** math.floor(math.log10(most / 4.0))
    return next(k * power for k in (1.0, 2.0, 2.5, 5.0, 10.0) if most / (k * power) <= 8.0)


def _told(rows: Sequence[dict[str, Any]], known: Sequence[dict[str, Any]]) -> str:
    first, last = rows[0]["day"], rows[-1]["day"]
    highest = max(known, key=lambda row: row["high_m3s"] or row["mean_m3s"])
    peak = words.litres(highest["high_m3s"] or highest["mean_m3s"])
    lacking = len(rows) - len(known)
    return (
        f"Line: mean of a day; band: its least to its greatest. {first} to {last}; greatest "
        f"{peak} on {_day(highest['day'])}; {words.counted(lacking, 'day')} without a mean."
    )


def _day(day: date) -> str:
    return day.isoformat()
