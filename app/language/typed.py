"""The one reader of numbers that people type: office boxes, entries, the command line, files.

    read(field, text, unit=, low=, high=) -> value, or BadInput (TwoMeanings when it can be two)
    shown(value) -> text that this reader reads back as the very value; for boxes filled in
    said(value, unit) -> text for a person, digits grouped
    column(field, texts, unit=) -> values, decided by the whole column
    refuse_future(field, ...) -> a date that lies ahead is refused

The grammar is `app.hydraulics.base.figures`; the phone's twin is static/shared/numbers.js.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from app.errors import BadInput
from app.hydraulics.base import figures, units
from app.hydraulics.base.figures import TwoMeanings as TwoMeanings
from app.hydraulics.base.units import BELOW_THOUSAND

THIN = "\u202f"
ALONE = frozenset({"m/s", "%", "°"})
"""Units in which a figure never reaches a thousand here."""
CLOCK_SKEW = timedelta(minutes=5)
_UNIT_ENDS = (
    (re.compile(r"(^|[ _])(m|ms|pct)$|(^| )v(02|06|08)?$|^meter equation"), BELOW_THOUSAND),
)


def read(
    field: str,
    text: str | float,
    *,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    thousands: bool = False,
) -> float:
    """Return what was typed; in metres also "450 mm" and the like.

    Parameters
    ----------
    unit : unit of the field, as printed beside the box
    low, high : limits of the field; between two meanings the one within them is taken
    thousands : a figure in metres may reach a thousand, so that 1,500 is asked about

    Raises
    ------
    BadInput
        When it is no number; TwoMeanings when it can be two.
    """
    if unit == "m" and not thousands:
        return units.length_m(field, text, low=low, high=high)
    if unit in ALONE:
        high = BELOW_THOUSAND if high is None else min(high, BELOW_THOUSAND)
    return units.number(field, text, low=low, high=high)


def limit_of(field: str) -> float | None:
    """Return the largest figure that a field can hold, by the unit that ends its name."""
    name = re.sub(r"( \d+)+$", "", field)
    return next((high for pattern, high in _UNIT_ENDS if pattern.search(name)), None)


def figure(field: str, text: str | float) -> float:
    """Return a figure of an entry, by the unit in the field's name; raises as `read`."""
    return units.number(field, text, high=limit_of(field))


def shown(value: float | None, digits: int = 12) -> str:
    """Return a number as a form shows it: read back it is the same, and never asked about."""
    return "" if value is None else figures.spelled(value, digits)


def said(value: float, unit: str = "") -> str:
    """Return a number for a person: digits in threes from 10 000 on, then the unit."""
    text = f"{value:.12g}"
    whole, point, rest = text.partition(".")
    if "e" not in text and len(whole.lstrip("-")) > 4:
        whole = f"{int(whole):,}".replace(",", THIN)
    return f"{whole}{point}{rest} {unit}".rstrip()


def column(
    field: str, texts: Sequence[str], *, unit: str = "", sign: str = ""
) -> list[float | None]:
    """Return a column of a file as numbers; None where a cell is no number.

    The column's own plain cells decide what one mark before three digits means, then `sign`, the
    decimal sign of the rest of the file; in metres it is the decimal sign.

    Raises
    ------
    TwoMeanings
        Naming the row whose figure can be two.
    """
    sign = figures.decimal_sign(texts) or sign
    values: list[float | None] = []
    for row, text in enumerate(texts, start=1):
        found = figures.in_column(text, sign)
        if len(found) > 1 and (unit in ALONE or unit == "m"):
            found = found[:1]
        if len(found) > 1:
            raise TwoMeanings(f"row {row} {field}", text, found)
        values.append(found[0] if found else None)
    return values


def settled(rows: Sequence[Mapping[str, str]], columns: Mapping[str, str], sign: str) -> None:
    """Write the cells of some columns of a table anew so that each has one meaning.

    Parameters
    ----------
    rows : dicts of texts; changed in place
    columns : unit by column
    sign : decimal sign where no cell of the table says it, "" to ask
    """
    texts = {key: [row.get(key, "") for row in rows] for key in columns}
    everywhere = figures.decimal_sign([text for column_ in texts.values() for text in column_])
    for key, unit in columns.items():
        values = column(key, texts[key], unit=unit, sign=everywhere or sign)
        for row, value in zip(rows, values, strict=True):
            if value is not None:
                row[key] = figures.exact(value)  # type: ignore[index]


class Doubtful(BadInput):
    """A figure that is likely another one; `choices` are what it may be, as typed the last."""

    def __init__(self, field: str, text: str, rule: str, choices: Sequence[str]) -> None:
        super().__init__(field, text, rule, f"Choose {' or '.join(choices)} to go on.")
        self.choices = list(choices)


SLIPS = (1000.0, 10.0, 0.1, 0.001, 25.4, 304.8)
"""Metres for millimetres, a place of the decimal sign, inches and feet for millimetres."""
LIKE_NAMED, LIKE_NAMED_MM = 0.1, 5.0
"""A dimension as built lies within so much of its named value, or it is asked about."""


def slip(value: float, named: float) -> float | None:
    """Return what a dimension is likely meant as; itself when it is like its named value.

    None when it is unlike and no usual slip explains it. The phone's twin is in
    static/field/typed/dimension_slip.js.
    """
    if abs(value - named) <= max(LIKE_NAMED * abs(named), LIKE_NAMED_MM):
        return value
    meant = [value * f for f in SLIPS if abs(value * f - named) <= LIKE_NAMED * abs(named)]
    return min(meant, key=lambda each: abs(each - named)) if meant else None


def refuse_future(field: str, moment: datetime, now: datetime, typed: str = "") -> None:
    """Refuse an instant that lies ahead of the clock by more than clocks differ."""
    if moment > now + CLOCK_SKEW:
        raise BadInput(
            field,
            typed or f"{moment:%Y-%m-%d %H:%M} UTC",
            "lies ahead of now",
            "Check year, day and time; only what has happened is recorded.",
        )
