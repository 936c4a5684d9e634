"""The forms of time stamps, recognised from a sample of cells."""

import re
from collections.abc import Sequence
from enum import StrEnum

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "day first", "month first", "year first"

LONGEST = 48


class Form(StrEnum):
    """How a time is written."""

    CALENDAR = "calendar date"
    SERIAL = "spreadsheet day number"
    EPOCH = "seconds since 1970"
    EPOCH_MS = "milliseconds since 1970"
    DAY_OF_YEAR = "year, day of year, hours and minutes"
    PARTS = "year, month, day, hours and minutes in columns"


_NAMES = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

MONTHS = {name: number for number, name in enumerate(_NAMES, 1)}

# the beginnings that other languages of the Latin script have of their own; longer ones first
_OTHER_MONTHS = (
    ("juil", 7), ("juin", 6), ("giu", 6), ("lug", 7), ("gen", 1), ("ene", 1), ("fév", 2),
    ("mär", 3), ("mrt", 3), ("maa", 3), ("avr", 4), ("abr", 4), ("mai", 5), ("maj", 5), ("mei", 5),
    ("mag", 5), ("aoû", 8), ("ago", 8), ("set", 9), ("okt", 10), ("out", 10), ("ott", 10),
    ("des", 12), ("dez", 12), ("dic", 12), ("déc", 12),
)  # fmt: skip

_ZONE = r"\s*(?P<zone>Z|UTC|GMT)?(?:(?P<sign>[+-])(?P<zh>\d{2}|\d(?!\d)):?(?P<zm>\d{2})?)?"

_HALF = r"\s*(?P<half>[AaPp]\.?\s?[Mm]\.?)?"

_CLOCK = r"(?P<H>\d{1,2})[:.h](?P<M>\d{2})(?:[:.](?P<S>\d{2})(?:[.,]\d{1,9})?)?" + _HALF + _ZONE

_DATES = (
    r"(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})\.?",
    r"(?P<a>\d{1,2})[-/.](?P<b>\d{1,2})[-/.](?P<c>\d{4}|\d{2})",
    r"(?P<d>\d{1,2})[-/. ]{1,2}(?P<name>[^\W\d_]{3,9})\.?[-/. ,]{1,2}(?P<y>\d{4}|\d{2})",
    r"(?P<name>[^\W\d_]{3,9})\.?[-/ ](?P<d>\d{1,2}),?[-/ ]+(?P<y>\d{4})",
    r"(?P<y>\d{4})-(?P<doy>\d{3})",
    r"(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})",
)

_COMPACT = (
    r"(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})[T ]?(?P<H>\d{2})(?P<M>\d{2})(?P<S>\d{2})?(?P<zone>Z)?"
)

# a name of the day of the week before the date says nothing more
_WEEKDAY = (
    r"(?:(?:mon|tue|wed|thu|fri|sat|sun|lun|mar|mer|mi|jeu|gio|jue|ven|vie|vr|sam|sab|dim|dom|"
    r"do|di|mo|fr|sa|so|ma|wo|za|zo)[^\W\d_]{0,9}[.,]{0,2}[ ]+)?"
)

_PATTERNS = (
    *(re.compile(rf"(?i:{_WEEKDAY}){date}(?:[T ,;\t]+{_CLOCK})?", re.ASCII) for date in _DATES),
    re.compile(_COMPACT, re.ASCII),
    # the clock may stand before the date
    *(re.compile(rf"{_CLOCK}[ ,;\t]+{date}", re.ASCII) for date in _DATES),
)

_LIKE_A_DATE = re.compile(r"\d.*[-/:].*\d|\..*\.|[^\W\d_]{3}|\d{8}")

_NUMERIC_DATE = _PATTERNS[1]

# alone in a cell, hours and minutes have a colon: 0.25 is a reading
_CLOCK_ONLY = re.compile(r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d{1,9})?)?" + _HALF + _ZONE, re.ASCII)

PLAIN_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")

_DAY_OF_YEAR = re.compile(r"(?P<y>\d{4})\s+(?P<doy>\d{1,3})\s+(?P<clock>\d{1,4})", re.ASCII)

_PARTS = re.compile(
    r"(?P<y>\d{4})\s+(?P<m>\d{1,2})\s+(?P<d>\d{1,2})\s+(?P<H>\d{1,2})"
    r"(?:\s+(?P<M>\d{1,2})(?:\s+(?P<S>\d{1,2}))?)?",
    re.ASCII,
)

OWN_PATTERN = {Form.DAY_OF_YEAR: _DAY_OF_YEAR, Form.PARTS: _PARTS}


def _digits(text: str) -> bool:
    return text.isascii() and text.isdigit()


def month_of_name(name: str) -> int | None:
    """Return the month a name begins like, None for a word that is no month."""
    text = name.lower()
    for begin, number in _OTHER_MONTHS:
        if text.startswith(begin):
            return number
    return MONTHS.get(text[:3])


def is_clock(text: str) -> bool:
    """Tell whether a cell holds a clock alone."""
    return len(text) <= LONGEST and _CLOCK_ONLY.fullmatch(text) is not None


def match_stamp(text: str) -> re.Match[str] | None:
    for pattern in _PATTERNS:
        found = pattern.fullmatch(text)
        if found:
            return found
    return None


def recognise(cells: Sequence[str], at: int) -> tuple[Form, int] | None:
    """Return form and number of columns of a time that begins at a column, None if there is none.

    Only the look of one row is judged; whether numbers are stamps or readings is decided by the
    column (see `logger_reader.table`).
    """
    text = cells[at].strip()
    following = cells[at + 1].strip() if at + 1 < len(cells) else ""
    if not text or len(text) > LONGEST or not text[0].isalnum():
        return None
    found = match_stamp(text) if _LIKE_A_DATE.search(text) else None
    if found and _possible_year(found):
        clocked = found.groupdict().get("H") is not None
        if not clocked and len(following) <= LONGEST and _CLOCK_ONLY.fullmatch(following):
            return Form.CALENDAR, 2
        if clocked or len(text) >= 8 or not _digits(text):
            return Form.CALENDAR, 1
    if following and _CLOCK_ONLY.fullmatch(text) and len(following) <= LONGEST:
        both = match_stamp(f"{text} {following}")
        if both and _possible_year(both):
            return Form.CALENDAR, 2
    if PLAIN_NUMBER.fullmatch(text):
        value = float(text.replace(",", "."))
        if 1.0e11 <= value < 4.4e12:
            return Form.EPOCH_MS, 1
        if 1.0e8 <= value < 4.4e9:
            return Form.EPOCH, 1
        if 20_000.0 <= value < 80_000.0:
            return Form.SERIAL, 1
        if _digits(text) and 1970 <= value <= 2100 and (parts := _parts(cells, at)):
            return Form.PARTS, parts
        if _digits(text) and 1970 <= value <= 2100 and at + 2 < len(cells):
            day, clock = following, cells[at + 2].strip()
            if _digits(day) and 1 <= int(day) <= 366 and _digits(clock) and int(clock) <= 2400:
                return Form.DAY_OF_YEAR, 3
    return None


def _parts(cells: Sequence[str], at: int) -> int:
    """Return how many columns from the year on are month, day, hour, minute, second; 0 if none."""
    spans = ((1, 12), (1, 31), (0, 24), (0, 59))
    count = 1
    for cell, (low, high) in zip(cells[at + 1 : at + 5], spans, strict=False):
        text = cell.strip()
        if not (_digits(text) and len(text) <= 2 and low <= int(text) <= high):
            break
        count += 1
    if count == 5 and at + 6 < len(cells) and cells[at + 5].strip() in ("0", "00"):
        count = 6
    # a reading is left beside them
    return count if count >= 4 and len(cells) > count else 0


def _possible_year(found: re.Match[str]) -> bool:
    year = found.groupdict().get("y")
    return year is None or len(year) == 2 or 1900 <= int(year) <= 2200


def possible_orders(cells: Sequence[str]) -> list[str]:
    """Return the orders of day, month and year that fit every cell; none when it is not open."""
    orders = [DAY_FIRST, MONTH_FIRST, YEAR_FIRST]
    seen = False
    for cell in cells:
        found = _NUMERIC_DATE.fullmatch(cell.strip())
        if not found:
            continue
        seen = True
        a, b, c = int(found["a"]), int(found["b"]), int(found["c"])
        fits = {
            DAY_FIRST: 1 <= a <= 31 and 1 <= b <= 12,
            MONTH_FIRST: 1 <= a <= 12 and 1 <= b <= 31,
            YEAR_FIRST: len(found["c"]) == 2 and 1 <= b <= 12 and 1 <= c <= 31,
        }
        left = [order for order in orders if fits[order]]
        orders = left or orders  # one broken row must not decide: it is named when read
    return orders if seen else []
