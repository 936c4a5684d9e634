"""Times of an entry that lie ahead of the server: a phone's clock is wrong, or a slip was typed.

Such an entry is stored as it came and flagged; nothing is refused for its times.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from app.language.typed import CLOCK_SKEW
from app.language.words import site_time
from app.records.entries import Entry

# What says when something was seen or counts from. Not `saved_at`, which is the phone's own clock,
# and not what a logger's clock showed, which is recorded because it may be wrong.
TIMES = {
    "started_at": "start",
    "ended_at": "end",
    "gate_opened_at": "gate opened",
    "read_at": "repeat read",
    "downloaded_at": "downloaded",
    "at": "step",
    "right": "right time",
    "fit_from": "fit to record from",
    "from": "zero in force from",
}


def times_ahead(
    observed_at: datetime, body: dict[str, Any], received_at: datetime
) -> dict[str, datetime]:
    """Return the times that lie ahead of the receipt by more than clocks differ, by their words."""
    late = received_at + CLOCK_SKEW
    found = {"observed": observed_at} if observed_at > late else {}
    for key, moment in _moments(body):
        if moment > late and moment > found.get(TIMES[key], late):
            found[TIMES[key]] = moment
    return found


def _moments(value: Any) -> Iterator[tuple[str, datetime]]:
    if isinstance(value, list):
        for one in value:
            yield from _moments(one)
    elif isinstance(value, dict):
        for key, one in value.items():
            if key not in TIMES:
                yield from _moments(one)
                continue
            for text in one if isinstance(one, list) else [one]:
                moment = _instant(text)
                if moment is not None:
                    yield key, moment


def _instant(text: object) -> datetime | None:
    """Return an instant with a zone; a note that is no time says nothing here."""
    try:
        moment = datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None
    return moment.astimezone(UTC) if moment is not None and moment.tzinfo else None


def ahead_words(found: dict[str, datetime], utc_offset_min: int) -> str:
    """Return a sentence for people; empty when nothing lies ahead."""
    if not found:
        return ""
    said = ", ".join(f"{name} {site_time(at, utc_offset_min)}" for name, at in found.items())
    verb = "lies" if len(found) == 1 else "lie"
    return f"{said} {verb} in the time to come: clock or slip?"


def ahead_of(entry: Entry, utc_offset_min: int) -> str:
    """Return the sentence for a stored entry; empty when nothing of it lies ahead."""
    return ahead_words(
        times_ahead(entry.observed_at, entry.body, entry.received_at), utc_offset_min
    )
