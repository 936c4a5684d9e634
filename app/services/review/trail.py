"""The audit trail as people read it: who changed what, before and after, and why."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language import words
from app.records.audit import AuditEntry
from app.records.entries import Entry
from app.records.sensors import Logger
from app.records.sites import Site, Structure
from app.services.sites.changes import (
    about,
    differing,
    names_of,
    of_entries_at,
    pairs,
    subject_names,
)
from app.services.sync.page import kind_words

MOST = 2000
OF_ENTRIES = ("entry", "level run")


@dataclass(frozen=True, kw_only=True)
class AuditLine:
    """One change; `changed` lists what differs: name, before, after; `about` which one it was."""

    id: int
    at: datetime
    by: str
    action: str
    subject: str
    subject_id: str
    site_id: int | None
    site_code: str
    utc_offset_min: int
    before: dict[str, Any] | None
    after: dict[str, Any] | None
    reason: str
    named: str
    others: dict[str, str] = field(default_factory=dict)  # names of what its facts point to

    @property
    def changed(self) -> list[tuple[str, Any, Any]]:
        return differing(self.before, self.after)

    @property
    def about(self) -> list[tuple[str, Any]]:
        """Which one it was: the facts that did not change, or all of what was added or removed."""
        return about(self.before, self.after)

    def as_row(self) -> dict[str, Any]:
        return {
            **vars(self),
            "before": pairs(self.before),
            "after": pairs(self.after),
            "about": pairs(dict(self.about)),
        }


def audit(
    session: Session,
    *,
    site_id: int | None = None,
    subject: str | None = None,
    limit: int = 200,
    before_id: int | None = None,
) -> list[AuditLine]:
    """Return the newest lines of the trail, older than `before_id` where it is given.

    Raises
    ------
    BadInput
        When more lines are asked for than one page holds.
    """
    if not 1 <= limit <= MOST:
        raise BadInput("limit", limit, f"1 to {MOST} lines", "Ask for fewer.")
    sites = {site.id: site for site in session.exec(select(Site))}
    structures = {s.id: s.site_id for s in session.exec(select(Structure))}
    loggers = {x.id: x.structure_id for x in session.exec(select(Logger))}
    homes: dict[str, dict[str, int | None]] = {
        "site": {str(key): key for key in sites},
        "structure": {str(key): home for key, home in structures.items()},
        "logger": {str(key): structures.get(home) for key, home in loggers.items()},
    }
    statement = select(AuditEntry).order_by(col(AuditEntry.id).desc()).limit(limit)
    if before_id is not None:
        statement = statement.where(col(AuditEntry.id) < before_id)
    if subject is not None:
        statement = statement.where(AuditEntry.subject == subject)
    if site_id is not None:
        mine = [
            sa.and_(
                col(AuditEntry.subject) == kind,
                col(AuditEntry.subject_id).in_([k for k, v in found.items() if v == site_id]),
            )
            for kind, found in homes.items()
        ] + [of_entries_at(site_id)]
        statement = statement.where(sa.or_(*mine))
    found_rows = list(session.exec(statement))
    names, named = names_of(session), subject_names(session)
    entries = entries_named(session, found_rows)
    named |= {key: name for key, (name, _) in entries.items()}
    for kind in OF_ENTRIES:
        homes[kind] = {one: home for (of, one), (_, home) in entries.items() if of == kind}
    lines = []
    for row in found_rows:
        home = homes.get(row.subject, {}).get(row.subject_id)
        site = sites.get(home)
        lines.append(
            AuditLine(
                id=row.id or 0,
                at=row.at,
                by=names.get(row.by_id or 0, "the server"),
                action=row.action,
                subject=row.subject,
                subject_id=row.subject_id,
                site_id=site.id if site else None,
                site_code=site.code if site else "",
                utc_offset_min=site.utc_offset_min if site else 0,
                before=row.before,
                after=row.after,
                reason=row.reason,
                named=named.get((row.subject, row.subject_id), ""),
                others=others(row, named),
            )
        )
    return lines


def entries_named(
    session: Session, lines: Sequence[AuditEntry]
) -> dict[tuple[str, str], tuple[str, int]]:
    """Return what the entries are that some lines speak of, by kind and day, and their sites."""
    ids = {line.subject_id: line.subject for line in lines if line.subject in OF_ENTRIES}
    asked = sa.select(
        col(Entry.id),
        col(Entry.kind),
        col(Entry.observed_at),
        col(Entry.site_id),
        col(Site.utc_offset_min),
    ).where(col(Entry.site_id) == col(Site.id), col(Entry.id).in_(ids))
    return {
        (ids[entry_id], entry_id): (
            f"the {kind_words(kind)} of {words.site_time(at, offset).partition(' ')[0]}",
            site_id,
        )
        for entry_id, kind, at, site_id, offset in (session.execute(asked) if ids else ())
    }


def others(row: AuditEntry, named: Mapping[tuple[str, str], str]) -> dict[str, str]:
    """Return the names of the site, person or instrument that the facts of a line point to."""
    facts = {**(row.before or {}), **(row.after or {})}
    found = {key: named.get((key.removesuffix("_id"), str(facts[key])), "") for key in facts}
    return {key: name for key, name in found.items() if key.endswith("_id") and name}
