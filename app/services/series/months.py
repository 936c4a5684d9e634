"""Months and days on a site's fixed clock, as numbers: what the record is cut and approved by."""

import re
from datetime import UTC, date, datetime, timedelta

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S

EPOCH = date(1970, 1, 1)
_MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])", re.ASCII)


def instant(t_s: float) -> datetime:
    """Return epoch seconds as an aware instant."""
    return datetime.fromtimestamp(int(t_s), UTC)


def day_number(day: date) -> int:
    return (day - EPOCH).days


def date_of(number: int) -> date:
    return EPOCH + timedelta(days=int(number))


def day_begins_s(number: int, offset_min: int) -> int:
    """Return the epoch second at which a site day begins."""
    return int(number) * DAY_S - offset_min * 60


def day_of(t_s: int, offset_min: int) -> int:
    """Return the site day an epoch second falls on."""
    return (int(t_s) + offset_min * 60) // DAY_S


def month_of_day(day: date) -> int:
    return (day.year - 1970) * 12 + day.month - 1


def first_of(month: int) -> date:
    return date(1970 + month // 12, month % 12 + 1, 1)


def month_days(month: int) -> tuple[int, int]:
    """Return the numbers of a month's first day and of the day after its last."""
    return day_number(first_of(month)), day_number(first_of(month + 1))


def month_of(t_s: int, offset_min: int) -> int:
    """Return the site month an epoch second falls in, months since January 1970."""
    return month_of_day(date_of(day_of(t_s, offset_min)))


def month_begins_s(month: int, offset_min: int) -> int:
    return day_begins_s(day_number(first_of(month)), offset_min)


def month_text(month: int) -> str:
    return f"{first_of(month):%Y-%m}"


def month_number(text: str) -> int:
    """Return the number of a month written such as 2025-07; raises BadInput."""
    found = _MONTH.fullmatch(text.strip())
    if found is None or not 1990 <= int(found[1]) <= 2100:
        raise BadInput(
            "month", text[:20], "a month is written as year and month", "Such as 2025-07."
        )
    return (int(found[1]) - 1970) * 12 + int(found[2]) - 1
