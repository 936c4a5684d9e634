"""What each row of a sheet says, judged by the sheet alone: no database is asked here.

A fault keeps its row out, a question waits for an answer in the row's own cell, a note says what
will follow. No row keeps another from being taken in.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from statistics import median

from app.errors import BadInput
from app.hydraulics.base import figures
from app.hydraulics.base.units import LENGTH_M
from app.language.typed import TwoMeanings, refuse_future
from app.services.books import stamps
from app.services.books.sheet import LONGEST_CELL, Row, Sheet

AS_READ, DRY = "as read", "dry"
ANSWERS = {**dict.fromkeys(("as read", "yes", "x"), AS_READ), "dry": DRY}
FREE = ("free", "clearly free", "drops freely")
HIGHEST_STAFF_M = 50.0
SLIPS = (0.001, 0.01, 0.1, 10.0, 100.0, 1000.0)
"""Places by which a decimal sign slips, millimetres for metres among them."""
NEIGHBOURS = 2  # on each side, in time
APART, ALIKE = 4.0, 1.5  # a slip is so far from its neighbours, and so near once put right
LEAST_M = 0.02  # below this a figure is not held against its neighbours; common practice


@dataclass(kw_only=True)
class Checked:
    """A row with what was understood of it."""

    row: Row
    at: datetime | None = None
    staff_m: float | None = None
    tail_state: str = "not_seen"
    tail_m: float | None = None
    observer: str = ""
    page: str = ""
    answer: str = ""
    faults: list[BadInput] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def dry(self) -> bool:
        return self.answer == DRY


def check(sheet: Sheet, rows: Sequence[Row], now: datetime) -> list[Checked]:
    """Return every row as understood, in the order given."""
    order = stamps.order_of((row.cell("day") for row in rows), sheet.order)
    signs = {
        column: figures.decimal_sign([row.cell(column) for row in rows])
        for column in ("staff", "tail")
    }
    found = [_checked(sheet, row, order, signs, now) for row in rows]
    refuse_doubles(found)
    _slips(found, sheet.unit)
    return found


def _checked(sheet: Sheet, row: Row, order: str, signs: dict[str, str], now: datetime) -> Checked:
    one = Checked(row=row)

    def kept(read: Callable[[], None]) -> None:
        try:
            read()
        except BadInput as error:
            one.faults += error.faults

    def when() -> None:
        typed = stamps.joined(row.cell("day"), row.cell("time"))
        at = stamps.moment(typed, order, sheet.utc_offset_min)
        refuse_future("day", at, now, typed[:60])
        one.at = at

    def staff() -> None:
        one.staff_m = metres("staff", row.cell("staff"), sheet.unit, signs["staff"])

    def tail() -> None:
        typed = row.cell("tail")
        if typed.lower() in FREE:
            one.tail_state = "clearly_free"
        elif typed:
            one.tail_m = metres("tail", typed, sheet.unit, signs["tail"])
            one.tail_state = "read"

    def answer() -> None:
        typed = row.cell("answer").lower()
        if typed and typed not in ANSWERS:
            raise BadInput(
                "answer", typed[:40], "is no answer", f"Write {AS_READ} or {DRY}, or leave it."
            )
        one.answer = ANSWERS.get(typed, "")

    def texts() -> None:
        fits_all(row)
        one.observer = row.cell("observer") or sheet.observer
        one.page = row.cell("page") or sheet.page

    for read in (when, staff, tail, answer, texts):
        kept(read)
    return one


def fits_all(row: Row) -> None:
    """Refuse a cell that no book holds: too long, or with signs that nobody writes."""
    for column in row.cells:
        _fits(column, row.cell(column), LONGEST_CELL if column == "remark" else 200)


def _fits(column: str, typed: str, most: int) -> None:
    if len(typed) > most:
        raise BadInput(column, f"{len(typed)} characters", f"at most {most}", "Shorten it.")
    if any(not sign.isprintable() and sign not in "\n\t" for sign in typed):
        shown = "".join(sign if sign.isprintable() else "?" for sign in typed[:40])
        raise BadInput(column, shown, "holds a sign that no book holds", "Type the cell again.")
    if "\ufffd" in typed:
        raise BadInput(column, typed[:40], "a letter could not be read", "Type the cell again.")


def metres(column: str, typed: str, unit: str, sign: str) -> float:
    if not typed:
        raise BadInput(column, "", "a staff reading is needed", "Type what the book says.")
    if typed.startswith("="):
        raise BadInput(column, typed[:40], "is a formula, no figure", "Copy the values instead.")
    found = figures.in_column(typed, sign)
    if not found:
        raise BadInput(column, typed[:40], "is no figure", f"Type it in {unit}, digits only.")
    possible = [value for value in found if abs(value) * LENGTH_M[unit] <= HIGHEST_STAFF_M]
    if unit == "m":
        possible = possible[:1]
    if len(possible) > 1:
        raise TwoMeanings(column, typed, found, unit)
    if not possible:
        raise BadInput(
            column,
            typed[:40],
            f"a staff reads between -{HIGHEST_STAFF_M:g} and {HIGHEST_STAFF_M:g} m",
            "Check figure and unit.",
        )
    return round(possible[0] * LENGTH_M[unit], 9)


def refuse_doubles(found: Sequence[Checked]) -> None:
    """Refuse the later of two rows of one time."""
    first: dict[datetime, Checked] = {}
    for one in found:
        if one.at is None:
            continue
        known = first.setdefault(one.at, one)
        if known is not one:
            same = known.staff_m == one.staff_m and known.tail_m == one.tail_m
            rule = "says the same as" if same else "has the same time as"
            one.faults.append(
                BadInput(
                    "time",
                    one.row.cell("time") or one.row.cell("day"),
                    f"{rule} row {known.row.number}",
                    "Leave one of the two out, or put its time right.",
                )
            )


def _slips(found: Sequence[Checked], unit: str) -> None:
    """Ask about a figure that is far from those before and after, and near them by one slip."""
    timed = [(one.at, one.row.number, one) for one in found if one.at and one.staff_m is not None]
    line = [one for _, _, one in sorted(timed, key=lambda each: each[:2])]
    values = [abs(one.staff_m or 0.0) for one in line]
    for place, one in enumerate(line):
        beside = values[max(place - NEIGHBOURS, 0) : place] + values[place + 1 :][:NEIGHBOURS]
        value = values[place]
        usual = median(beside) if len(beside) >= NEIGHBOURS else 0.0
        if max(value, usual) < LEAST_M or min(value, usual) <= 0.0:
            continue
        if usual / APART <= value <= usual * APART:
            continue
        meant = [value * f for f in SLIPS if usual / ALIKE <= value * f <= usual * ALIKE]
        if meant:
            shown = f"{meant[0] / LENGTH_M[unit]:.6g} {unit}"
            one.asks.append(f"unlike the readings beside it: is it {shown}?")
