"""Logger files that wait for a look: of which site, since when, and those that were discarded.

A file waits at every site that it was said to belong to, by the phone that brought it or on the
page it was uploaded to, until it is imported there or discarded with a reason. A discarded file
keeps its bytes and its trail, and can be taken up again.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.audit import write_audit
from app.records.entries import Entry
from app.records.files import FileAct, KeptFile
from app.records.people import Person
from app.records.sensors import Logger, LoggerImport
from app.records.sites import Structure
from app.services.entries.kept_files import LOGGER_FILE
from app.services.entries.links import what_stands
from app.services.sites.changes import names_of

UPLOADED, DISCARDED, TAKEN_UP = "uploaded", "discarded", "taken up again"

FilePlace = tuple[str, int | None]  # a file at a site; None where no site was said


@dataclass(frozen=True, kw_only=True)
class KeptLine:
    """A logger file of a site that nobody has taken in; `act` is the newest thing done with it."""

    sha256: str
    name: str
    size: int
    received_at: datetime
    by: str
    site_id: int | None
    structure_id: int | None
    entry_id: str | None
    serial: str
    clock_fast_s: float | None
    note: str
    act: str = ""
    act_by: str = ""
    act_at: datetime | None = None
    reason: str = ""

    @property
    def discarded(self) -> bool:
        return self.act == DISCARDED


def kept_logger_files(
    session: Session, site_id: int | None = None, *, discarded: bool = False
) -> list[KeptLine]:
    """Return the files that wait at a site (and those of no site), or at all sites, newest first.

    With `discarded` those that were discarded instead.
    """
    lines = [
        line
        for line in _not_taken_in(session)
        if line.discarded is discarded and (site_id is None or line.site_id in (site_id, None))
    ]
    return sorted(lines, key=lambda line: line.received_at, reverse=True)


def said_of(session: Session, site_id: int, sha256: str) -> KeptLine | None:
    """Return what is known of a file at a site, also once it was imported; None for a stranger."""
    return next(
        (x for x in _lines(session, sha256) if x.site_id in (site_id, None)),
        None,
    )


def _not_taken_in(session: Session) -> list[KeptLine]:
    taken: defaultdict[str, list[tuple[int, LoggerImport]]] = defaultdict(list)
    for row, home in session.exec(
        select(LoggerImport, Structure.site_id).where(
            LoggerImport.logger_id == Logger.id, Logger.structure_id == Structure.id
        )
    ):
        taken[row.sha256].append((home, row))
    return [line for line in _lines(session) if not _decided(line, taken[line.sha256])]


def _decided(line: KeptLine, imports: list[tuple[int, LoggerImport]]) -> bool:
    """Tell whether an import has answered this file.

    Any import answers one of no site. At its own site a standing import does; one that was taken
    back does unless the file was brought again since. An import that stands elsewhere answers what
    was said before it.
    """
    for home, row in imports:
        if line.site_id is None or (home == line.site_id and row.undone_at is None):
            return True
        ends = row.undone_at if home == line.site_id else row.at
        if (home == line.site_id or row.undone_at is None) and ends and ends >= line.received_at:
            return True
    return False


def _lines(session: Session, sha256: str | None = None) -> list[KeptLine]:
    """Return every logger file once for each site that it was said to be of."""
    told: dict[FilePlace, Entry] = {}
    taken_back: set[str] = set()  # who sent it took it back; the bytes are kept
    links = what_stands(session)
    for brought_by in session.exec(
        select(Entry).where(Entry.kind == LOGGER_FILE).order_by(col(Entry.received_at))
    ):
        sha = str(brought_by.body.get("sha256"))
        if links.stands(brought_by.id):
            told[sha, brought_by.site_id] = brought_by
        else:
            taken_back.add(sha)
    acts: dict[FilePlace, list[FileAct]] = {}
    statement = select(FileAct).order_by(col(FileAct.id))
    for act in session.exec(statement):
        acts.setdefault((act.sha256, act.site_id), []).append(act)
    places: dict[str, list[int | None]] = {}
    for sha, place in dict.fromkeys([*told, *acts]):
        if place is not None:
            places.setdefault(sha, []).append(place)
    names = names_of(session)
    files = sa.select(
        col(KeptFile.sent_sha256),
        col(KeptFile.name),
        col(KeptFile.size),
        col(KeptFile.received_at),
        col(KeptFile.by_id),
    ).where(col(KeptFile.kind) == LOGGER_FILE)
    if sha256 is not None:
        files = files.where(col(KeptFile.sent_sha256) == sha256)
    lines = []
    for sha, name, size, received_at, by_id in session.execute(files):
        for place in places.get(sha, [] if sha in taken_back else [None]):
            done = acts.get((sha, place), [])
            brought = [act for act in done if act.act == UPLOADED]
            entry = told.get((sha, place))
            body: dict[str, Any] = entry.body if entry else {}
            by = brought[-1].by_id if brought else entry.by_id if entry else by_id
            lines.append(
                KeptLine(
                    sha256=sha,
                    name=body.get("name") or name,
                    size=size,
                    received_at=brought[-1].at if brought else received_at,
                    by=names.get(by, ""),
                    site_id=place,
                    structure_id=entry.structure_id if entry else None,
                    entry_id=entry.id if entry else None,
                    serial=body.get("serial") or "",
                    clock_fast_s=body.get("clock_fast_s"),
                    note=body.get("note") or "",
                    act=done[-1].act if done else "",
                    act_by=names.get(done[-1].by_id, "") if done else "",
                    act_at=done[-1].at if done else None,
                    reason=done[-1].reason if done else "",
                )
            )
    return lines


def note_upload(session: Session, person: Person, sha256: str, site_id: int, now: datetime) -> None:
    """Write down that a kept file was uploaded for a site."""
    _act(session, sha256, site_id=site_id, act=UPLOADED, reason="", person=person, now=now)


def discard(
    session: Session, site_id: int, sha256: str, reason: str, person: Person, now: datetime
) -> None:
    """Set a waiting file aside; its bytes are kept, and it can be taken up again.

    Raises
    ------
    BadInput
        When no reason is given, or the file does not wait at the site.
    """
    _change(session, site_id, sha256, reason, person, now, discarding=True)


def take_up(
    session: Session, site_id: int, sha256: str, reason: str, person: Person, now: datetime
) -> None:
    """Let a discarded file wait again.

    Raises
    ------
    BadInput
        When no reason is given, or the file is not among the discarded ones of the site.
    """
    _change(session, site_id, sha256, reason, person, now, discarding=False)


def _change(
    session: Session,
    site_id: int,
    sha256: str,
    reason: str,
    person: Person,
    now: datetime,
    *,
    discarding: bool,
) -> None:
    reason = reason.replace("\0", "").strip()[:2000]
    if not reason:
        what = "discarded" if discarding else "taken up again"
        raise BadInput("reason", "", "this is needed", f"Say why the file is {what}.")
    found = kept_logger_files(session, site_id, discarded=not discarding)
    line = next((x for x in found if x.sha256 == sha256), None)
    if line is None:
        rule = "it does not wait at this site" if discarding else "it was not discarded here"
        raise BadInput("file", sha256[:12], rule, "Look at the lists: somebody may have acted.")
    act = DISCARDED if discarding else TAKEN_UP
    _act(session, sha256, site_id=line.site_id, act=act, reason=reason, person=person, now=now)
    facts = {"file": line.name, "sha256": sha256}
    before, after = (facts, None) if discarding else (None, facts)
    write_audit(
        session, person.id, f"logger file {act}", "site", site_id, before=before, after=after,
        reason=reason,
    )  # fmt: skip


def _act(
    session: Session,
    sha256: str,
    *,
    site_id: int | None,
    act: str,
    reason: str,
    person: Person,
    now: datetime,
) -> None:
    assert person.id is not None
    session.add(
        FileAct(sha256=sha256, site_id=site_id, act=act, reason=reason, by_id=person.id, at=now)
    )
    session.flush()
