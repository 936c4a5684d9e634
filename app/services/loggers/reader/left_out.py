"""What is wrong with rows and cells of a logger file, in words with row and column."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.services.loggers.reader.cells.numbers import MISSING_TEXTS, looks_numeric
from app.services.loggers.reader.cells.text import refuse
from app.services.loggers.reader.columns import Column
from app.services.loggers.reader.layout import Layout
from app.services.loggers.reader.table import Table


@dataclass(frozen=True)
class Problem:
    """What is wrong with one cell: row and column as counted from 1, value, rule, remedy."""

    row: int
    column: str
    value: str
    rule: str
    remedy: str
    to_row: int | None = None  # for a run of rows with one and the same trouble


def has_reading(cells: Sequence[str], layout: Layout) -> bool:
    """Tell whether a row holds a number, or a mark of a missing one, in a column that is read."""
    read = [column.index for column in layout.columns]
    told = [cells[at].strip() for at in read if at < len(cells)]
    return any(
        any(map(str.isdigit, text)) or text.lower() in MISSING_TEXTS | layout.numerals.texts
        for text in told
    )


@dataclass(frozen=True, kw_only=True)
class Left:
    """The rows of a block that were left out, and why."""

    block: list[str]
    cells: list[list[str]]
    stamps: list[str]
    timed: NDArray[np.bool_]
    before: int
    layout: Layout
    needed: int
    cut: int

    def is_text(self, i: int) -> bool:
        """Tell whether a line has no time, and no reading or nothing like a time."""
        if i == self.cut or self.timed[i]:
            return False
        row, read = self.cells[i], [column.index for column in self.layout.columns]
        return not any(map(str.isdigit, self.stamps[i])) or not any(
            at < len(row) and looks_numeric(row[at]) for at in read
        )

    def problem(self, i: int) -> Problem:
        """Say what is wrong with a row."""
        row, line = self.before + i + 1, self.block[i].strip()[:80]
        if i == self.cut:
            return Problem(
                row,
                str(len(self.cells[i])),
                line,
                "the last row is cut off in the middle",
                "Download the logger again; every whole row before it can be used.",
            )
        if self.timed[i]:
            found = len(self.cells[i])
            columns = self.layout.columns
            if found >= self.needed:
                return Problem(
                    row,
                    columns[0].label,
                    line,
                    "holds words in place of a reading",
                    "It is left out. Nothing is to be done when it is an event of the logger.",
                )
            label = next((c.label for c in columns if c.index >= found), str(self.needed))
            return Problem(
                row,
                label,
                line,
                f"has {found} column{'' if found == 1 else 's'}, {self.needed} are needed",
                "Check the delimiter, or whether the row was cut off.",
            )
        table = self.layout.table
        name = table.names[table.time_at] if table.time_at < len(table.names) else ""
        how = f", read {self.layout.order}" if self.layout.order_matters else ""
        return Problem(
            row,
            f"{table.time_at + 1} ({name})" if name else str(table.time_at + 1),
            line if self.is_text(i) else self.stamps[i].strip()[:80],
            f"is no {table.form} that exists{how}",
            "Correct the time in a copy of the file, or leave this row out.",
        )


def other_names(cells: Sequence[str], table: Table) -> bool:
    """Tell whether a line between rows names the columns anew, and otherwise than the header."""
    at = table.time_at
    if not table.named or len(cells) < table.fields or not table.names[at]:
        return False
    told = [cell.strip().strip('"').strip() for cell in cells[: table.fields]]
    over = told[at]
    same = over != "" and table.names[at].startswith(over)
    return same and any(a and a not in b for a, b in zip(told, table.names, strict=True))


def names_change(row: int, line: str) -> BadInput:
    """Refuse a file whose columns or units change on the way."""
    return refuse(
        row,
        1,
        line.strip()[:80],
        "the names of the columns change here, and what stands below means something else",
        "Split the file at this row and bring the parts one by one.",
    )


def no_number(row: int, column: Column, text: str) -> Problem:
    return Problem(
        row,
        column.label,
        text.strip()[:60],
        "is no number",
        "It is read as missing. Add it to the missing marks if the logger writes it so.",
    )


def conflict_of(row: int, first: int, head: float, held: float, column: str) -> Problem:
    return Problem(
        row,
        column,
        f"{head:.4f} m",
        f"row {first} has the same time and {held:.4f} m",
        f"Row {first} is kept. Check which one is right, or whether the clock was changed.",
    )


def two_series(first: Problem) -> BadInput:
    """Refuse a file in which every third time has two readings: it is no single record."""
    return BadInput(
        f"row {first.row}, column {first.column}",
        first.value,
        f"{first.rule}, and so have many others: more than one series stands in this column, or "
        "the clock counts to 12 without marks of morning and afternoon",
        "Export one series a file or a column, with hours from 0 to 24.",
    )
