"""Instants as text, and ids that sort by them: one way to write each."""

import secrets
import uuid
from collections.abc import Callable
from datetime import UTC, datetime


def iso(moment: datetime) -> str:
    """Return an instant as ISO 8601 UTC with milliseconds and Z."""
    text = moment.astimezone(UTC).isoformat(timespec="milliseconds")
    return text.replace("+00:00", "Z")


def uuid7(moment: datetime, random_bytes: Callable[[int], bytes] = secrets.token_bytes) -> str:
    """Return a UUIDv7 (RFC 9562, 5.7) for an instant."""
    head = int(moment.timestamp() * 1000).to_bytes(6, "big")
    raw = bytearray(head + random_bytes(10))
    raw[6], raw[8] = 0x70 | (raw[6] & 0x0F), 0x80 | (raw[8] & 0x3F)
    return str(uuid.UUID(bytes=bytes(raw)))
