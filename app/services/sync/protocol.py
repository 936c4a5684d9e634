"""What a phone and the office say to each other: a batch of entries, a receipt for each."""

import json
import re
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from app.errors import BadInput
from app.language.typed import CLOCK_SKEW
from app.language.words import counted
from app.services.entries.bodies.base import instant

PROTOCOL = 1
MOST_ENTRIES = 200
HALF_CHARACTER = re.compile("[\ud800-\udfff]")
UNPRINTABLE = re.compile("[\0\ud800-\udfff]")


@dataclass
class Receipt:
    """The server's answer for one entry."""

    id: str
    state: str  # stored | already_held | refused
    error: BadInput | None = None
    notes: list[str] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        answer: dict[str, Any] = {"id": self.id, "state": self.state, "notes": self.notes}
        if self.error is None:
            return answer
        return answer | {name: printable(part) for name, part in self.error.as_dict().items()}


def printable(value: object) -> str:
    """Return a value as text that a database and an answer can carry: a sign for what cannot be."""
    return UNPRINTABLE.sub("?", str(value))


@dataclass(frozen=True)
class Batch:
    """One request of a phone: its id, its clock when it sent, and the entries as they came."""

    phone: str
    sent_at: datetime | None
    entries: list[object]


def batch_of(content: object) -> Batch:
    """Return a request body as a batch.

    Raises
    ------
    BadInput
        When the whole request is not of this protocol; entries are judged one by one later.
    """
    if not isinstance(content, dict) or content.get("protocol") != PROTOCOL:
        raise BadInput(
            "protocol",
            str(content.get("protocol"))[:40] if isinstance(content, dict) else "",
            f"this server speaks protocol {PROTOCOL}",
            "Reload Sillbook on the phone; the entries stay on it.",
        )
    entries, phone = content.get("entries"), content.get("phone")
    if not isinstance(entries, list) or len(entries) > MOST_ENTRIES:
        raise BadInput(
            "entries",
            counted(len(entries), "entry") if isinstance(entries, list) else "",
            f"a request carries a list of up to {MOST_ENTRIES} entries",
            "Send the rest in a further request.",
        )
    if not isinstance(phone, str) or not 1 <= len(phone) <= 64:
        raise BadInput(
            "phone", str(phone)[:40], "a phone id has 1 to 64 characters", "Reload Sillbook."
        )
    try:
        sent_at = None if content.get("sent_at") is None else instant(content["sent_at"])
    except ValueError as error:
        raise BadInput(
            "sent_at", str(content["sent_at"])[:40], str(error), "Check the phone's clock."
        ) from None
    return Batch(phone, sent_at, entries)


def storable(content: object) -> str:
    """Return the canonical JSON of what both databases can hold.

    Raises
    ------
    BadInput
        For a NUL, half a character, or a number that is none: no keyboard makes them, and
        neither JSON nor a database can carry them.
    """
    try:
        canonical = json.dumps(
            content, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False
        )
    except (ValueError, RecursionError):
        raise BadInput(
            "entry", "", "a figure in it is no number", "Type the figures again."
        ) from None
    if "\\u0000" in canonical:
        raise BadInput("entry", "", "a NUL character", "Type the text again without it.")
    if HALF_CHARACTER.search(json.dumps(content, ensure_ascii=False)):
        raise BadInput("entry", "", "half a character in a text", "Type the text again.")
    return canonical


def canonical_json(content: object) -> str:
    """Return JSON text that is the same whatever the order of the keys was."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def clock_notes(sent_at: datetime | None, received_at: datetime) -> list[str]:
    if sent_at is None:
        return []
    minutes = (sent_at - received_at).total_seconds() / 60.0
    if abs(minutes) <= CLOCK_SKEW.total_seconds() / 60.0:
        return []
    side = "ahead of" if minutes > 0 else "behind"
    return [f"the phone's clock is {abs(minutes):.0f} min {side} the office's"]
