"""Who changed what: writing a row so that no second person's change is lost, and the trail."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.language import typed
from app.records.audit import AuditEntry, write_audit
from app.records.entries import Entry
from app.records.equipment import InstrumentFact
from app.records.people import Person
from app.records.sensors import Logger
from app.records.sites import Site, Structure

MOST_FACTS = 12


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


@dataclass(frozen=True, kw_only=True)
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
    named: str

    def as_row(self) -> dict[str, Any]:
        return {
            **self.__dict__,
            "before": pairs(self.before),
            "after": pairs(self.after),
            "about": pairs(dict(about(self.before, self.after))),
        }

    def differences(self) -> list[tuple[str, str, str]]:
        """Return what differs, as name, before and after; nothing for a line that only adds."""
        return [
            (key.replace("_", " "), plain(before), plain(after))
            for key, before, after in differing(self.before, self.after)
        ]

    def which(self) -> list[tuple[str, str]]:
        """Return the facts that say which one it was, such as the month; a long list is cut."""
        facts = [(k, v) for k, v in about(self.before, self.after) if v not in (None, "")]
        return [(key.replace("_", " "), plain(value)) for key, value in facts[:MOST_FACTS]]


def about(before: dict[str, Any] | None, after: dict[str, Any] | None) -> list[tuple[str, Any]]:
    """Return what a line of the trail is about: the facts that did not change.

    They say which month, limit or correction it was. Of a line that only adds or takes away they
    are all of its facts.
    """
    if not before or not after:
        return list((before or after or {}).items())
    return [(key, value) for key, value in before.items() if after.get(key, value) == value]


def differing(
    before: dict[str, Any] | None, after: dict[str, Any] | None
) -> list[tuple[str, Any, Any]]:
    """Return what a line of the trail changed: name, before, after; nothing where it only adds."""
    if not before or not after:
        return []
    return [(k, before.get(k), value) for k, value in after.items() if before.get(k) != value]


def subject_names(session: Session) -> dict[tuple[str, str], str]:
    """Return the names of what the trail speaks of, by kind and id."""
    found: dict[tuple[str, str], str] = {}
    for kind, model in (
        ("site", Site),
        ("structure", Structure),
        ("logger", Logger),
        ("person", Person),
    ):
        for row_id, name in session.execute(sa.select(col(model.id), col(model.name))):
            found[kind, str(row_id)] = name
    said = sa.select(col(InstrumentFact.instrument_id), col(InstrumentFact.described))
    for row_id, name in session.execute(said.order_by(col(InstrumentFact.id))):
        found["instrument", str(row_id)] = name
    return found


def of_entries_at(site_id: int) -> sa.ColumnElement[bool]:
    """Return the condition that a line of the trail speaks of an entry of a site."""
    mine = sa.select(col(Entry.id)).where(col(Entry.site_id) == site_id)
    return sa.and_(col(AuditEntry.subject) == "entry", col(AuditEntry.subject_id).in_(mine))


def plain(value: object) -> str:
    """Return a value as people read it in the trail; the lists keep every digit."""
    if value is None or value == "":
        return "empty"
    return typed.said(float(f"{value:.6g}")) if isinstance(value, float) else str(value)


def pairs(values: dict[str, Any] | None) -> list[str]:
    return [f"{key} {value}" for key, value in (values or {}).items()]


def changes(session: Session, site_id: int, limit: int | None = None) -> list[Change]:
    """Return what was changed of a site, what belongs to it, newest first."""
    ids = session.exec(select(Structure.id).where(Structure.site_id == site_id))
    structures = [str(structure_id) for structure_id in ids]
    owned = session.exec(
        select(Logger.id).where(Logger.structure_id == Structure.id, Structure.site_id == site_id)
    )
    sensors = [str(logger_id) for logger_id in owned]
    mine = sa.or_(
        sa.and_(col(AuditEntry.subject) == "site", col(AuditEntry.subject_id) == str(site_id)),
        sa.and_(col(AuditEntry.subject) == "structure", col(AuditEntry.subject_id).in_(structures)),
        sa.and_(col(AuditEntry.subject) == "logger", col(AuditEntry.subject_id).in_(sensors)),
        of_entries_at(site_id),
    )
    lines: Iterable[AuditEntry] = session.exec(
        select(AuditEntry).where(mine).order_by(col(AuditEntry.id).desc()).limit(limit)
    )
    names, named = names_of(session), subject_names(session)
    return [
        Change(
            at=line.at,
            by=names.get(line.by_id or 0, "the server"),
            action=line.action,
            subject=line.subject,
            subject_id=line.subject_id,
            before=line.before,
            after=line.after,
            reason=line.reason,
            named=named.get((line.subject, line.subject_id), ""),
        )
        for line in lines
    ]
