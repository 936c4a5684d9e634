"""Take the file a phone's outbox page saved: the road for a phone that cannot sync."""

import json
from collections import defaultdict
from pathlib import Path

from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.database import utc_now
from app.records.people import Person
from app.services import sync

FILE_VERSION = 1


def take(session: Session, file: Path, only_name: str | None) -> list[sync.Receipt]:
    """Accept the entries of an outbox file, each as its author's; return their receipts.

    Raises
    ------
    BadInput
        When the file is not an outbox file, or names a person the office does not know.
    """
    try:
        content = json.loads(file.read_bytes())
    except (OSError, ValueError):
        raise BadInput("file", file, "cannot be read as JSON", "Save it again.") from None
    if not isinstance(content, dict) or content.get("sillbook_outbox") != FILE_VERSION:
        raise BadInput("file", file, "not an outbox file", "Use 'save all to a file' on the phone.")
    entries = content.get("entries")
    if not isinstance(entries, list):
        raise BadInput("entries", "", "the file lists no entries", "Save it again on the phone.")
    people = {p.id: p for p in session.exec(select(Person).where(col(Person.active)))}
    if only_name is not None and only_name not in {p.name for p in people.values()}:
        raise BadInput(
            "as", only_name, "nobody active has this name", "See `sillbook person list`."
        )
    by_author: dict[int, list[object]] = defaultdict(list)
    receipts: list[sync.Receipt] = []
    for entry in entries:
        author = entry.get("by") if isinstance(entry, dict) else None
        person = people.get(author) if isinstance(author, int) else None
        if person is None:
            error = BadInput(
                "by", str(author), "the office knows no such person", "Add the person."
            )
            shown = str(entry.get("id", "")) if isinstance(entry, dict) else ""
            receipts.append(sync.Receipt(shown[:80], "refused", error))
        elif only_name is None or person.name == only_name:
            assert person.id is not None
            by_author[person.id].append(entry)
    phone = str(content.get("phone") or "outbox file")[:64]
    for person_id, theirs in by_author.items():
        for start in range(0, len(theirs), sync.MOST_ENTRIES):
            batch = sync.Batch(phone, None, theirs[start : start + sync.MOST_ENTRIES])
            receipts += sync.accept(session, people[person_id], batch, utc_now())
    return receipts
