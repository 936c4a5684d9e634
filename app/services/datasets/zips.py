"""A zip that is sent while it is made: nothing is kept but the piece on its way.

ZIP as of ISO/IEC 21320-1 (deflate, no encryption), with the sizes behind each file.
"""

import zipfile
from collections.abc import Iterable, Iterator
from datetime import datetime


class _Pipe:
    """What is written and not yet taken; no place to go back to, so that the zip streams."""

    def __init__(self) -> None:
        self.held = bytearray()

    def write(self, data: bytes) -> int:
        self.held += data
        return len(data)

    def flush(self) -> None:
        """Nothing is held back."""

    def taken(self) -> bytes:
        taken = bytes(self.held)
        self.held.clear()
        return taken


File = tuple[str, Iterable[str | bytes]]


def zipped(files: Iterable[File], at: datetime) -> Iterator[bytes]:
    """Yield a zip of named files, whose pieces are text (UTF-8) or bytes, as they come."""
    pipe = _Pipe()
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as whole:  # type: ignore[call-overload]
        for name, pieces in files:
            about = zipfile.ZipInfo(name, at.timetuple()[:6])
            about.compress_type = zipfile.ZIP_DEFLATED
            with whole.open(about, "w", force_zip64=True) as file:
                for piece in pieces:
                    file.write(piece.encode() if isinstance(piece, str) else piece)
                    if len(pipe.held) > 65_536:
                        yield pipe.taken()
            yield pipe.taken()
    yield pipe.taken()
