"""A zip made while it is sent: the same members give the same bytes, little memory is needed."""

import hashlib
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

ALWAYS = (1980, 1, 1, 0, 0, 0)  # of every member: the bytes must not tell when they were packed
PLAIN_FILE = 0o644 << 16
BY_UNIX = 3


@dataclass(frozen=True)
class Member:
    """What the manifest says of one file in the archive."""

    size: int
    sha256: str


class _Sent:
    """Takes what the packer writes until it is fetched; it cannot be wound back."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []

    def write(self, block: bytes, /) -> int:
        self._parts.append(bytes(block))
        return len(block)

    def flush(self) -> None:
        """Nothing to do: what was written waits for `fetch`."""

    def close(self) -> None:
        """Nothing to do: whoever sends it on says when it ends."""

    def fetch(self) -> bytes:
        found, self._parts = b"".join(self._parts), []
        return found


class Packing:
    """A zip in the making; what is yielded, one after the other, is the file."""

    def __init__(self) -> None:
        self._sent = _Sent()
        self._zip = zipfile.ZipFile(self._sent, "w")
        self.members: dict[str, Member] = {}

    def add(self, name: str, blocks: Iterable[bytes]) -> Iterator[bytes]:
        """Pack one member; every block is compressed and yielded as it comes."""
        about = zipfile.ZipInfo(name, ALWAYS)
        about.compress_type, about.create_system = zipfile.ZIP_DEFLATED, BY_UNIX
        about.external_attr = PLAIN_FILE
        digest, size = hashlib.sha256(), 0
        with self._zip.open(about, "w", force_zip64=True) as member:
            for block in blocks:
                digest.update(block)
                size += len(block)
                member.write(block)
                yield self._sent.fetch()
        self.members[name] = Member(size, digest.hexdigest())
        yield self._sent.fetch()

    def end(self) -> Iterator[bytes]:
        """Close the zip; without this it has no table of contents and is refused as cut."""
        self._zip.close()
        yield self._sent.fetch()
