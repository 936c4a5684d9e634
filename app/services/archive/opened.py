"""Open an archive: only names that belong in one, sizes bounded, every byte beside its sum.

Nothing is unpacked to the disk. What the table of contents of the zip says is not believed: a
member is read in blocks, and no further than the size that its manifest gives.
"""

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from app.errors import BadInput
from app.services.archive import contents
from app.services.archive.rows import RETAKE, refused, shown
from app.services.archive.zipped import Member

MOST_MEMBERS = 400_000
MOST_MANIFEST = 128 * 1024 * 1024
MOST_LINE = 128 * 1024 * 1024
MOST_BYTES = 256 * 1024**3
MOST_TIMES = 200  # as large as the archive itself: measured records come to some ten times
SMALL = 16 * 1024 * 1024  # up to this the ratio does not matter
BLOCK = 1024 * 1024
NAMED = re.compile(
    r"manifest\.json|README\.txt|rows/[a-z_]{1,60}\.jsonl|originals/[0-9a-f]{64}"
    r"|lists/[a-z0-9-]{1,80}\.csv(-metadata\.json)?"
)
BROKEN = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError,
    OverflowError, OSError,
)  # fmt: skip
WORDS = ("made_by", "made_at", "epoch", "schema")
KEYS = {*WORDS, "format", "version", "invented", "counts", "files"}


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What an archive says of itself, read strictly."""

    made_by: str
    made_at: str
    epoch: str
    schema: str
    invented: bool
    counts: dict[str, int]
    files: dict[str, Member]

    @property
    def row_count(self) -> int:
        return sum(self.counts.values())

    @property
    def original_count(self) -> int:
        return sum(name.startswith("originals/") for name in self.files)


class Archive:
    """An opened archive, its manifest read."""

    def __init__(self, packed: zipfile.ZipFile, size: int) -> None:
        self._zip = packed
        self._infos = _infos(packed)
        self.size = size
        self.manifest = self._manifest()

    def blocks(self, name: str) -> Iterator[bytes]:
        """Yield a member in blocks.

        Raises
        ------
        BadInput
            At the end, when size or sum are not those of the manifest; on the way, when it is
            longer or cannot be unpacked.
        """
        said = self.manifest.files[name]
        digest, size = hashlib.sha256(), 0
        for block in self._raw(name):
            size += len(block)
            if size > said.size:
                break
            digest.update(block)
            yield block
        if size != said.size:
            more = "more" if size > said.size else f"{size}"
            raise refused(name, f"{more} bytes", f"the manifest says {said.size} bytes")
        if digest.hexdigest() != said.sha256:
            raise refused(name, "", "its SHA-256 is not the one in the manifest")

    def lines(self, name: str) -> Iterator[tuple[int, bytes]]:
        """Yield the lines of a member with their numbers; raises as `blocks`."""
        rest, number = b"", 0
        for block in self.blocks(name):
            *whole, rest = (rest + block).split(b"\n")
            for line in whole:
                number += 1
                yield number, line
            if len(rest) > MOST_LINE:
                rule = f"a line has at most {MOST_LINE} bytes"
                raise refused(f"{name}, line {number + 1}", "", rule)
        if rest:
            raise refused(f"{name}, line {number + 1}", rest[:60], "the line is cut")

    def _raw(self, name: str) -> Iterator[bytes]:
        try:
            with self._zip.open(self._infos[name]) as member:
                while block := member.read(BLOCK):
                    yield block
        except BROKEN:
            raise refused(name, "", "cannot be unpacked: its bytes are damaged") from None

    def _manifest(self) -> Manifest:
        if contents.MANIFEST not in self._infos:
            rule = "it has no manifest.json: this is no archive of Sillbook"
            raise refused("", "", rule, "Choose the file that `archive out` wrote.")
        text = b""
        for block in self._raw(contents.MANIFEST):
            text += block
            if len(text) > MOST_MANIFEST:
                rule = f"at most {MOST_MANIFEST} bytes are read"
                raise refused(contents.MANIFEST, "", rule)
        found = read_manifest(text)
        missing = sorted(set(found.files) - set(self._infos))
        if missing:
            raise refused(missing[0], "", "the manifest names this file, and it is not there")
        for name in sorted(set(self._infos) - set(found.files) - {contents.MANIFEST}):
            raise refused(name, "", "the manifest does not name this file")
        total = sum(member.size for member in found.files.values())
        if total > MOST_BYTES or total > max(MOST_TIMES * self.size, SMALL):
            rule = f"unpacked it would be {total} bytes, out of proportion to its {self.size}"
            raise refused("", "", rule)
        return found


def _infos(packed: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """Return the table of contents, refusing what no archive has."""
    infos = packed.infolist()
    if len(infos) > MOST_MEMBERS:
        raise refused("", len(infos), f"at most {MOST_MEMBERS} files are read")
    found: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        name = info.filename
        if info.orig_filename != name or not NAMED.fullmatch(name):
            raise refused("", info.orig_filename, "no name of a file in an archive")
        if name in found:
            raise refused(name, "", "the archive holds this file twice")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise refused(name, info.compress_type, "packed in a way that no archive uses")
        found[name] = info
    return found


def read_manifest(text: bytes) -> Manifest:
    """Read the text of a manifest.

    Raises
    ------
    BadInput
        When it is none, or of a newer form.
    """

    def wrong(field: str, value: object, rule: str, remedy: str = RETAKE) -> BadInput:
        return refused(f"{contents.MANIFEST}, {shown(field)}", value, rule, remedy)

    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        raise refused(contents.MANIFEST, text[:60], "not JSON") from None
    if not isinstance(said, dict) or said.get("format") != contents.NAME:
        raise wrong("format", "", f"not {contents.NAME}", "Choose a file of `archive out`.")
    version = said.get("version")
    if not _is_count(version):
        raise wrong("version", version, "not a whole number")
    if version != contents.FORMAT:
        rule = f"this release reads form {contents.FORMAT}"
        raise wrong("version", version, rule, "Take it in with a release that reads this form.")
    for key in sorted(KEYS ^ set(said)):
        raise wrong(key, "", "missing" if key in KEYS else "no field of a manifest")
    for key in WORDS:
        if not isinstance(said[key], str):
            raise wrong(key, said[key], "not a text")
    if not isinstance(said["invented"], bool):
        raise wrong("invented", said["invented"], "not true or false")
    for key in ("counts", "files"):
        if not isinstance(said[key], dict):
            raise wrong(key, said[key], "not an object")
    for key, count in said["counts"].items():
        if not _is_count(count):
            raise wrong(f"counts, {key}", count, "not a whole number from 0")
    files = {name: _member(name, member, wrong) for name, member in said["files"].items()}
    told = {key: said[key] for key in (*WORDS, "invented", "counts")}
    return Manifest(**told, files=files)


def _member(name: str, said: Any, wrong: Any) -> Member:
    at = f"files, {name}"
    if not isinstance(said, dict) or set(said) != {"size", "sha256"}:
        raise wrong(at, said, "not size and sha256")
    if not _is_count(said["size"]):
        raise wrong(f"{at}, size", said["size"], "not a whole number from 0")
    if not isinstance(said["sha256"], str):
        raise wrong(f"{at}, sha256", said["sha256"], "not a text")
    return Member(said["size"], said["sha256"])


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**63


@contextmanager
def opened(source: Path | IO[bytes]) -> Iterator[Archive]:
    """Open an archive and read its manifest; raises BadInput with the place of what is wrong."""
    if isinstance(source, Path) and not source.is_file():
        raise BadInput("file", source, "there is no such file", "Check the name.")
    try:
        packed = zipfile.ZipFile(source)
    except BROKEN as error:
        rule = f"not a whole zip: it is damaged, or was cut ({shown(error)})"
        raise refused("", "", rule) from None
    with packed:
        file = packed.fp
        assert file is not None
        yield Archive(packed, file.seek(0, 2))


def look(source: Path) -> Manifest:
    """Return what an archive says of itself; its rows are not read. Raises as `opened`."""
    with opened(source) as archive:
        return archive.manifest
