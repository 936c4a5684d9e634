"""Time stamps of logger files: recognising the form, and reading whole columns at once.

Cells are grouped by shape (digits against other signs); one match tells for a whole group where
year, month, day and clock stand, and the digits are then read as arrays. A stamp is local
seconds since 1970 plus, where the stamp carries one, its offset from UTC in minutes.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.arrays import Ints

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "day first", "month first", "year first"
NOT_A_TIME = np.iinfo(np.int64).min
NO_OFFSET = -(10**6)
LARGEST_SHAPES = 400  # more shapes than that in one block are no logger's stamps
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
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
_DAY_OF_YEAR = re.compile(r"(?P<y>\d{4})\s+(?P<doy>\d{1,3})\s+(?P<clock>\d{1,4})", re.ASCII)
_PARTS = re.compile(
    r"(?P<y>\d{4})\s+(?P<m>\d{1,2})\s+(?P<d>\d{1,2})\s+(?P<H>\d{1,2})"
    r"(?:\s+(?P<M>\d{1,2})(?:\s+(?P<S>\d{1,2}))?)?",
    re.ASCII,
)
_DAYS_BEFORE_1970 = 25_569  # day number of 1970-01-01 counted from 1899-12-30

_OWN_PATTERN = {Form.DAY_OF_YEAR: _DAY_OF_YEAR, Form.PARTS: _PARTS}


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


def _match(text: str) -> re.Match[str] | None:
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
    found = _match(text) if _LIKE_A_DATE.search(text) else None
    if found and _possible_year(found):
        clocked = found.groupdict().get("H") is not None
        if not clocked and len(following) <= LONGEST and _CLOCK_ONLY.fullmatch(following):
            return Form.CALENDAR, 2
        if clocked or len(text) >= 8 or not _digits(text):
            return Form.CALENDAR, 1
    if following and _CLOCK_ONLY.fullmatch(text) and len(following) <= LONGEST:
        both = _match(f"{text} {following}")
        if both and _possible_year(both):
            return Form.CALENDAR, 2
    if _NUMBER.fullmatch(text):
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


@dataclass(frozen=True)
class Times:
    """Local seconds since 1970 (NOT_A_TIME where unreadable), offset minutes or NO_OFFSET."""

    local_s: Ints
    offset_min: Ints


def read_times(cells: Sequence[str], form: Form, order: str) -> Times:
    """Read a column of stamps (several columns joined by one space), shape (n,)."""
    count = len(cells)
    local = np.full(count, NOT_A_TIME, dtype=np.int64)
    offset = np.full(count, NO_OFFSET, dtype=np.int64)
    if count == 0:
        return Times(local, offset)
    if form in (Form.SERIAL, Form.EPOCH, Form.EPOCH_MS):
        return Times(_numeric(cells, form), offset)
    text = np.array([cell.strip()[:LONGEST] for cell in cells], dtype=str)
    if text.dtype.itemsize == 0:
        return Times(local, offset)
    signs = text.view(np.uint32).reshape(count, -1)
    digit = (signs >= 48) & (signs <= 57)
    shape = np.where(digit, np.uint32(48), signs)
    if np.all(shape == shape[0]):
        groups = [np.arange(count)]
    else:
        names = np.ascontiguousarray(shape).view(text.dtype).ravel()
        _, inverse = np.unique(names, return_inverse=True)
        order_of = np.argsort(inverse, kind="stable")
        groups = np.split(order_of, np.flatnonzero(np.diff(inverse[order_of])) + 1)
    for rows in groups[:LARGEST_SHAPES]:
        _read_group(text, signs, rows, form=form, order=order, local=local, offset=offset)
    return Times(local, offset)


def _numeric(cells: Sequence[str], form: Form) -> Ints:
    out = np.full(len(cells), NOT_A_TIME, dtype=np.int64)
    scale = {Form.SERIAL: 86_400.0, Form.EPOCH: 1.0, Form.EPOCH_MS: 0.001}[form]
    for i, cell in enumerate(cells):
        text = cell.strip()
        if len(text) <= LONGEST and _NUMBER.fullmatch(text):
            value = float(text.replace(",", "."))
            if form is Form.SERIAL:
                value -= _DAYS_BEFORE_1970
            seconds = value * scale
            if -7.0e9 < seconds < 1.5e10:
                # a day number's fraction is rounded in the file: the nearest second is meant
                out[i] = round(seconds)
    return out


def _read_group(
    text: NDArray[np.str_],
    signs: NDArray[np.uint32],
    rows: NDArray[np.intp],
    *,
    form: Form,
    order: str,
    local: Ints,
    offset: Ints,
) -> None:
    first = str(text[rows[0]])
    found = _OWN_PATTERN[form].fullmatch(first) if form in _OWN_PATTERN else _match(first)
    if found is None:
        return
    part = found.groupdict()

    def number(name: str, default: int = 0) -> Ints:
        if part.get(name) is None:
            return np.full(rows.size, default, dtype=np.int64)
        begin, end = found.span(name)
        value = np.zeros(rows.size, dtype=np.int64)
        for k in range(begin, end):
            value = value * 10 + (signs[rows, k].astype(np.int64) - 48)
        return value

    ones = np.ones(rows.size, dtype=np.int64)
    if part.get("a") is not None:
        a, b, c = number("a"), number("b"), number("c")
        year, month, day = {
            DAY_FIRST: (c, b, a),
            MONTH_FIRST: (c, a, b),
            YEAR_FIRST: (a, b, c),
        }[order]
        if order == YEAR_FIRST or len(part["c"]) == 2:
            year = year + np.where(year < 70, 2000, 1900)
    else:
        year, month, day = number("y"), number("m", 1), number("d", 1)
        if len(part["y"]) == 2:
            year = year + np.where(year < 70, 2000, 1900)
        if part.get("name") is not None:
            known = month_of_name(part["name"])
            if known is None:
                return
            month = ones * known
    hour, minute, second = number("H"), number("M"), number("S")
    if form is Form.DAY_OF_YEAR:
        hour, minute = number("clock") // 100, number("clock") % 100
    good = (year >= 1900) & (year <= 2200) & (month >= 1) & (month <= 12) & (day >= 1)
    if part.get("half") is not None:
        good &= (hour >= 1) & (hour <= 12)
        hour = hour % 12 + (12 if part["half"][0] in "Pp" else 0)
    midnight = (hour == 24) & (minute == 0) & (second == 0)
    good &= ((hour <= 23) | midnight) & (minute <= 59) & (second <= 59)
    months = np.where(good, (year - 1970) * 12 + month - 1, 0).astype("M8[M]")
    start = months.astype("M8[D]").astype(np.int64)
    length = (months + 1).astype("M8[D]").astype(np.int64) - start
    if part.get("doy") is not None:
        day, length = number("doy"), np.full(rows.size, 366)
        leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
        good &= (day >= 1) & ((day <= 365) | leap)
    good &= day <= length
    seconds = (start + day - 1) * 86_400 + hour * 3600 + minute * 60 + second
    local[rows] = np.where(good, seconds, NOT_A_TIME)
    if part.get("sign") is not None:
        minutes = number("zh") * 60 + number("zm")
        ahead = np.where(minutes <= 14 * 60, minutes, NO_OFFSET)
        offset[rows] = np.where(
            ahead == NO_OFFSET, NO_OFFSET, ahead * (1 if part["sign"] == "+" else -1)
        )
        local[rows] = np.where(ahead == NO_OFFSET, NOT_A_TIME, local[rows])
    elif part.get("zone") is not None:
        offset[rows] = 0
