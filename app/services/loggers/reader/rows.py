"""Reading the rows of a logger file in blocks, every problem naming its row and column.

A block is read as columns at once; only what does not fit is looked at one by one. A row that
cannot be read never blocks the others.
"""

import re
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.arrays import Floats, Ints
from app.services.loggers.reader.cells.numbers import Numerals, read_numbers
from app.services.loggers.reader.cells.text import ends_with_newline, lines
from app.services.loggers.reader.cells.times import NOT_A_TIME, read_times
from app.services.loggers.reader.layout import Layout
from app.services.loggers.reader.left_out import (
    Left,
    Problem,
    has_reading,
    names_change,
    no_number,
    other_names,
)
from app.services.loggers.reader.table import DELIMITERS, split_line

BLOCK_ROWS = 50_000
SHOWN = 10  # rows of the preview at each end
MOST_FOOTER = 200  # lines kept of the text below the table


@dataclass(frozen=True)
class Block:
    """Rows that could be read, shape (n,): file row, local seconds, offset, values as written."""

    row: Ints
    local_s: Ints
    offset_min: Ints
    values: dict[int, Floats]
    problems: tuple[Problem, ...]
    lines: int


@dataclass(frozen=True)
class Shown:
    """One row for people: number, the line, and the figure the head is taken from."""

    row: int
    text: str
    figure: float


@dataclass
class Ends:
    """Raw lines kept for people: first and last rows of the table, and the text after it."""

    first: list[Shown] = field(default_factory=list)
    last: deque[Shown] = field(default_factory=lambda: deque(maxlen=SHOWN))
    told: list[Shown] = field(default_factory=list)  # the first rows that hold a reading
    after: list[Problem] = field(default_factory=list)  # a footer, unless a row follows yet
    repeated_headers: int = 0
    cut_off: bool = False

    @property
    def footer(self) -> list[str]:
        """The lines below the last row."""
        return [problem.value for problem in self.after]


def read_blocks(
    raw: BinaryIO, layout: Layout, ends: Ends, *, block_rows: int = BLOCK_ROWS
) -> Iterator[Block]:
    """Yield the readable rows of a file in blocks; `ends` is filled on the way.

    Lines without time and reading at the very end are the footer, elsewhere a problem.
    """
    finished = ends_with_newline(raw, layout.encoding)
    before, skip = 0, layout.table.first_line
    block: list[str] = []
    for found in lines(raw, layout.encoding, block_rows):
        following = found[skip:]
        before, skip = before + min(skip, len(found)), max(skip - len(found), 0)
        if block:
            yield _read(block, before, layout, ends, unfinished=False)
            before += len(block)
        block = following
    if block:
        yield _read(block, before, layout, ends, unfinished=not finished)


def _read_plain(block: list[str], text: str, before: int, layout: Layout) -> Block | None:
    """Read a block in which every row is whole and plain, None when one is not."""
    table, numerals = layout.table, layout.numerals
    if table.delimiter == "space" or '"' in text or "_" in text or not text.isascii():
        return None
    sign, fields = DELIMITERS[table.delimiter], table.fields
    flat = sign.join(block).split(sign)
    if len(flat) != len(block) * fields or numerals.thousands != "none":
        return None
    stamps = flat[table.time_at :: fields]
    for extra in range(1, table.time_columns):
        following = flat[table.time_at + extra :: fields]
        stamps = [f"{a} {b}" for a, b in zip(stamps, following, strict=True)]
    # were one row short and another long, a cell of the wrong column would stand here
    times = read_times(stamps, table.form, layout.order)
    if np.any(times.local_s == NOT_A_TIME):
        return None
    values: dict[int, Floats] = {}
    for column in layout.columns:
        read, bad = read_numbers(flat[column.index :: fields], numerals, plain=True)
        if bad.any():
            return None
        values[column.index] = read
    row = np.arange(before + 1, before + len(block) + 1, dtype=np.int64)
    return Block(row, times.local_s, times.offset_min, values, (), len(block))


def _read(block: list[str], before: int, layout: Layout, ends: Ends, *, unfinished: bool) -> Block:
    """Read a block: as a whole when it is plain, else row by row."""
    table = layout.table
    source = table.marks.plain(block)  # the lines as they are read; `block` is what people see
    text = "\n".join(source)
    whole = None if unfinished else _read_plain(source, text, before, layout)
    if whole is not None:
        _remember(ends, block, before, range(len(block)), whole.values[layout.source])
        return replace(whole, problems=_no_footer(ends))
    if '"' in text:
        cells = [split_line(line, table.delimiter) for line in source]
    elif table.delimiter == "space":
        cells = list(map(str.split, source))
    else:
        sign = DELIMITERS[table.delimiter]
        cells = [line.split(sign) for line in source]
    begin, end = table.time_at, table.time_at + table.time_columns
    if table.time_columns == 1:
        stamps = [row[begin] if len(row) > begin else "" for row in cells]
    else:
        stamps = [" ".join(row[begin:end]) if len(row) >= end else "" for row in cells]
    times = read_times(stamps, table.form, layout.order)
    needed = max(end, *(column.index + 1 for column in layout.columns))
    timed = times.local_s != NOT_A_TIME
    good = timed & np.fromiter((len(row) >= needed for row in cells), bool, len(cells))
    for i in np.flatnonzero(good).tolist():
        if len(cells[i]) < table.fields and not has_reading(cells[i], layout):
            good[i] = False  # an event of the logger, not a reading
    cut = -1
    if unfinished:
        cut = _cut_row(block, cells, timed, good, layout.numerals)
        if cut >= 0:
            good[cut] = False
            ends.cut_off = True
    kept = np.flatnonzero(good)
    problems: list[Problem] = list(_no_footer(ends)) if kept.size else []
    left_out = Left(
        block=block,
        cells=cells,
        stamps=stamps,
        timed=timed,
        before=before,
        layout=layout,
        needed=needed,
        cut=cut,
    )
    last = int(kept[-1]) if kept.size else -1
    header = {line.strip() for line in table.header}
    for i in np.flatnonzero(~good).tolist():
        if not block[i].strip('\x1a\x00\ufeff \t,;|"'):
            continue
        if block[i].strip() in header:
            ends.repeated_headers += 1
            continue
        if i < last and other_names(cells[i], table):
            raise names_change(before + i + 1, block[i])
        problem = left_out.problem(i)
        if i > last and left_out.is_text(i):
            if len(ends.after) < MOST_FOOTER:
                ends.after.append(problem)
        else:
            problems.append(problem)
    rows = cells if kept.size == len(cells) else [cells[i] for i in kept.tolist()]
    plain = text.isascii() and "_" not in text
    values: dict[int, Floats] = {}
    for column in layout.columns:
        at = column.index
        read, bad = read_numbers([row[at] for row in rows], layout.numerals, plain=plain)
        values[at] = read
        for i in np.flatnonzero(bad).tolist():
            problems.append(no_number(before + int(kept[i]) + 1, column, rows[i][at]))
    _remember(ends, block, before, kept.tolist(), values[layout.source])
    return Block(
        row=(kept + (before + 1)).astype(np.int64),
        local_s=times.local_s[kept],
        offset_min=times.offset_min[kept],
        values=values,
        problems=tuple(problems),
        lines=len(block),
    )


def _no_footer(ends: Ends) -> tuple[Problem, ...]:
    """Hand back the lines held as a footer: a row follows, so they were none."""
    held, ends.after = tuple(ends.after), []
    return held


def _remember(
    ends: Ends, block: list[str], before: int, kept: Sequence[int], figure: Floats
) -> None:
    def shown(k: int) -> Shown:
        return Shown(before + kept[k] + 1, block[kept[k]], float(figure[k]))

    count = len(kept)
    ends.first += [shown(k) for k in range(min(count, SHOWN - len(ends.first)))]
    ends.last.extend(shown(k) for k in range(max(0, count - SHOWN), count))
    if len(ends.told) < SHOWN:
        told = np.flatnonzero(np.isfinite(figure))[: SHOWN - len(ends.told)]
        ends.told += [shown(k) for k in told.tolist()]


def _cut_row(
    block: list[str],
    cells: list[list[str]],
    timed: NDArray[np.bool_],
    good: NDArray[np.bool_],
    numerals: Numerals,
) -> int:
    """Return the index of an unfinished last line that looks cut off, -1 when it is whole."""
    last = len(block) - 1
    earlier = np.flatnonzero(good[:last])[-40:].tolist()
    if not block[last].strip() or not earlier:
        return -1
    if good[last]:
        value, _ = read_numbers(cells[last][-1:], numerals)
        known = not np.isnan(value[0])  # a mark of a missing value has decimals of its own
        return last if known and _fewer_places(cells[last], [cells[i] for i in earlier]) else -1
    shape, whole = _shape(block[last]), _shape(block[earlier[-1]])
    return last if timed[last] or whole.startswith(shape) else -1


def _shape(line: str) -> str:
    return re.sub(r"[0-9]", "0", line)


def _fewer_places(row: list[str], earlier: list[list[str]]) -> bool:
    """Tell whether the last number lost digits that every earlier row has."""
    if len(row) < min(map(len, earlier)):
        return True
    same = [other for other in earlier if len(other) == len(row)]
    places = {_places(other[-1].strip().strip('"')) for other in same}
    return len(places) == 1 and _places(row[-1].strip().strip('"')) < places.pop()


def _places(text: str) -> int:
    return max(len(text.partition(".")[2]), len(text.partition(",")[2]))
