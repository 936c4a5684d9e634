"""Time stamps of logger files: recognising the form, and reading whole columns at once.

Cells are grouped by shape (digits against other signs); one match tells for a whole group where
year, month, day and clock stand, and the digits are then read as arrays. A stamp is local
seconds since 1970 plus, where the stamp carries one, its offset from UTC in minutes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.arrays import Ints
from app.services.loggers.reader.cells.stamps import (
    DAY_FIRST,
    LONGEST,
    MONTH_FIRST,
    OWN_PATTERN,
    PLAIN_NUMBER,
    YEAR_FIRST,
    Form,
    match_stamp,
    month_of_name,
)

NOT_A_TIME = np.iinfo(np.int64).min
NO_OFFSET = -(10**6)
LARGEST_SHAPES = 400  # more shapes than that in one block are no logger's stamps


_DAYS_BEFORE_1970 = 25_569  # day number of 1970-01-01 counted from 1899-12-30


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
        if len(text) <= LONGEST and PLAIN_NUMBER.fullmatch(text):
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
    found = OWN_PATTERN[form].fullmatch(first) if form in OWN_PATTERN else match_stamp(first)
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
