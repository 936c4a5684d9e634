"""Take the file a phone's outbox page saved: the road for a phone that cannot sync.

Entries go through the same checks as a sync. The bytes of pictures and logger files travel in the
same file; an entry whose bytes are neither there nor at the office says so, though it is stored.
"""

import base64
import json
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language.words import site_time
from app.records.database import utc_now
from app.records.files import KeptFile
from app.records.people import Person
from app.records.sites import Site
from app.services.entries import kept_files
from app.services.entries.kinds import instant
from app.services.sync import accept as sync

FILE_VERSION = 1
BYTES_OF = {"photo": "picture", "logger_file": "logger file"}
"""Kinds of entry whose body names bytes by their hash, and the word for these."""


@dataclass(kw_only=True)
class Taken:
    """What became of one entry, or of one file whose entry is not in the outbox file."""

    id: str
    state: str  # stored | already_held | refused
    error: BadInput | None = None
    notes: list[str] = field(default_factory=list)
    kind: str = ""
    site: str = ""
    at: str = ""
    by: str = ""

    @property
    def words(self) -> str:
        """What it is: kind, site, time on the site's clock, who made it."""
        parts = [self.kind.replace("_", " "), self.site, self.at, self.by and f"by {self.by}"]
        return ", ".join(part for part in parts if part)


def take(session: Session, file: Path, only_name: str | None) -> list[Taken]:
    """Accept the entries and files of an outbox file, each as its author's.

    Raises
    ------
    BadInput
        When the file is not an outbox file, names a person the office does not know, or holds
        nothing of the person asked for.
    """
    content = _content(file)
    entries: list[object] = content["entries"]
    # Retired people too: what waited on a phone when its owner left is theirs, and is not lost.
    people = {p.id: p for p in session.exec(select(Person)) if p.id}
    wanted = _wanted(people, content, only_name)
    taken: list[Taken] = []
    by_author: dict[int, list[object]] = defaultdict(list)
    for entry in entries:
        author = _author(entry)
        if author is None or author not in people:
            error = BadInput(
                "by", str(_of(entry, "by")), "the office knows no such person", "Add the person."
            )
            taken.append(Taken(id=str(_of(entry, "id") or "")[:80], state="refused", error=error))
        elif author in wanted:
            by_author[author].append(entry)
    phone = str(content.get("phone") or "outbox file")[:64]
    for person_id, theirs in by_author.items():
        for start in range(0, len(theirs), sync.MOST_ENTRIES):
            batch = sync.Batch(phone, None, theirs[start : start + sync.MOST_ENTRIES])
            receipts = sync.accept(session, people[person_id], batch, utc_now())
            taken += [Taken(id=r.id, state=r.state, error=r.error, notes=r.notes) for r in receipts]
    _describe(session, taken, entries, people)
    taken += _take_files(session, content.get("files"), people, wanted)
    _say_missing(session, taken, entries)
    return taken


def _content(file: Path) -> dict[str, Any]:
    try:
        content = json.loads(file.read_bytes())
    except (OSError, ValueError, RecursionError):
        raise BadInput("file", file, "cannot be read as JSON", "Save it again.") from None
    if not isinstance(content, dict) or content.get("sillbook_outbox") != FILE_VERSION:
        raise BadInput("file", file, "not an outbox file", "Use 'save all to a file' on the phone.")
    if not isinstance(content.get("entries"), list):
        raise BadInput("entries", "", "the file lists no entries", "Save it again on the phone.")
    return content


def _of(entry: object, name: str) -> Any:
    return entry.get(name) if isinstance(entry, dict) else None


def _author(one: object) -> int | None:
    author = _of(one, "by")
    return author if isinstance(author, int) and not isinstance(author, bool) else None


def _wanted(people: dict[int, Person], content: dict[str, Any], only: str | None) -> set[int]:
    """Return whose entries are taken; refuse a name that has none, saying who has."""
    if only is None:
        return set(people)
    found = {key for key, person in people.items() if person.name == only}
    if not found:
        raise BadInput("as", only, "nobody has this name", "See `sillbook person list`.")
    files = content.get("files")
    counts = Counter(_author(one) for one in [*content["entries"], *_listed(files)])
    if not any(counts[key] for key in found):
        held = ", ".join(f"{people[key].name} ({n})" for key, n in counts.items() if key in people)
        raise BadInput(
            "as",
            only,
            "the file holds nothing of this person",
            f"It holds entries of {held}." if held else "It holds no entries.",
        )
    return found


def _listed(files: object) -> list[object]:
    return files if isinstance(files, list) else []


def _describe(
    session: Session, taken: list[Taken], entries: list[object], people: dict[int, Person]
) -> None:
    """Say beside each id what it is: kind, site and time, as far as the entry tells."""
    sites = {site.id: site for site in session.exec(select(Site))}
    by_id = {str(_of(entry, "id"))[:80]: entry for entry in entries if isinstance(entry, dict)}
    for one in taken:
        entry = by_id.get(one.id)
        if entry is None:
            continue
        number = _of(entry, "site_id")
        site = sites.get(number) if isinstance(number, int) else None
        author = _author(entry)
        one.kind = str(_of(entry, "kind") or "")[:80]
        one.site = site.name if site else f"site {number}"[:80]
        one.by = people[author].name if author in people else ""
        try:
            seen = instant(_of(entry, "observed_at"))
            one.at = site_time(seen, site.utc_offset_min if site else 0)
        except ValueError:
            one.at = "time not readable"


def _take_files(
    session: Session, files: object, people: dict[int, Person], wanted: set[int]
) -> list[Taken]:
    """Keep the bytes that travel in the file, each as its author's."""
    found = []
    for one in _listed(files):
        sha256, kind, author = _of(one, "sha256"), _of(one, "kind"), _author(one)
        if author in people and author not in wanted:
            continue
        line = Taken(
            id=str(sha256)[:80],
            state="refused",
            kind=f"bytes of a {BYTES_OF.get(str(kind), 'file')}",
        )
        found.append(line)
        try:
            if author is None or author not in people:
                raise BadInput(
                    "by", str(author), "the office knows no such person", "Add the person."
                )
            line.by = people[author].name
            content = _bytes(_of(one, "base64"))
            name = str(_of(one, "name") or "")
            line.state = kept_files.keep(
                session,
                people[author],
                str(kind),
                name=name,
                sent_sha256=str(sha256),
                content=content,
                received_at=utc_now(),
            )
        except BadInput as error:
            line.error = error
    return found


def _bytes(text: object) -> bytes:
    try:
        return base64.b64decode(text, validate=True) if isinstance(text, str) else b""
    except ValueError:
        raise BadInput("base64", "", "the bytes cannot be read", "Save the file again.") from None


def _say_missing(session: Session, taken: list[Taken], entries: list[object]) -> None:
    """Note on each entry that names bytes whether they are at the office now."""
    named = {
        str(_of(entry, "id"))[:80]: str(_of(_of(entry, "body"), "sha256"))
        for entry in entries
        if _of(entry, "kind") in BYTES_OF
    }
    query = select(KeptFile.sent_sha256).where(col(KeptFile.sent_sha256).in_(named.values()))
    held = set(session.exec(query)) if named else set()
    for one in taken:
        if one.error is None and one.id in named and named[one.id] not in held:
            what = BYTES_OF[one.kind]
            one.notes.append(
                f"MISSING: the {what} itself is not in this file and not at the office; "
                "keep the phone until it has sent it"
            )
