"""Order of day and month, and the zone of the stamps: decided where certain, else asked."""

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.services.loggers.reader.cells.stamps import (
    DAY_FIRST,
    MONTH_FIRST,
    YEAR_FIRST,
    Form,
    possible_orders,
)
from app.services.loggers.reader.cells.times import NOT_A_TIME, read_times
from app.services.loggers.reader.guesses import Guess, choice
from app.services.loggers.reader.table import Table

STANDARD, UTC = "standard", "utc"
DAYLIGHT, DAYLIGHT_CHANGES = "daylight", "daylight changes"
ZONES = (STANDARD, UTC, DAYLIGHT, DAYLIGHT_CHANGES)
IN_STAMPS = "in the stamps"
_HEADER_ZONE = re.compile(
    r"\b(?:UTC|GMT)\s*(?:([+-])\s?(\d{1,2})(?::?(\d{2}))?)?(?![\w])(?!\W{0,2}(?:offset|diff|shift))"
)

_ZONE_CELL = re.compile(
    r"Z|(?:UTC|GMT)(?:[+-]\d{1,2}(?::?\d{2})?)?|[+-]\d{2}:?\d{2}|[A-Z]{1,4}T|ME?S?Z"
)
_KEY_OFFSET = re.compile(
    r"(?i)(?:time ?zone|utc offset|gmt offset|time offset|\btz)\W{0,4}"
    r"([+-])\s?(\d{1,2})(?::?(\d{2}))?(?!\d)"
)
_UNCLEAR_ZONE = re.compile(
    r"(?i)\btime ?zone\W+\w|\b(?:utc|gmt|time) offset\W+\w|\btz\W+\w|daylight|summer ?time|"
    r"\bdst\b|\b(?:standard|local) time\W*$"
)
_NO_DAYLIGHT = re.compile(
    r"(?i)(?:daylight|summer|dst)[^,;]{0,30}?(?:\b(?:off|no|none|not|disabled|false|0)\b)|"
    r"\b(?:no|without) (?:daylight|summer|dst)|(?:site|standard|local standard) time\s*$|"
    r"time ?zone\W+(?:local|site)?\s*standard"
)


def zone_minutes(text: str) -> int | None:
    """Return the minutes of an offset such as +12:00, None when it is none."""
    found = re.fullmatch(r"([+-])(\d{2}):(\d{2})", text)
    if not found or int(found[2]) > 14 or int(found[3]) > 59:
        return None
    return (int(found[2]) * 60 + int(found[3])) * (1 if found[1] == "+" else -1)


def date_order(table: Table, answers: Mapping[str, Any], guesses: list[Guess]) -> str:
    asked = choice(answers, "date_order", (DAY_FIRST, MONTH_FIRST, YEAR_FIRST))
    if table.form is not Form.CALENDAR:
        guesses.append(Guess("time", str(table.form), f"such as {table.times()[0]}"))
        return asked or DAY_FIRST
    cells = table.times()
    dates = [_date_part(cell) for cell in cells]
    orders = possible_orders(dates) or possible_orders(cells)
    if not orders:
        guesses.append(Guess("date_order", "as written", f"such as {cells[0]}"))
        return asked or DAY_FIRST
    if asked is not None:
        guesses.append(Guess("date_order", asked, "as answered", tuple(orders)))
        return asked
    why = "no other order fits every date"
    if YEAR_FIRST in orders and len(orders) > 1:
        jump = {order: _longest_step_s(cells[: table.head_rows], order) for order in orders}
        calm = [order for order in orders if jump[order] < 32 * DAY_S]
        if calm and all(jump[order] > 300 * DAY_S for order in orders if order not in calm):
            # a year that changes from day to day is no year
            why = "in any other order the record jumps by years" if len(calm) == 1 else why
            orders = calm
    if len(orders) == 1:
        guesses.append(Guess("date_order", orders[0], why))
        return orders[0]
    even = {order: _evenness(cells[: table.head_rows], order) for order in orders}
    best = max(orders, key=lambda order: even[order])
    why = f"every part of every date fits both; {even[best]:.0%} of the steps are then alike"
    others = tuple(order for order in orders if order != best)
    guesses.append(Guess("date_order", best, why, others, ask=True))
    return best


def _date_part(cell: str) -> str:
    """Return the date of a stamp, wherever the clock stands."""
    words = [word for word in cell.split(" ") if ":" not in word.partition("T")[0]]
    dates = [word for word in words if any(map(str.isdigit, word))]
    return dates[0].split("T")[0].rstrip(",") if dates else cell


def _evenness(cells: list[str], order: str) -> float:
    """Return the share of the commonest step among all steps, read in this order."""
    local = read_times(cells, Form.CALENDAR, order).local_s
    steps = np.diff(local[local != NOT_A_TIME])
    if steps.size == 0:
        return 0.0
    _, counts = np.unique(steps, return_counts=True)
    return float(counts.max() / steps.size)


def _longest_step_s(cells: list[str], order: str) -> int:
    local = read_times(cells, Form.CALENDAR, order).local_s
    steps = np.abs(np.diff(local[local != NOT_A_TIME]))
    return int(steps.max()) if steps.size else 0


def _zones_beside(table: Table) -> list[str]:
    """Return the zones that stand in the column after the time, none when it holds others."""
    cells = [cell for cell in table.cells(table.time_at + table.time_columns) if cell]
    kinds = sorted(set(cells))
    if not cells or len(kinds) > 3 or not all(_ZONE_CELL.fullmatch(kind) for kind in kinds):
        return []
    return kinds


def _plain_zone(text: str) -> str | None:
    """Return the answer that a zone's cell stands for, None for a name without an offset."""
    if text in ("Z", "UTC", "GMT"):
        return UTC
    found = re.search(r"([+-])(\d{1,2})(?::?(\d{2}))?$", text)
    zone = f"{found[1]}{int(found[2]):02d}:{int(found[3] or 0):02d}" if found else ""
    return zone if zone_minutes(zone) is not None else None


def time_zone(table: Table, answers: Mapping[str, Any], guesses: list[Guess]) -> str:
    asked = answers.get("time_zone")
    if asked is not None and asked not in ZONES and zone_minutes(str(asked)) is None:
        raise BadInput(
            "time_zone",
            asked,
            "is none of the choices",
            f"One of {', '.join(ZONES)}, or an offset such as +12:00.",
        )
    stamped = table.form is Form.CALENDAR and bool(
        re.search(r"(?:\d|[Mm]\.?)\s*(?:Z|UTC|GMT|[+-]\d{2}:?\d{2}|[+-]\d{2})$", table.times()[0])
        and re.search(r":", table.times()[0])
    )
    if stamped:
        guesses.append(Guess("time_zone", IN_STAMPS, f"such as {table.times()[0]}"))
        return IN_STAMPS
    if asked is not None:
        guesses.append(Guess("time_zone", str(asked), "as answered", ZONES))
        return str(asked)
    if table.form in (Form.EPOCH, Form.EPOCH_MS):
        guesses.append(Guess("time_zone", UTC, "seconds since 1970 count in UTC", ZONES))
        return UTC
    beside = _zones_beside(table)
    if len(beside) == 1 and (zone := _plain_zone(beside[0])):
        where = table.label(table.time_at + table.time_columns)
        guesses.append(Guess("time_zone", zone, f"column {where} says {beside[0]}", ZONES))
        return zone
    if table.marks.zones or beside:
        seen = ", ".join(zone.upper() for zone in table.marks.zones or beside)
        likely = DAYLIGHT_CHANGES if len(table.marks.zones or beside) > 1 else STANDARD
        why = f"the stamps carry {seen}: a name of a zone does not say its offset for certain"
        others = tuple(zone for zone in ZONES if zone != likely)
        guesses.append(Guess("time_zone", likely, why, others, ask=True))
        return likely
    own = table.names[table.time_at] if table.names else ""
    others_named = {table.names[at] for at in table.time_rivals}
    held = [line for line in table.header if not (table.time_rivals and own and own in line)]
    names = [name for name in table.names if name and name not in others_named]
    # the name over the time first, then the lines above, the nearest first
    for line in (own, " ".join(names), *reversed(held)):
        key = _KEY_OFFSET.search(line[:400])
        found = key or _HEADER_ZONE.search(line[:400])
        zone = UTC
        if found and found[1]:
            zone = f"{found[1]}{int(found[2]):02d}:{int(found[3] or 0):02d}"
        if found and (zone == UTC or zone_minutes(zone) is not None):
            rest = line[: found.start()] + line[found.end() :]
            # behind a clock of its own it is that clock's zone, perhaps not the rows'
            clock = re.search(r"\d{1,2}:\d{2}", rest[:400]) is not None
            why = f"the header says {found[0].strip()[:60]}"
            why += " behind a time of its own" if clock else ""
            rest_of = tuple(one for one in ZONES if one != zone)
            guesses.append(Guess("time_zone", zone, why, rest_of if clock else ZONES, ask=clock))
            return zone
    for line in (own, *reversed(held)):
        unclear = _UNCLEAR_ZONE.search(line[:400])
        if unclear and not _NO_DAYLIGHT.search(line[:400]):
            daylight = re.search(r"(?i)daylight|summer|\bdst\b", line[:400])
            likely = DAYLIGHT if daylight else STANDARD
            why = f"the header says {line.strip()[:60]!r}, which gives no offset from UTC"
            others = tuple(zone for zone in ZONES if zone != likely)
            guesses.append(Guess("time_zone", likely, why, others, ask=True))
            return likely
    why = "the file does not say; a logger is best left on the site's standard time"
    guesses.append(Guess("time_zone", STANDARD, why, (UTC, DAYLIGHT, DAYLIGHT_CHANGES)))
    return STANDARD
