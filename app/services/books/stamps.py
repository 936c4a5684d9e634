"""Day and time of a row on the clock of the book; what can be two is refused, never chosen."""

import re
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta, timezone

from app.errors import BadInput
from app.services.loggers.reader.cells.stamps import (
    DAY_FIRST,
    LONGEST,
    MONTH_FIRST,
    match_stamp,
    month_of_name,
    possible_orders,
)

SUCH_AS = "Write it as 2024-03-05 and 07:30."
_DOTTED = re.compile(r"\d{1,2}\.\d{1,2}\.")


def joined(day: str, clock: str) -> str:
    """Return day and time of a row as one text; one cell may hold both."""
    return f"{day} {clock}".strip()


def order_of(days: Iterable[str], said: str) -> str:
    """Return the order of day and month: as said, else the one that all cells with marks allow."""
    if said:
        return said
    cells = [day.split()[0] for day in days if day.split() and not _DOTTED.match(day)]
    found = [one for one in possible_orders(cells) if one in (DAY_FIRST, MONTH_FIRST)]
    return found[0] if len(found) == 1 else ""


def moment(text: str, order: str, utc_offset_min: int) -> datetime:
    """Return the instant that day and time of a row name.

    Parameters
    ----------
    order : "day first", "month first", or "" where neither is known
    utc_offset_min : int
        Clock of the book; a zone written in the cell wins.

    Raises
    ------
    BadInput
        When it is no day with a time, or can be two days.
    """
    if not text:
        raise BadInput("day", "", "a day with a time is needed", SUCH_AS)
    found = match_stamp(text) if len(text) <= LONGEST else None
    parts = found.groupdict() if found else {}
    if not parts or (parts.get("a") is None and parts.get("y") is None):
        raise BadInput("day", text[:60], "is no day with a time", SUCH_AS)
    if parts.get("H") is None:
        raise BadInput("time", text[:60], "the time of day is missing", SUCH_AS)
    offset = timezone(timedelta(minutes=_zone(parts, utc_offset_min)))
    date = _date(text, parts, order)
    try:
        local = datetime(*date, *_clock(parts), tzinfo=offset)
    except (ValueError, OverflowError):
        raise BadInput("day", text[:60], "there is no such day or time", SUCH_AS) from None
    if not 1990 <= local.year <= 2100:
        raise BadInput(
            "day", text[:60], "the year must lie between 1990 and 2100", "Check the year."
        )
    return local.astimezone(UTC)


def _date(text: str, parts: dict[str, str | None], order: str) -> tuple[int, int, int]:
    year = parts.get("y") or parts.get("c") or ""
    if len(year) != 4:
        raise BadInput(
            "day", text[:60], "a year of two digits can be two", "Write all four digits."
        )
    if parts.get("doy"):
        raise BadInput("day", text[:60], "counts the days of the year", SUCH_AS)
    if parts.get("name"):
        month = month_of_name(parts["name"] or "")
        if month is None:
            raise BadInput("day", text[:60], "names no month", SUCH_AS)
        return int(year), month, int(parts["d"] or 0)
    if parts.get("m"):
        return int(year), int(parts["m"] or 0), int(parts["d"] or 0)
    a, b = int(parts["a"] or 0), int(parts["b"] or 0)
    if _DOTTED.match(text):
        order = DAY_FIRST
    if order == "" and a <= 12 and b <= 12 and a != b:
        raise BadInput(
            "day",
            text[:60],
            "can be two days: day first or month first",
            "Say the order of the book above the rows, or write the day as 2024-03-05.",
        )
    day, month = (b, a) if order == MONTH_FIRST or (order == "" and b > 12) else (a, b)
    return int(year), month, day


def _clock(parts: dict[str, str | None]) -> tuple[int, int, int]:
    hour = int(parts["H"] or 0)
    half = (parts.get("half") or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    return hour, int(parts["M"] or 0), int(parts.get("S") or 0)


def _zone(parts: dict[str, str | None], utc_offset_min: int) -> int:
    if parts.get("sign"):
        minutes = int(parts["zh"] or 0) * 60 + int(parts.get("zm") or 0)
        if minutes > 14 * 60:
            raise BadInput("time", "", "no clock is so far from UTC", SUCH_AS)
        return -minutes if parts["sign"] == "-" else minutes
    return 0 if parts.get("zone") else utc_offset_min
