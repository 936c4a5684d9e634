"""Files of old readings that are damaged or hostile: refused with their place, never a crash.

Two thousand files are read and checked without a database; a few dozen go through the whole road.
"""

import random
import re
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.entries import Entry, RefusedEntry
from app.records.people import Person
from app.records.sites import Structure
from app.services.books.check import HIGHEST_STAFF_M, check
from app.services.books.files import ReadFile, rows_of_file
from app.services.books.take_in import take_in
from tests.services.books.test_take_in import NOW, a_sheet

FILES = 2000
PLACE = re.compile(r"row \d+, column \d+")
CELLS = (
    *("nan", "inf", "-inf", "1e400", "9" * 400, "0x1f", "=1+1", "=HYPERLINK(A1)", "@SUM(A1)"),
    *("+-210", "2 1 0", "\u0662\u0661\u0660", "\u2212210", "1,234,5", "1.234.5", "--", "#REF!"),
    *("9999-99-99", "0000-00-00", "31.02.2024", "2024-13-01", "24:61", "99:99", "\u202e012"),
    *('"', '""', "'", "\x07", "\x1b[2J", "\ufeff", "\U0001f30a" * 60, "a" * 5000, "2024-08-01"),
    *("210;210", "210\t210", "\r", "\n", "<script>", "%s%n", "NULL", "None", "1/0", "2024W311"),
)
WHOLE = (
    *(b"", b"\x00" * 80, b"PK\x03\x04abc", b"\xff\xfe", b"\xef\xbb\xbf", b"%PDF-1.7"),
    *(b"\xfe\xff\x00", b"staff", b"day,staff", b",,,,\n" * 50, b'"day","staff\n2024-08-01'),
    *(b"\n" * 9000, b";" * 9000, b"day,day,staff\n1,2,3\n"),
    b"day,time,staff\n" + b"2024-08-01,7:30,210\n" * 7000,
)


def good_file(chance: random.Random) -> bytes:
    mark = chance.choice(",;\t")
    lines = [mark.join(("Day", "Time", "Staff", "Tail", "Remark"))]
    for k in range(1, chance.randrange(4, 12)):
        staff = chance.choice((str(200 + k), f"{200 + k}.5", f'"{200 + k},5"'))
        lines.append(mark.join((f"2024-08-{k:02}", "07:30", staff, "", "Überlauf")))
    text = chance.choice(("\n", "\r\n")).join(lines)
    return text.encode(chance.choice(("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252")))


def damaged(chance: random.Random) -> bytes:
    content = bytearray(good_file(chance))
    way = chance.randrange(7)
    if way == 0:
        for _ in range(chance.randrange(1, 9)):
            content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
    elif way == 1:
        del content[chance.randrange(len(content)) :]
    elif way == 2:
        at = chance.randrange(len(content))
        content[at:at] = chance.choice(CELLS).encode(chance.choice(("utf-8", "utf-16-le")))
    elif way == 3:
        content[chance.randrange(len(content))] = 0
    elif way == 4:
        content += good_file(chance)  # a second file behind the first, often of another encoding
    elif way == 5:
        text = good_file(chance).decode("latin-1").split("\n")
        cells = text[chance.randrange(len(text))].split(",")
        cells[chance.randrange(len(cells))] = chance.choice(CELLS)
        text[-1] = ",".join(cells)
        content = bytearray("\n".join(text).encode("utf-8", "replace"))
    else:
        return bytes(chance.randbytes(chance.randrange(1, 400)))
    return bytes(content)


def read_or_refused(content: bytes) -> tuple[ReadFile | None, BadInput | None]:
    try:
        return rows_of_file(content), None
    except BadInput as error:
        return None, error


def test_a_damaged_file_is_refused_with_its_place_or_row_by_row() -> None:
    chance = random.Random(29)
    refused = faults = fine = 0
    for content in [*WHOLE, *(damaged(chance) for _ in range(FILES))]:
        read, error = read_or_refused(content)
        if read is None or error is not None:
            refused += 1
            assert error is not None
            assert PLACE.search(error.field) or error.field == "rows", (content[:80], error)
            assert error.rule
            assert error.remedy
            continue
        lines = content.count(b"\n") + content.count(b"\r") + 1
        for one in check(a_sheet(), read.rows, NOW):
            assert 1 <= one.row.number <= lines
            faults += len(one.faults)
            assert all(fault.field in read.columns or fault.field in ("day", "time", "staff")
                       for fault in one.faults)  # fmt: skip
            if not one.faults:
                fine += 1
                assert one.at is not None
                assert datetime(1990, 1, 1, tzinfo=UTC) <= one.at
                assert one.staff_m is not None
                assert abs(one.staff_m) <= HIGHEST_STAFF_M
    assert refused > FILES // 20
    assert faults > FILES // 2
    assert fine > FILES


def test_what_is_left_of_a_damaged_file_goes_the_whole_road(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    chance = random.Random(31)
    flume, person = a_site(), a_person("Office One", "office")
    assert flume.id is not None
    stored = 0
    for number in range(25):
        try:
            read = rows_of_file(damaged(chance))
        except BadInput:
            continue
        sheet = a_sheet(batch=f"01934000-0000-7000-8000-0000000001{number:02}")
        _, answers = take_in(session, flume.id, sheet, read.rows, person, NOW)
        stored += sum(one["state"] == "stored" for one in answers)
        assert {one["state"] for one in answers} <= {"stored", "on record", "question", "refused"}
    held = session.exec(select(Entry).where(col(Entry.kind) == "head_reading")).all()
    assert len(held) == stored > 0
    assert session.exec(select(RefusedEntry)).all() == []


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_the_same_file_reads_alike_in_every_encoding(codec: str) -> None:
    text = "Datum;Time;Staff (cm);Remark\r\n5.8.2024;07:30;21,5;früh\r\n\r\n6.8.2024;7:30;22;\r\n"
    read = rows_of_file(text.encode(codec))
    assert [row.number for row in read.rows] == [2, 4]
    first, second = check(a_sheet(unit=read.unit), read.rows, NOW)
    assert (first.at, first.staff_m) == (datetime(2024, 8, 4, 19, 30, tzinfo=UTC), 0.215)
    assert first.row.cell("remark") == "früh"
    assert second.faults == []
