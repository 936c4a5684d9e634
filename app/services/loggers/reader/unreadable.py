"""Tables that nobody can read for certain: refused with the remedy, before anything is guessed."""

import re
from collections.abc import Sequence
from itertools import pairwise

from app.services.loggers.reader.cells.numbers import looks_numeric
from app.services.loggers.reader.cells.stamps import is_clock
from app.services.loggers.reader.cells.text import refuse
from app.services.loggers.reader.header import Header, Shape


def refuse_clock_apart(rows: Sequence[Sequence[str]], shape: Shape, line: int) -> None:
    """Refuse a date whose clock stands in a column that is not the next one."""
    stamps = [row[shape.time_at] for row in rows if len(row) > shape.time_at]
    if shape.time_columns > 1 or any(":" in stamp for stamp in stamps):
        return
    for column in shape.values:
        cells = [row[column].strip() for row in rows if len(row) > column]
        if cells and 2 * sum(map(is_clock, cells)) > len(cells) and len(set(cells)) > 1:
            raise refuse(
                line + 1,
                column + 1,
                cells[0][:40],
                f"the date stands in column {shape.time_at + 1} and the clock apart from it",
                "Export with date and clock in neighbouring columns, or in one.",
            )
    if shape.time_columns == 1 and 2 * len(set(stamps)) < len(stamps):
        raise refuse(
            line + 1,
            shape.time_at + 1,
            stamps[0][:40],
            "most rows have the date of another one, and no clock was found beside it",
            "Export the clock as hours:minutes, in the date's column or in the next one.",
        )


def refuse_one_quantity_a_row(rows: Sequence[Sequence[str]], shape: Shape, line: int) -> None:
    """Refuse a table in which a word in each row says what its one figure is."""
    begin, end = shape.time_at, shape.time_at + shape.time_columns
    pairs = list(pairwise(rows))
    twice = sum(a[begin:end] == b[begin:end] and list(a) != list(b) for a, b in pairs)
    if len(pairs) < 5 or twice * 10 < len(pairs) * 4:
        return
    for column in shape.values:
        words = {row[column].strip() for row in rows if len(row) > column}
        if 2 <= len(words) <= 12 and not any(map(looks_numeric, words)):
            named = ", ".join(sorted(words))[:80]
            raise refuse(
                line + 1,
                column + 1,
                named,
                "each time has several rows, and a word in each says what its figure is: more "
                "than one series stands in one column",
                "Export a column for each quantity, or only the rows of the level.",
            )


def refuse_double_comma(
    delimiter: str,
    said: Header,
    shape: Shape,
    first: int,
    rows: Sequence[Sequence[str]],
    above: Sequence[str],
) -> None:
    """Refuse a file whose comma is delimiter and decimal sign at once: it cannot be read."""
    if delimiter != "comma" or shape.fields - shape.time_columns < 2:
        return
    values = [[row[i].strip() for i in shape.values if i < len(row)] for row in rows]
    digits = [i for i in range(len(shape.values)) if _all_digits([r[i : i + 1] for r in values])]
    if len(digits) < 2:
        return
    lead = _leading_zero(values, digits)
    titles = sum(bool(cell.strip()) for cell in above)
    short = not said.named and shape.time_columns < titles < shape.fields
    if short and any(sign.isalpha() for cell in above for sign in cell):
        words = f"{titles} columns have names and {shape.fields} have values"
    elif not said.named and lead:
        words = "a column of whole numbers is followed by one with leading zeros"
    else:
        return
    raise refuse(
        first + 1,
        shape.values[0] + 2,
        ",".join(rows[0])[:60],
        f"{words}: the comma seems to part columns and decimals at once",
        "Export again with a point as the decimal sign, or with semicolons.",
    )


def _all_digits(cells: Sequence[Sequence[str]]) -> bool:
    told = [cell[0] for cell in cells if cell]
    return bool(told) and all(re.fullmatch(r"-?\d+", cell) for cell in told)


def _leading_zero(values: Sequence[Sequence[str]], digits: Sequence[int]) -> bool:
    """Tell whether whole numbers stand before figures that begin with zero, as decimals do."""
    return any(
        i + 1 in digits
        and any(re.fullmatch(r"0\d+", row[i + 1]) for row in values if len(row) > i + 1)
        for i in digits
    )
