"""A sheet of old readings: what holds for all its rows, and the rows as they were typed."""

import hashlib
import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from app.errors import BadInput
from app.language import forms
from app.language.clock import uuid7
from app.language.words import counted
from app.services.entries.bodies.base import instant
from app.services.loggers.reader.cells.stamps import DAY_FIRST, MONTH_FIRST
from app.services.sites.register import HEAD_UNITS

COLUMNS = {
    "day": "Day",
    "time": "Time",
    "staff": "Staff",
    "tail": "Tail staff",
    "observer": "Read by",
    "page": "Page",
    "answer": "Sure?",
    "remark": "Remark",
}
GAUGING_COLUMNS = {
    "day": "Day",
    "time": "Time",
    "staff": "Staff",
    "discharge": "Discharge",
    "uncertainty": "± %",
    "method": "Method",
    "observer": "Gauged by",
    "page": "Page",
    "remark": "Remark",
}
READINGS, GAUGINGS = "readings", "gaugings"
PAPER_COLUMNS = {READINGS: COLUMNS, GAUGINGS: GAUGING_COLUMNS}
FLOW_UNITS = ("L/s", "m3/s")
SOURCE_KINDS = ("paper book", "spreadsheet")
ORDERS = ("", DAY_FIRST, MONTH_FIRST)
MOST_ROWS = 6000
LONGEST_CELL = 2000
AT_ONCE = "Take the rest in as a further sheet."


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What holds for every row of a sheet."""

    batch: str
    made_at: datetime
    kind: str
    name: str
    unit: str
    utc_offset_min: int
    flow_unit: str = "L/s"
    order: str = ""
    observer: str = ""
    page: str = ""


@dataclass(frozen=True)
class Row:
    """One row as typed: its number in the sheet or its line in the file, cells by column."""

    number: int
    cells: Mapping[str, str]

    def cell(self, column: str) -> str:
        return self.cells.get(column, "").strip()

    @property
    def empty(self) -> bool:
        return not any(text.strip() for text in self.cells.values())


def sheet_of(said: Mapping[str, str]) -> Sheet:
    """Return what a page or a command says of a sheet.

    Raises
    ------
    BadInput
        With every fault.
    """
    found = forms.together(
        batch=lambda: _batch(said.get("batch", "")),
        made_at=lambda: _made_at(said.get("made_at", "")),
        kind=lambda: _one_of(said, "kind", SOURCE_KINDS),
        name=lambda: forms.text(said, "name", most=200, required=True),
        unit=lambda: _one_of(said, "unit", HEAD_UNITS),
        flow_unit=lambda: _one_of({"flow_unit": "L/s", **said}, "flow_unit", FLOW_UNITS),
        utc_offset_min=lambda: forms.utc_offset_min(said),
        order=lambda: _one_of(said, "order", ORDERS),
        observer=lambda: forms.text(said, "observer", most=200),
        page=lambda: forms.text(said, "page", most=200),
    )
    return Sheet(**found)


def _one_of(said: Mapping[str, str], field: str, known: Collection[str]) -> str:
    typed = said.get(field, "")
    if typed not in known:
        raise BadInput(
            field,
            typed[:40],
            "is none of the list",
            f"Choose {' or '.join(one for one in known if one)}.",
        )
    return typed


def _batch(typed: str) -> str:
    try:
        return str(uuid.UUID(typed))
    except ValueError:
        raise BadInput("batch", typed[:40], "is no id of a batch", "Open the page anew.") from None


def _made_at(typed: str) -> datetime:
    try:
        return instant(typed)
    except ValueError as error:
        raise BadInput("made_at", typed[:40], str(error), "Open the page anew.") from None


def posted_rows(content: object, of: str = READINGS) -> tuple[dict[str, str], list[Row]]:
    """Return what a page sent: the words of the sheet, and its rows that hold anything.

    Raises
    ------
    BadInput
        When it is not what the page sends, or holds more rows than go at once.
    """
    sheet, rows = (
        (content.get("sheet"), content.get("rows")) if isinstance(content, dict) else (None, None)
    )
    if not isinstance(sheet, dict) or not isinstance(rows, list):
        raise BadInput("sheet", "", "a sheet with rows is needed", "Open the page anew.")
    if not all(isinstance(x, str) for pair in sheet.items() for x in pair):
        raise BadInput("sheet", "", "its boxes hold text", "Open the page anew.")
    refuse_more_rows(len(rows))
    found = [_row(one, k, PAPER_COLUMNS[of]) for k, one in enumerate(rows, 1)]
    return sheet, [row for row in found if not row.empty]


def refuse_more_rows(count: int) -> None:
    """Refuse a sheet of more rows than are taken at once."""
    if count > MOST_ROWS:
        raise BadInput("rows", counted(count, "row"), f"at most {MOST_ROWS} go at once", AT_ONCE)


def _row(one: object, place: int, columns: Collection[str]) -> Row:
    number, cells = (one.get("row"), one.get("cells")) if isinstance(one, dict) else (None, None)
    if (
        not isinstance(number, int)
        or isinstance(number, bool)
        or not 1 <= number <= 10_000_000
        or not isinstance(cells, dict)
        or not all(key in columns and isinstance(text, str) for key, text in cells.items())
    ):
        raise BadInput(f"row {place}", "", "is no row of the sheet", "Open the page anew.")
    return Row(number, cells)


def row_id(batch: str, at: datetime, said: Sequence[object]) -> str:
    """Return the id of a row's entry: the same batch and the same row give the same id."""
    key = hashlib.sha256("\n".join([batch, *map(str, said)]).encode("utf-8", "replace")).digest()
    return uuid7(at, lambda count: key[:count])
