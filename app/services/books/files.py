"""A file of old readings as rows of a sheet: encoding, marks between cells, columns by name.

Whatever does not fit is refused with line and column, before anything is taken in.
"""

import csv
import io
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from app.errors import BadInput
from app.services.books.sheet import (
    FLOW_UNITS,
    GAUGINGS,
    PAPER_COLUMNS,
    READINGS,
    Row,
    refuse_more_rows,
)
from app.services.loggers.reader.cells.text import encoding_of, refuse

LARGEST_FILE = 4 * 1024 * 1024
WIDEST = 60
MARKS = "\t;,"
DECIMAL_ALONE = re.compile(r"\s*[+-]?\d+,\d+\s*")
NEEDED = {READINGS: "staff", GAUGINGS: "discharge"}
NAMES = {
    "day": r"(day|date|datum|date[ _/]?(and[ _])?time|datetime|observed.*)",
    "time": r"(time|clock|hour)",
    "staff": r"(staff|gauge|reading|stage|level)([ _](reading|height))?",
    "tail": r"(tail|tail[ _]?water|tail[ _]staff|downstream)",
    "discharge": r"(discharge|flow|q)",
    "uncertainty": r"(uncertainty|u|±)",
    "method": r"(method|how)",
    "observer": r"(read[ _]by|gauged[ _]by|observer|reader|gauger|who|name)",
    "page": r"(page|source|sheet)",
    "answer": r"(sure|answer)\??",
    "remark": r"(remarks?|notes?|comments?)",
}
UNIT = re.compile(r"[ _,(\[]*(\b(?:mm|cm|m|l/s|m3/s)|%)[)\]]*\s*$")


@dataclass(frozen=True, kw_only=True)
class ReadFile:
    """The rows of a file, with the columns they came from, counted from 1, and how it was read."""

    rows: list[Row]
    columns: dict[str, int]
    unit: str
    flow_unit: str
    left: list[str]
    encoding: str
    mark: str


def rows_of_file(
    content: bytes, named: Mapping[str, str] | None = None, *, of: str = READINGS
) -> ReadFile:
    """Return the rows of a file.

    Parameters
    ----------
    named : mapping
        Columns as somebody says them: the title of each or its number; else they are known by
        their titles.

    Raises
    ------
    BadInput
        Naming line and column.
    """
    text, encoding = _text(content)
    lines = cells_of(text)
    refuse_more_rows(len(lines))
    if not lines:
        raise refuse(1, 1, "nothing", "the file has no row in it", "Choose the file with readings.")
    columns, begins = _columns(lines, named or {}, of)
    titles = lines[0][1] if begins else []
    unit = _unit(titles, columns.get("staff"), ("mm", "cm", "m"))
    flow_unit = _unit(titles, columns.get("discharge"), FLOW_UNITS)
    rows = [_row(line, cells, columns) for line, cells in lines[begins:]]
    found = [row for row in rows if not row.empty]
    if not found:
        raise refuse(1, 1, "a header", "no row holds a reading", "Choose the file with readings.")
    return ReadFile(
        rows=found, columns={k: v + 1 for k, v in columns.items()}, unit=unit,
        flow_unit=flow_unit,
        left=[t for k, t in enumerate(titles) if t.strip() and k not in columns.values()],
        encoding=encoding, mark=_mark(text),
    )  # fmt: skip


def _text(content: bytes) -> tuple[str, str]:
    if len(content) > LARGEST_FILE:
        raise refuse(
            1,
            1,
            f"{len(content):,} bytes",
            f"at most {LARGEST_FILE // 1024:,} kB",
            "Cut it in parts.",
        )
    encoded = encoding_of(io.BytesIO(content))
    text = content.decode(encoded.codec, errors="replace")
    for sign, rule in (("\0", "a byte of nought"), ("\ufffd", f"no letter in {encoded.words}")):
        place = text.find(sign)
        if place >= 0:
            line = text.count("\n", 0, place) + 1
            before = text[text.rfind("\n", 0, place) + 1 : place]
            column = sum(before.count(mark) for mark in _mark(text)) + 1
            raise refuse(
                line, column, before[-20:] or "its begin", f"holds {rule}",
                "Save the sheet as CSV text in UTF-8.",
            )  # fmt: skip
    return text, encoded.words


def _mark(text: str) -> str:
    """Return what stands between the cells; nothing where there is one column."""
    lines = [line for line in text.splitlines()[:200] if line.strip()]
    for mark in "\t;":
        if any(mark in line for line in lines):
            return mark
    if lines and all(DECIMAL_ALONE.fullmatch(line) for line in lines):
        return ""
    return "," if any("," in line for line in lines) else ""


def cells_of(text: str) -> list[tuple[int, list[str]]]:
    """Return the lines that hold anything, each with its number in the file."""
    mark = _mark(text)
    if not mark:
        return [(k, [line]) for k, line in enumerate(text.splitlines(), 1) if line.strip()]
    found: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    before = 0
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                found.append((before + 1, cells))
            before = reader.line_num
    except csv.Error as error:
        rule = str(error)
        raise refuse(
            before + 1, 1, "", f"is no line of a table: {rule}", "Save the sheet as CSV text again."
        ) from None
    for line, cells in found:
        if len(cells) > WIDEST:
            raise refuse(
                line, WIDEST + 1, f"{len(cells)} cells", f"at most {WIDEST}",
                "Keep the columns of the readings only.",
            )  # fmt: skip
    return found


def _columns(
    lines: Sequence[tuple[int, list[str]]], named: Mapping[str, str], of: str
) -> tuple[dict[str, int], int]:
    """Return the place of each column, and how many lines are a header."""
    line, first = lines[0]
    titles = [cell.strip().lower() for cell in first]
    known = PAPER_COLUMNS[of]
    by_title = {key: at for key, at in _by_title(titles).items() if key in known}
    wanted = {text.strip().lower() for text in named.values()}
    header = bool({"staff", "day", "discharge"} & set(by_title) or wanted & set(titles))
    columns = dict(by_title) if header else {}
    for column, said in named.items():
        columns[column] = _named(column, said, titles, header=header)
    if not columns and any(sign.isdigit() for sign in "".join(first)):
        columns = _by_place(lines, known)
    heads = [k for k, title in enumerate(titles) if re.fullmatch("head.*", title)]
    if "staff" not in columns and heads:
        raise refuse(
            line, heads[0] + 1, first[heads[0]][:40],
            "a head stands over the crest, a staff reads from its own zero",
            "Name the column as staff if it is what the plate showed.",
        )  # fmt: skip
    for column in ("day", NEEDED[of]):
        if column not in columns:
            raise refuse(
                line, 1, ", ".join(first)[:80],
                f"no column is called {known[column].lower()}",
                f"Give the file a header such as day, time, {NEEDED[of]}, or name its columns.",
            )  # fmt: skip
    return columns, int(header)


def _by_title(titles: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for column, pattern in NAMES.items():
        for place, title in enumerate(titles):
            if place not in found.values() and re.fullmatch(pattern, UNIT.sub("", title)):
                found[column] = place
                break
    if "day" not in found and "time" in found:  # one column with both, called time
        found["day"] = found.pop("time")
    return found


def _named(column: str, said: str, titles: Sequence[str], *, header: bool) -> int:
    wanted = said.strip().lower()
    if header and wanted in titles:
        if titles.count(wanted) > 1:
            raise BadInput(column, said, "two columns have this title", "Give its number.")
        return titles.index(wanted)
    if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted[:4]) <= len(titles):
        return int(wanted[:4]) - 1
    shown = ", ".join(titles)[:200]
    raise BadInput(column, said, "is no column of the file", f"Its first line says {shown}.")


def _by_place(lines: Sequence[tuple[int, list[str]]], known: Iterable[str]) -> dict[str, int]:
    """Return the columns of a file without titles: day, time and staff, or both in one cell."""
    widths = {len(cells) for _, cells in lines}
    joined = all(":" in cells[0] for _, cells in lines)
    order = [key for key in known if not (joined and key == "time")]
    return {key: place for place, key in enumerate(order) if place < min(widths)}


def _unit(titles: Sequence[str], place: int | None, known: Collection[str]) -> str:
    """Return the unit that the title of a column ends with, "" where it says none."""
    if place is None or place >= len(titles):
        return ""
    found = UNIT.search(titles[place].lower())
    return next((unit for unit in known if found and unit.lower() == found[1]), "")


def _row(line: int, cells: Sequence[str], columns: Mapping[str, int]) -> Row:
    return Row(
        line, {key: cells[place] if place < len(cells) else "" for key, place in columns.items()}
    )
