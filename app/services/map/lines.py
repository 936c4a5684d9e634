"""The lines on the map: brought as a file, listed, taken off with a reason."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.hydraulics.base.plane import earth_centred
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.maps import RaceLine
from app.records.people import Person
from app.services.map.geojson import lines_of
from app.services.sites.changes import names_of


@dataclass(frozen=True, kw_only=True)
class LineView:
    """Lines of one file as people read of them; `length_m` is along the ground."""

    id: int
    name: str
    file_name: str
    sha256: str
    parts: Sequence[Sequence[Sequence[float]]]
    positions: int
    length_m: float
    by: str
    added_at: datetime
    withdrawn_at: datetime | None
    withdrawn_by: str
    withdraw_reason: str

    def as_row(self) -> dict[str, Any]:
        """Return the line as a row of `page.LINE_COLUMNS`."""
        return {**vars(self), "parts": len(self.parts)}


def lines(session: Session) -> list[LineView]:
    """Return all lines that were ever brought, those on the map first, by name."""
    names = names_of(session)
    rows = session.exec(select(RaceLine).order_by(RaceLine.name, col(RaceLine.id)))
    found = [
        LineView(
            id=row.id or 0,
            name=row.name,
            file_name=row.file_name,
            sha256=row.sha256,
            parts=row.parts,
            positions=sum(len(part) for part in row.parts),
            length_m=round(sum(length_m(part) for part in row.parts), 3),
            by=names.get(row.by_id, ""),
            added_at=row.added_at,
            withdrawn_at=row.withdrawn_at,
            withdrawn_by=names.get(row.withdrawn_by_id or 0, ""),
            withdraw_reason=row.withdraw_reason,
        )
        for row in rows
    ]
    return sorted(found, key=lambda line: line.withdrawn_at is not None)


def length_m(part: Sequence[Sequence[float]]) -> float:
    """Return the length of a line along its positions, m."""
    points = earth_centred([one[1] for one in part], [one[0] for one in part])
    total: float = (((points[1:] - points[:-1]) ** 2).sum(axis=1) ** 0.5).sum()
    return total


def add_lines(
    session: Session, form: Form, file_name: str, content: bytes, person: Person, now: datetime
) -> RaceLine:
    """Put the lines of a GeoJSON file on the map under the name in a form.

    The same file under the same name, while it is on the map, is there already.

    Raises
    ------
    BadInput
        For a name that is missing, or the place of the first fault in the file.
    """
    name = forms.text(form, "name", most=80, required=True)
    parts = lines_of(content)
    sha256 = hashlib.sha256(content).hexdigest()
    known = session.exec(
        select(RaceLine).where(
            RaceLine.sha256 == sha256, RaceLine.name == name, col(RaceLine.withdrawn_at).is_(None)
        )
    ).first()
    if known is not None:
        return known
    assert person.id is not None
    row = RaceLine(
        name=name,
        file_name=file_name.replace("\0", "").strip()[:200],
        sha256=sha256,
        parts=parts,
        by_id=person.id,
        added_at=now,
    )
    session.add(row)
    session.flush()
    after = {
        "name": name,
        "file": row.file_name,
        "sha256": sha256,
        "lines": len(parts),
        "positions": sum(len(part) for part in parts),
    }
    write_audit(session, person.id, "line added to the map", "race_line", row.id, after=after)
    return row


def take_off(session: Session, line_id: int, form: Form, person: Person, now: datetime) -> None:
    """Take lines off the map; the row stays with who and why.

    Raises
    ------
    NotFound
        When there is no such row.
    BadInput
        Without a reason, or when somebody took them off already.
    """
    row = session.get(RaceLine, line_id)
    if row is None:
        raise NotFound(f"line {line_id}")
    reason = forms.text(form, "reason", most=2000, required=True)
    if row.withdrawn_at is not None:
        raise BadInput("line", row.name, "it was taken off already", "Bring the file again.")
    row.withdrawn_at, row.withdrawn_by_id, row.withdraw_reason = now, person.id, reason
    session.add(row)
    session.flush()
    facts = {"name": row.name, "file": row.file_name, "sha256": row.sha256}
    write_audit(
        session, person.id, "line taken off the map", "race_line", line_id, before=facts,
        reason=reason,
    )  # fmt: skip
