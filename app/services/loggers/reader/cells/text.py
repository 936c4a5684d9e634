"""Bytes of a logger file as lines of text: byte order mark, code page, line ends.

Nothing is ever lost here: a byte that does not fit the code page becomes a replacement sign,
which no number or date accepts, so the row is named as a problem later on. Files are read in
blocks; only a sample and one block are held at a time.
"""

import codecs
import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from app.errors import BadInput

HEAD_BYTES = 65_536
BLOCK_BYTES = 2_048
SAMPLED_BLOCKS = 24
READ_CHARACTERS = 1_000_000

_NOT_TEXT = (
    (b"PK\x03\x04", "a workbook or archive", "Open it in a spreadsheet and save it as CSV text."),
    (b"\xd0\xcf\x11\xe0", "a workbook", "Open it in a spreadsheet and save it as CSV text."),
    (b"%PDF", "a printed page", "Export the readings as CSV text from the logger's program."),
    (b"\x1f\x8b", "a compressed file", "Unpack it first."),
    (b"\xff\xd8\xff", "a photo", "Choose the file with the readings."),
    (b"\x89PNG", "a picture", "Choose the file with the readings."),
    (b"SQLite format 3", "a database", "Export the readings as CSV text."),
)


def refuse(row: int, column: int, value: object, rule: str, remedy: str) -> BadInput:
    """Return a refusal that names row and column, both counted from 1."""
    return BadInput(f"row {row}, column {column}", value, rule, remedy)


@dataclass(frozen=True)
class Encoded:
    """How the bytes were read, and why."""

    codec: str
    words: str
    why: str


def encoding_of(raw: BinaryIO) -> Encoded:
    """Return the code page of a file.

    Raises
    ------
    BadInput
        If the file is empty or no text.
    """
    raw.seek(0)
    head = raw.read(HEAD_BYTES)
    if not head.strip(b"\x00 \t\r\n\x1a\xef\xbb\xbf\xff\xfe"):
        raise refuse(1, 1, "nothing", "the file has no text in it", "Download the logger again.")
    for magic, what, remedy in _NOT_TEXT:
        if head.startswith(magic):
            raise refuse(1, 1, what, "a logger file is plain text", remedy)
    if head.startswith(codecs.BOM_UTF8):
        return Encoded("utf-8-sig", "UTF-8", "byte order mark")
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return Encoded("utf-16", "UTF-16", "byte order mark")
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if max(even, odd) > len(head) // 5:
        big = even > odd
        codec = "utf-16-be" if big else "utf-16-le"
        return Encoded(codec, "UTF-16", "every other byte is zero, no byte order mark")
    if head.count(0) > len(head) // 100 + 2:
        raise refuse(
            1, 1, "bytes that are no text", "a logger file is plain text", "Export it as CSV text."
        )
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return Encoded("cp1252", "Windows western code page", "bytes that UTF-8 does not allow")
    return Encoded("utf-8", "UTF-8", "plain text")


def lines(raw: BinaryIO, encoding: Encoded, rows: int) -> Iterator[list[str]]:
    """Yield lists of at least `rows` lines (the last one of fewer), without their line ends."""
    raw.seek(0)
    text = io.TextIOWrapper(raw, encoding=encoding.codec, errors="replace", newline=None)
    try:
        held: list[str] = []
        rest = ""
        while part := text.read(READ_CHARACTERS):
            found = (rest + part).split("\n")
            rest = found.pop()
            held += found
            if len(held) >= rows:
                yield held
                held = []
        if rest:
            held.append(rest)
        if held:
            yield held
    finally:
        text.detach()  # the file stays open for whoever opened it


def ends_with_newline(raw: BinaryIO, encoding: Encoded) -> bool:
    """Tell whether the last line is finished."""
    end = raw.seek(0, io.SEEK_END)
    raw.seek(max(end - 4, 0))
    tail = raw.read().rstrip(b"\x1a")
    if encoding.codec.startswith("utf-16"):
        tail = tail.rstrip(b"\x00") if tail.endswith((b"\n\x00", b"\r\x00")) else tail
    return tail.endswith((b"\n", b"\r"))


def sample_lines(raw: BinaryIO, encoding: Encoded) -> tuple[list[str], list[str]]:
    """Return the lines of the first block, and lines from blocks all over the file.

    Raises
    ------
    BadInput
        If the first block holds no line end at all.
    """
    size = raw.seek(0, io.SEEK_END)
    raw.seek(0)
    head = _whole_lines(raw.read(HEAD_BYTES), encoding.codec, whole_file=size <= HEAD_BYTES)
    if not head:
        raise refuse(
            1, 1, f"{HEAD_BYTES} bytes", "a row is shorter than that", "Choose a logger file."
        )
    further: list[str] = []
    codec = encoding.codec if encoding.codec != "utf-16" else _utf16_order(raw)
    if size > HEAD_BYTES:
        span = (size - HEAD_BYTES) // SAMPLED_BLOCKS
        starts = [HEAD_BYTES + i * span for i in range(SAMPLED_BLOCKS)] + [size - BLOCK_BYTES]
        for start in starts:
            raw.seek(start // 2 * 2)
            block = _whole_lines(raw.read(BLOCK_BYTES), codec, whole_file=False)
            further.extend(block[1:])  # the first line began before the block
    return head, further


def _utf16_order(raw: BinaryIO) -> str:
    raw.seek(0)
    return "utf-16-le" if raw.read(2) == codecs.BOM_UTF16_LE else "utf-16-be"


def _whole_lines(block: bytes, codec: str, *, whole_file: bool) -> list[str]:
    text = block.decode(codec, errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    found = text.split("\n")
    if not whole_file or not found[-1]:
        found.pop()
    return found
