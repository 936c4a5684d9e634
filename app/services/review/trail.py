"""The audit trail as people read it: who changed what, before and after, and why."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.records.audit import AuditEntry
from app.records.sensors import Logger
from app.records.sites import Site, Structure
from app.services.sites.changes import about, differing, names_of, pairs, subject_names

MOST = 2000


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
        ]
        statement = statement.where(sa.or_(*mine))
    names, named = names_of(session), subject_names(session)
    lines = []
    for row in session.exec(statement):
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
            )
        )
    return lines
