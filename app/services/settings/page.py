"""The settings as page and list show them: value, range, where the value is from, what follows."""

import json
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.language.tables import Column, Table
from app.records.people import Person
from app.records.settings import Setting
from app.services.settings.in_force import newest
from app.services.settings.kinds import BOX, Known
from app.services.settings.known import KNOWN, known

COLUMNS = (
    Column("key", "Setting"),
    Column("label", "What it is"),
    Column("value", "Value"),
    Column("words", "As people read it"),
    Column("unit", "Unit"),
    Column("range", "May be"),
    Column("default_words", "Built-in value"),
    Column("own", "Set by the office"),
    Column("source", "Where the value is from"),
    Column("by", "Set by"),
    Column("at", "Set, UTC"),
    Column("reason", "Why"),
    Column("follows", "What follows from it"),
)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One setting with the value that holds and who set it."""

    of: Known
    held: Any
    row: Setting | None
    by: str

    @property
    def own(self) -> bool:
        """Whether the office set it, and the built-in value does not hold."""
        return self.row is not None and self.row.value is not None

    @property
    def words(self) -> str:
        return self.of.say(self.held)

    @property
    def source(self) -> str:
        """Return where the value is from: the office, or what the built-in one rests on."""
        if self.own:
            assert self.row is not None
            return f"set by {self.by} on {self.row.at:%Y-%m-%d}"
        return f"built in: {self.of.source}"

    def as_row(self) -> dict[str, Any]:
        """Return the line as a row of COLUMNS."""
        return {
            **{key: getattr(self.of, key) for key in ("key", "label", "unit", "range", "follows")},
            "value": self.of.box(self.held) or self.words,
            "words": self.words,
            "default_words": self.of.say(self.of.default),
            "own": self.own,
            "source": self.source,
            "by": self.by or None,
            "at": self.row.at if self.row else None,
            "reason": self.row.reason if self.row else None,
        }


def lines(session: Session) -> list[Line]:
    """Return all settings in the order of the page."""
    rows, names = newest(session), _names(session)
    return [_line(one, rows.get(one.key), names) for one in KNOWN]


@dataclass(frozen=True)
class Group:
    """Settings that stand together on the page."""

    title: str
    lines: list[Line]


def groups(session: Session) -> list[Group]:
    """Return the settings as the page has them, in groups."""
    return [Group(title, list(held)) for title, held in groupby(lines(session), _title)]


def _title(line: Line) -> str:
    return line.of.group


def settings_table(session: Session) -> Table:
    """Return the settings as a list."""
    return Table("settings", COLUMNS, [line.as_row() for line in lines(session)])


@dataclass(frozen=True)
class History:
    """One setting, all its changes newest first, and its form."""

    line: Line
    changes: list[Line]

    @property
    def form(self) -> dict[str, str]:
        revision = self.line.row.revision if self.line.row else 0
        return {BOX: self.line.of.box(self.line.held), "reason": "", "revision": str(revision)}


def history(session: Session, key: str) -> History:
    """Return a setting with all its changes; raises NotFound."""
    of, names = known(key), _names(session)
    statement = select(Setting).where(Setting.key == key).order_by(col(Setting.revision).desc())
    rows = list(session.exec(statement))
    return History(
        _line(of, rows[0] if rows else None, names), [_line(of, row, names) for row in rows]
    )


def changes_table(session: Session, key: str) -> Table:
    """Return all changes of a setting as a list, newest first; raises NotFound."""
    rows = [line.as_row() for line in history(session, key).changes]
    return Table(f"changes-{key}", COLUMNS, rows)


def _line(of: Known, row: Setting | None, names: dict[int, str]) -> Line:
    held = of.default if row is None or row.value is None else json.loads(row.value)
    by = "" if row is None else names.get(row.by_id or 0, "a verb on the server")
    return Line(of=of, held=held, row=row, by=by)


def _names(session: Session) -> dict[int, str]:
    return dict(session.execute(sa.select(col(Person.id), col(Person.name))).all())
