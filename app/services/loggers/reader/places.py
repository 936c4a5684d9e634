"""Where the time stands in the rows of a table, in whatever column."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from app.services.loggers.reader.cells.numbers import MISSING_TEXTS, looks_numeric
from app.services.loggers.reader.cells.stamps import Form, recognise

Place = tuple[Form, int, int]  # how it is written, first column from 0, number of columns

MOST_COLUMNS = 64  # as many as the office can ask about
_FORMS = (Form.CALENDAR, Form.EPOCH_MS, Form.EPOCH, Form.PARTS, Form.DAY_OF_YEAR, Form.SERIAL)
_CLOCK = re.compile(r"\d{1,2}[:.h]\d{2}|\d{12,14}|T\d{4}")


@dataclass(frozen=True)
class Found:
    """The place, how many rows have the time there, and other places that fit as well."""

    votes: int
    place: Place
    rivals: tuple[Place, ...]


def _is_value(cell: str) -> bool:
    return looks_numeric(cell) or cell.strip().lower() in MISSING_TEXTS


def _has_reading(cells: Sequence[str], place: Place) -> bool:
    _, at, columns = place
    others = [cell for i, cell in enumerate(cells) if not at <= i < at + columns]
    return any(looks_numeric(cell) for cell in others) or (
        bool(others) and all(_is_value(cell) for cell in others)
    )


def fits(cells: Sequence[str], place: Place) -> bool:
    """Tell whether a row has its time at a place, and a reading beside it."""
    form, at, columns = place
    return (
        len(cells) > at and recognise(cells, at) == (form, columns) and _has_reading(cells, place)
    )


def _rises(rows: Sequence[Sequence[str]], at: int) -> bool:
    """Tell whether a column of numbers rises nearly always, as time does, or falls so."""
    values = [float(row[at].replace(",", ".")) for row in rows]
    steps = [b - a for a, b in pairwise(values)]
    up, down = sum(step > 0 for step in steps), sum(step < 0 for step in steps)
    return bool(steps) and max(up, down) >= 0.9 * len(steps)


def _by_days(rows: Sequence[Sequence[str]], at: int) -> bool:
    """Tell whether numbers rise as day numbers do: by no more than a year a row."""
    values = [float(row[at].replace(",", ".")) for row in rows]
    steps = sorted(abs(b - a) for a, b in pairwise(values))
    return bool(steps) and steps[len(steps) // 2] <= 366.0


def _same_instants(rows: Sequence[Sequence[str]], one: Place, other: Place) -> bool:
    """Tell whether two columns say the same moments, each with its offset from UTC."""
    if one[2] != 1 or other[2] != 1:
        return False
    both = [
        (_instant(cells[one[1]]), _instant(cells[other[1]]))
        for cells in rows
        if len(cells) > max(one[1], other[1])
    ]
    known = [(a, b) for a, b in both if a is not None or b is not None]
    return bool(known) and all(a is not None and a == b for a, b in known)


def _instant(cell: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(cell.strip())
    except ValueError:
        return None
    return None if moment.tzinfo is None else moment


def best_place(rows: Sequence[Sequence[str]], asked: int | None = None) -> Found | None:
    """Return the place at which most rows have a time; `asked` is the column a person named."""
    votes: Counter[Place] = Counter()
    clocked: Counter[Place] = Counter()
    for cells in rows:
        for at in range(min(MOST_COLUMNS, len(cells))) if asked is None else (asked,):
            found = recognise(cells, at) if at < len(cells) else None
            if found and _has_reading(cells, (found[0], at, found[1])):
                place = (found[0], at, found[1])
                votes[place] += 1
                clocked[place] += place[2] > 1 or bool(_CLOCK.search(cells[at]))
    for form in _FORMS:
        places = [place for place in votes if place[0] is form]
        places.sort(key=lambda p: (-votes[p], -clocked[p], p[1]))
        for place in places:
            if form is Form.CALENDAR:
                # one date in a numeric table is a header's, not the table's
                if votes[place] * 4 >= max(votes.values()):
                    others = [
                        p for p in places
                        if p[1] >= place[1] + place[2] or p[1] + p[2] <= place[1]
                        if votes[p] >= 0.9 * votes[place] and clocked[p] >= 0.9 * clocked[place]
                        if not _same_instants(rows, place, p)
                    ]  # fmt: skip
                    return Found(votes[place], place, tuple(others) if clocked[place] else ())
            else:
                chosen = [cells for cells in rows if fits(cells, place)]
                if form is Form.SERIAL and not _by_days(chosen, place[1]):
                    continue
                if form in (Form.PARTS, Form.DAY_OF_YEAR) or _rises(chosen, place[1]):
                    return Found(votes[place], place, ())
    return None
