"""Who changed what: writing a row so that no second person's change is lost, and the trail."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.records.audit import AuditEntry, write_audit
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.tables import Column, Table

CHANGE_COLUMNS = (
    Column("at", "When, UTC"),
    Column("by", "Who"),
    Column("action", "What"),
    Column("subject", "Of"),
    Column("subject_id", "Id"),
    Column("before", "Before"),
    Column("after", "After"),
    Column("reason", "Reason"),
)


def names_of(session: Session) -> dict[int, str]:
    """Return the names of all people, by id."""
    return dict(session.execute(sa.select(col(Person.id), col(Person.name))).all())


def update_revision(
    session: Session, model: type[Site] | type[Structure], row_id: int, revision: int, values: Any
) -> bool:
    """Write values if the row is still at that revision; tell whether it was."""
    columns = {**values, "revision": revision + 1}
    statement = (
        sa.update(model)
        .where(col(model.id) == row_id, col(model.revision) == revision)
        .values(**columns)
        .execution_options(synchronize_session=False)
    )
    written = session.execute(statement)
    assert isinstance(written, sa.CursorResult)
    return bool(written.rowcount == 1)


def write_change(
    session: Session,
    by_id: int | None,
    subject: str,
    subject_id: int,
    before: dict[str, Any],
    after: dict[str, Any],
) -> None:
    """Write an audit line with just the columns that changed; none when nothing did."""
    changed = [key for key in after if before.get(key) != after[key]]
    if changed:
        write_audit(
            session,
            by_id,
            "changed",
            subject,
            subject_id,
            before={key: before.get(key) for key in changed},
            after={key: after[key] for key in changed},
        )


def who_last(session: Session, subject: str, subject_id: int) -> str:
    line = session.exec(
        select(AuditEntry)
        .where(AuditEntry.subject == subject, AuditEntry.subject_id == str(subject_id))
        .order_by(col(AuditEntry.id).desc())
    ).first()
    name = names_of(session).get(line.by_id or 0) if line else None
    return name or "Somebody else"


@dataclass(frozen=True)
class Change:
    """One line of the audit trail, as people read it."""

    at: datetime
    by: str
    action: str
    subject: str
    subject_id: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None
    reason: str

    def as_row(self) -> dict[str, Any]:
        return {
            **self.__dict__,
            "before": pairs(self.before),
            "after": pairs(self.after),
        }

    def differences(self) -> list[tuple[str, str, str]]:
        """Return what differs, as name, before and after; nothing for a line that only adds."""
        before, after = self.before or {}, self.after or {}
        if not before or not after:
            return []
        return [
            (key.replace("_", " "), plain(before.get(key)), plain(value))
            for key, value in after.items()
            if before.get(key) != value
        ]


def plain(value: object) -> str:
    """Return a value as people read it in the trail; the lists keep every digit."""
    if value is None or value == "":
        return "empty"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def pairs(values: dict[str, Any] | None) -> list[str]:
    return [f"{key} {value}" for key, value in (values or {}).items()]


def changes(session: Session, site_id: int, limit: int | None = None) -> list[Change]:
    """Return what was changed of a site, its structures, ratings and zeros, newest first."""
    ids = session.exec(select(Structure.id).where(Structure.site_id == site_id))
    structures = [str(structure_id) for structure_id in ids]
    mine = sa.or_(
        sa.and_(col(AuditEntry.subject) == "site", col(AuditEntry.subject_id) == str(site_id)),
        sa.and_(col(AuditEntry.subject) == "structure", col(AuditEntry.subject_id).in_(structures)),
    )
    lines: Iterable[AuditEntry] = session.exec(
        select(AuditEntry).where(mine).order_by(col(AuditEntry.id).desc()).limit(limit)
    )
    names = names_of(session)
    return [
        Change(
            line.at,
            names.get(line.by_id or 0, "the server"),
            line.action,
            line.subject,
            line.subject_id,
            line.before,
            line.after,
            line.reason,
        )
        for line in lines
    ]


def changes_table(session: Session, site: Site) -> Table:
    assert site.id is not None
    rows = [change.as_row() for change in changes(session, site.id)]
    return Table(f"changes-{site.code}", CHANGE_COLUMNS, rows)
