"""What a phone says of a logger file it brings: the file itself travels as kept bytes."""

from typing import Annotated

from pydantic import Field

from app.services.entries.bodies.base import Instant, ShortText, Strict, Text

Seconds = Annotated[float, Field(ge=-31_622_400.0, le=31_622_400.0, allow_inf_nan=False)]


class LoggerFileSent(Strict):
    """A file downloaded from a logger: its hash, and how far the clock ran from true time.

    `clock_fast_s` is logger time minus true time at the download.
    """

    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    name: ShortText = ""
    size: Annotated[int, Field(ge=1, le=64 * 1024 * 1024)]
    serial: ShortText = ""
    downloaded_at: Instant | None = None
    clock_fast_s: Seconds | None = None
    note: Text = ""
