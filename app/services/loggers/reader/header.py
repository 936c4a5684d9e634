"""The lines above the readings: names and units of the columns, serial number, what blocks say.

A row names the columns when it has a cell for each and the cell over the time speaks of time. What
is only near to that, such as the lines of a block, is kept as a hint: a hint is shown with the
question which column is the head, it never answers it. A unit in prose names nothing.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from app.services.loggers.reader.cells.numbers import looks_numeric
from app.services.loggers.reader.cells.units import unit_exact, unit_of
from app.services.loggers.reader.columns import meaning_of

_NEAR = 10  # lines above the first row among which names and units are looked for
_LONGEST = 120
_TIME = re.compile(
    r"(?i)date|time|stamp|datum|zeit|uhr|fecha|hora\b|heure|jour\b|dato\b|klok|moment|\bwhen\b|"
    r"\butc\b|\bgmt\b|\byear\b|interval|^(?:from|begin|beginn|start|end|until|von|bis)\b|日|時|时|시간|일시|날짜|ώρα|ημερ|врем|дата|^(?:ts|data|data/ora|ora|tid|dia|day|dt)$"
)
_STAMP_FORM = re.compile(r"(?i)-|ts|rn|utc|local|[ydmhs\-/:. ]{4,}(?:am/pm)?")
_LABELS = re.compile(
    r"(?i)^(?:param|name|quantity|variable|channel|sensor\b|series|signal|measur|label)"
)
_SENTENCE = frozenset(("of", "the", "and", "in", "is", "are", "a", "to", "for", "with", "from"))
_VALUE = re.compile(r"[=<>~]?\s*[.+-]?\d[\d.,]*\s*\S{0,8}")
_BLOCK = re.compile(
    r"(?i)^\W*(channel|kanal|canal|sensor|input|series|parameter|column|ch)\W{0,3}"
    r"(?:no\.?|number|#)?\s*(\d{1,2})\b\W*(.*)$"
)
_SAYS_WHAT = re.compile(
    r"(?i)^\W*(?:identification|name|parameter|quantity|label|description|measurement|measures|"
    r"variable|type)\s*[:=,;\t]\s*=?\s*(\S.*)$"
)
_SAYS_UNIT = re.compile(
    r"(?i)^\W*((?:[^\W\d]+\s+){0,2})units?(?:\s+of\s+measure\w*)?\s*[:=,;\t]\s*=?\s*(\S.*)$"
)
_KEY = re.compile(
    r"(?i)(?:\bserial(?![a-z])|\bs\s?/\s?n\b|\bsn\b|\bseriennummer|\bn[°ºo]\.? de s[ée]rie)"
    r"[\s._]*(?:numbers?\b|no\b|nr\b|num\b|#)?[\s.:=#,;\t\"']*"
)
_SERIAL = re.compile(r"[A-Za-z0-9][A-Za-z0-9._/\-]{2,39}")


@dataclass(frozen=True)
class Shape:
    """Where the readings stand: columns counted from 0; `filled` are those with text in them."""

    fields: int
    time_at: int
    time_columns: int
    filled: frozenset[int]

    @property
    def values(self) -> list[int]:
        """The columns beside the time."""
        end = self.time_at + self.time_columns
        return [i for i in range(self.fields) if not self.time_at <= i < end]


@dataclass(frozen=True)
class Header:
    """What the lines above the readings say of each column.

    named: a row of names stands over the columns. two_units: columns whose rows of names disagree
    on the unit. loose_units: units of `UNIT:` lines of no column, with the words before.
    """

    names: tuple[str, ...]
    units: tuple[str | None, ...]
    named: bool
    two_units: frozenset[int]
    loose_units: tuple[tuple[str, str], ...]
    serial: str | None


def serial_in(lines: Sequence[str]) -> str | None:
    """Return the serial number that header lines name: the logger's before a sensor's."""
    found: list[tuple[bool, str]] = []
    for number, line in enumerate(lines):
        text = line[:400]
        for key in _KEY.finditer(text):
            rest = text[key.end() :]
            if not rest.strip() and number + 1 < len(lines):
                rest = lines[number + 1][:60].strip(" \t\"'=.")
            value = _SERIAL.match(rest)
            if value and any(map(str.isdigit, value[0])):
                before = text[max(0, key.start() - 20) : key.start()].lower()
                sensor = re.search(r"(?:sen|sensor|probe|transducer)\W*$", before) is not None
                found.append((sensor, value[0].rstrip("./-_")))
    return min(found, key=lambda one: one[0])[1] if found else None


def read_header(lines: Sequence[str], delimiter: str, shape: Shape, sign: str) -> Header:
    """Return what the lines above the first row say."""
    fitted = [_fit(line, delimiter, shape, sign) for line in lines]
    near = [i for i, cells in enumerate(fitted) if cells is not None][-_NEAR:]
    kinds = {i: _kind(fitted[i] or [], shape) for i in near}
    if delimiter == "space":  # a sentence may have as many words as there are columns
        kinds |= {i: "words" for i in near if _SENTENCE & {c.lower() for c in fitted[i] or []}}
    units: list[str | None] = [None] * shape.fields
    for i in near:
        if kinds[i] == "units":
            units = [unit_exact(cell) for cell in fitted[i] or []]
    at = _names_row([(i, fitted[i] or []) for i in near if kinds[i] == "names"], shape)
    named = at is not None
    parts: list[list[str]] = [[] for _ in range(shape.fields)]
    if at is None:
        # a row of words without a word for the time is shown, and names nothing for certain
        told = [i for i, line in enumerate(lines) if line.strip(' \t,;|-=_"')]
        if told and kinds.get(told[-1]) == "words" and delimiter != "space":
            at = told[-1]
    top = len(lines) if at is None else at
    for i in near:
        cells = fitted[i] or []
        joined = kinds[i] in ("words", "names") and (i > top or i == top - 1)
        over = not cells[shape.time_at] or _TIME.search(cells[shape.time_at]) is not None
        over_all = (
            kinds[i] in ("words", "names") and _LABELS.match(cells[shape.time_at]) is not None
        )
        if i == at or (named and (over_all or (joined and (over or i > top)))):
            for part, cell in zip(parts, cells, strict=True):
                if cell and cell not in part:
                    part.append(cell)
    names = [" ".join(part) for part in parts]
    two: set[int] = set()
    for column in shape.values:
        said = {unit for part in parts[column] if (unit := unit_of(part))}
        if len(said) > 1:
            two.add(column)
        elif units[column] is None and named:
            units[column] = next(iter(said), None)
    loose = _blocks(lines, shape, names, units, named=named)
    serial = serial_in(lines)
    return Header(tuple(names), tuple(units), named, frozenset(two), tuple(loose), serial)


def _clean(cell: str) -> str:
    return cell.strip().strip("\"'\ufeff").strip()[:_LONGEST]


def _fit(line: str, delimiter: str, shape: Shape, sign: str) -> list[str] | None:
    """Return a line as one cell a column, None when it does not fit over the columns."""
    line = line[:4000]
    if delimiter == "space":
        splits = [re.split(r"\t+| {2,}", line.strip()), _glued(line, shape), line.split()]
        splits = [cells for cells in splits if len(cells) <= shape.fields]
    else:
        splits = [line.split(sign)]
        if '"' in line:
            quoted = re.findall(rf'\s*"([^"]*)"\s*(?:{re.escape(sign)}|$)|([^{re.escape(sign)}]*)'
                                rf"(?:{re.escape(sign)}|$)", line)  # fmt: skip
            splits.insert(0, [a or b for a, b in quoted][:-1] if quoted else [])
    for cells in splits:
        placed = _placed([_clean(cell) for cell in cells], shape)
        if placed is not None and any(placed):
            return placed
    return None


def _glued(line: str, shape: Shape) -> list[str]:
    """Return names of several words whose columns end with a bracket: `Water Level (m)`."""
    words = re.findall(r"[(\[{][^)\]}]*[)\]}]|[^\s(\[{]+", line)
    begin = next((i for i, word in enumerate(words) if not _TIME.search(word)), len(words))
    cells, open_cell = list(words[:begin]), ""
    for word in words[begin:]:
        open_cell = f"{open_cell} {word}".strip()
        if word[-1] in ")]}":
            cells, open_cell = [*cells, open_cell], ""
    return [*cells, open_cell] if open_cell else cells


def _placed(cells: list[str], shape: Shape) -> list[str] | None:
    while len(cells) > shape.fields and not cells[-1]:
        cells = cells[:-1]
    at, wide = shape.time_at, shape.time_columns
    count, fields = len(cells), shape.fields
    if count == fields:
        return cells
    over = cells[at] if at < count else ""
    if wide > 1 and count == fields - wide + 1 and _TIME.search(over):
        return [*cells[: at + 1], *([""] * (wide - 1)), *cells[at + 1 :]]
    if all(map(unit_exact, cells)) and count == len(shape.values):
        placed = [""] * fields
        for column, cell in zip(shape.values, cells, strict=True):
            placed[column] = cell
        return placed
    parted = wide == 1 and count == fields + 1 and at + 1 < count
    if parted and re.search(r"(?i)date|datum|fecha", over) and _TIME.search(cells[at + 1]):
        return [*cells[:at], f"{over} {cells[at + 1]}", *cells[at + 2 :]]
    if not _TIME.search(over):
        return None
    if count > fields:
        return cells[:fields]
    if count > at and not any(column in shape.filled for column in range(count, fields)):
        return cells + [""] * (fields - count)
    return None


def _kind(cells: Sequence[str], shape: Shape) -> str:
    """Return what a row of cells is: names, units, words, or nothing of these."""
    told = [cell for cell in cells if cell]
    if not told or not any(re.search(r"[^\W\d_]", cell) for cell in told):
        return "nothing"
    values = [cells[column] for column in shape.values]
    if any(looks_numeric(cell) or "=" in cell or _VALUE.fullmatch(cell) for cell in told):
        return "nothing"
    if any(unit_exact(cell) for cell in values if cell) and all(
        unit_exact(cell)
        or _STAMP_FORM.fullmatch(cell)
        or (len(cell) <= 12 and " " not in cell and meaning_of(cell) is None)
        for cell in told
    ):
        return "units"
    stamps = cells[shape.time_at : shape.time_at + shape.time_columns]
    if any(_TIME.search(cell) for cell in stamps if cell):
        return "names"
    if not any(stamps) and any(meaning_of(cell) for cell in values if cell):
        return "names"
    return "words"


def _names_row(rows: Sequence[tuple[int, Sequence[str]]], shape: Shape) -> int | None:
    """Return the row of names that says most of its columns, the later of equals."""
    if not rows:
        return None
    said = {
        i: sum(meaning_of(cells[c]) is not None for c in shape.values if cells[c])
        + 2 * bool(cells[shape.time_at])
        for i, cells in rows
    }
    return max(said, key=lambda i: (said[i], i))


def _blocks(
    lines: Sequence[str], shape: Shape, names: list[str], units: list[str | None], *, named: bool
) -> list[tuple[str, str]]:
    """Take over what the lines of channel blocks say; return the units of no block."""
    blocks: list[dict[str, str]] = []
    loose: list[tuple[str, str]] = []
    topic = ""  # a line of one name, such as LEVEL, over the line of its unit
    for line in lines:
        text = line[:200].strip().strip('"')
        start = _BLOCK.match(text)
        if start and not _SAYS_UNIT.match(text):
            blocks.append({"word": start[1].lower(), "number": start[2]})
            if start[3].strip("]) \t"):
                blocks[-1]["name"] = start[3].strip("]) \t")
                if unit := unit_of(blocks[-1]["name"]):
                    blocks[-1]["unit"] = unit
            continue
        unit_line, what = _SAYS_UNIT.match(text), _SAYS_WHAT.match(text)
        unit = unit_exact(unit_line[2].split(",")[0].split(";")[0]) if unit_line else None
        if unit_line and unit:
            if blocks and not unit_line[1].strip():
                blocks[-1].setdefault("unit", unit)
            else:
                loose.append((unit_line[1].strip().lower() or topic, unit))
        elif what and blocks:
            blocks[-1].setdefault("name", what[1].strip()[:60])
        elif len(text) <= 30 and not re.search(r"[:=,;\t]", text) and meaning_of(text):
            topic = text.lower()
    for column, block in _columns_of(blocks, shape):
        if not named and not names[column]:
            names[column] = block.get("name", "")
        if units[column] is None:
            units[column] = block.get("unit")
    return loose


def _columns_of(blocks: Sequence[dict[str, str]], shape: Shape) -> list[tuple[int, dict[str, str]]]:
    """Return the column each block speaks of: the numbered one, or the blocks in their order."""
    first: dict[tuple[str, str], dict[str, str]] = {}
    for block in blocks:
        first.setdefault((block["word"], block["number"]), {}).update(block)
    numbered = list(first.values())
    if numbered and all(block["word"] == "column" for block in numbered):
        places = [(int(block["number"]) - 1, block) for block in numbered]
        return [(at, block) for at, block in places if at in shape.values]
    filled = [column for column in shape.values if column in shape.filled]
    if len(numbered) != len(filled):
        return []
    return list(zip(filled, numbered, strict=True))
