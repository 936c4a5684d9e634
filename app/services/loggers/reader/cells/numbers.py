"""Numbers of logger files: decimal sign, thousands marks, what stands for a missing value."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MISSING_TEXTS = frozenset(
    (
        "", "-", "--", "---", "----", "*", "**", "***", "****", "?", "x", "nan", "na", "n/a",
        "#n/a", "#na", "null", "none", "nil", "missing", "err", "error", "bad", "over",
        "under", "nodata", "no data", "////", "///",
    )
)  # fmt: skip
# common practice: numbers that loggers write when a reading failed
SURE_MARKERS = (-999.0, -999.9, -999.99, -9999.0, -99999.0, -6999.0, -7999.0)
LIKELY_MARKERS = (
    9999.0, 9999.9, 9999.99, 999.0, 999.9, 999.99, 99.99, 6999.0, 7999.0, 8888.0, 88888.0, 99999.0,
    999999.0, 32767.0, 32768.0, 65535.0, -99.0, -99.9, -99.99, -9.99, -9.999, -888.0, -8888.0,
    -7777.0, -32768.0,
)  # fmt: skip
HUGE = 1.0e7  # no level sensor counts that far

POINT, COMMA = "point", "comma"
NONE, SPACE = "none", "space"
_SIGN = {POINT: ".", COMMA: ",", SPACE: " ", NONE: ""}
_LOOSE = re.compile(
    r"[+-]?(?:[0-9]+(?:[.,' \u00a0\u202f\u2009][0-9]+)*\.?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
)
_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_THREES = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[.,][0-9]{3})+")


@dataclass(frozen=True)
class Numerals:
    """How numbers are written: decimal and thousands sign by name, markers of missing values."""

    decimal: str = POINT
    thousands: str = NONE
    texts: frozenset[str] = MISSING_TEXTS
    markers: tuple[float, ...] = SURE_MARKERS


def looks_numeric(text: str) -> bool:
    """Tell whether a cell could be a number in some notation."""
    return len(text) <= 40 and _LOOSE.fullmatch(text.strip()) is not None


@dataclass(frozen=True)
class Notation:
    """The decision on decimal and thousands sign; `open_choice` when the cells allow two."""

    decimal: str
    thousands: str
    why: str
    open_choice: bool = False


def decide_numerals(cells: Sequence[str], delimiter: str) -> Notation:
    """Decide decimal and thousands sign from the cells of the value columns."""
    found = [cell.strip() for cell in cells if looks_numeric(cell)]
    both = [cell for cell in found if "." in cell and "," in cell]
    spaced = any(re.search(r"[0-9][ '\u00a0\u202f\u2009][0-9]{3}", cell) for cell in found)
    if both:
        last_comma = sum(cell.rfind(",") > cell.rfind(".") for cell in both)
        if last_comma * 2 > len(both):
            return Notation(COMMA, POINT, f"such as {both[0]}")
        return Notation(POINT, COMMA, f"such as {both[0]}")
    commas = [cell for cell in found if "," in cell]
    points = [cell for cell in found if "." in cell]
    thousands = SPACE if spaced else NONE
    if not commas:
        return Notation(POINT, thousands, "no comma in any number")
    if points:
        # commas and points in different cells: the one that only ever groups threes is the mark
        if all(_THREES.fullmatch(cell) for cell in commas):
            return Notation(POINT, COMMA, f"commas only group threes, such as {commas[0]}")
        if all(_THREES.fullmatch(cell) for cell in points):
            return Notation(COMMA, POINT, f"points only group threes, such as {points[0]}")
        return Notation(POINT, NONE, "points and commas mixed", open_choice=True)
    if any(not _THREES.fullmatch(cell) for cell in commas):
        sure = next(cell for cell in commas if not _THREES.fullmatch(cell))
        return Notation(COMMA, thousands, f"such as {sure}")
    if len(commas) < len(found) or delimiter == ",":
        return Notation(POINT, COMMA, f"such as {commas[0]}", open_choice=True)
    return Notation(COMMA, thousands, f"{commas[0]} may also be thousands", open_choice=True)


def is_far(marker: float, low: float, high: float) -> bool:
    """Tell whether a marker number cannot be one of the readings from `low` to `high`."""
    reach = 3.0 * max(abs(low), abs(high)) + 1.0
    return abs(marker) > reach or (marker < 0.0 and low >= -1.0)


def read_numbers(
    cells: Sequence[str], numerals: Numerals, *, plain: bool = False
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Read cells as float64, shape (n,): NaN where missing; `bad` where it is no number.

    `plain` promises ASCII without underscores, so that Python's own reader cannot be fooled.
    """
    values: NDArray[np.float64] | None = None
    if plain and numerals.thousands == NONE:
        text = "\n".join(cells) if numerals.decimal == COMMA else ""
        if "." not in text:
            ready = text.replace(",", ".").split("\n") if text else cells
            try:
                values = np.array(list(map(float, ready)), dtype=np.float64)
            except ValueError:
                values = None
    if values is not None and bool(np.all(np.isfinite(values))):
        bad = np.zeros(values.size, dtype=bool)
    else:
        values, bad = _one_by_one(cells, numerals)
    if numerals.markers:
        values[np.isin(values, numerals.markers)] = np.nan
    return values, bad


def _one_by_one(
    cells: Sequence[str], numerals: Numerals
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    values = np.full(len(cells), np.nan)
    bad = np.zeros(len(cells), dtype=bool)
    decimal, mark = _SIGN[numerals.decimal], _SIGN[numerals.thousands]
    for i, cell in enumerate(cells):
        text = cell.strip()
        if mark == " ":
            text = re.sub(r"(?<=[0-9])[ \u00a0\u202f\u2009'](?=[0-9]{3})", "", text)
        elif mark:
            whole, sign, rest = text.partition(decimal)
            if mark in whole:
                if not re.fullmatch(rf"[+-]?[0-9]{{1,3}}(?:{re.escape(mark)}[0-9]{{3}})+", whole):
                    bad[i] = True
                    continue
                text = whole.replace(mark, "") + sign + rest
        if decimal == ",":
            if "." in text:
                bad[i] = True
                continue
            text = text.replace(",", ".")
        if len(text) <= 40 and _PLAIN.fullmatch(text):
            values[i] = float(text)
            bad[i] = not np.isfinite(values[i])
        elif text.lower() not in numerals.texts:
            bad[i] = True
    values[bad] = np.nan
    return values, bad
