"""The links between entries as stored: which entry names which, for the rule of what stands.

`corrects_id` is read and written here and nowhere else; everybody else asks `standing`.
"""

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from app.records.entries import Entry
from app.records.people import Person
from app.services.entries.standing import (
    ACTS,
    NOT_PERMITTED,
    OTHER_KIND,
    OTHER_SITE,
    WAITING,
    Node,
    Standing,
    link_word,
)

LINK = "corrects_id"  # the column of lists that says what an entry corrects
LINK_COLUMN: Any = col(Entry.corrects_id)

HELD = {
    WAITING: "the entry that this one names is not here yet; it takes effect when that comes",
    OTHER_KIND: "kept as an entry of its own: it names an entry of another kind and takes "
    "nothing from it",
    OTHER_SITE: "kept as an entry of its own: it names an entry of another site and takes "
    "nothing from it; the office can move an entry",
    NOT_PERMITTED: "kept, and it does not count: crew correct their own entries; tell its author "
    "or the office",
}


def what_stands(session: Session, site_id: int | None = None) -> Standing:
    """Return what stands of all entries that are linked, at one site or everywhere.

    One query; an entry that was moved from or to another site brings that site's links along.
    """
    nodes = _linked(session, site_id)
    if site_id is None:
        return Standing(nodes.values())
    known, wanted = {site_id}, {node.site_id for node in nodes.values()} - {site_id}
    while wanted:
        other = wanted.pop()
        known.add(other)
        for key, node in _linked(session, other).items():
            if node.corrects is not None or key not in nodes:
                nodes[key] = node
        wanted |= {node.site_id for node in nodes.values()} - known
    return Standing(nodes.values())


def _linked(session: Session, site_id: int | None) -> dict[str, Node]:
    """Return the entries of a site that name another, and the entries they name."""
    named = aliased(Entry)
    link: Any = LINK_COLUMN
    own = (col(Entry.id), col(Entry.kind), col(Entry.site_id), col(Entry.by_id))
    author = (col(Entry.by_role), col(Person.role), col(Entry.moves), col(Entry.phone))
    other_columns = (col(named.id), col(named.kind), col(named.site_id), col(named.by_id))
    statement = (
        sa.select(*own, *author, link, *other_columns)
        .join(Person, col(Person.id) == col(Entry.by_id))
        .outerjoin(named, col(named.id) == link)
        .where(link.is_not(None))
    )
    if site_id is not None:
        here = (col(Entry.site_id) == site_id, col(named.site_id) == site_id)
        statement = statement.where(sa.or_(*here))
    found: dict[str, Node] = {}
    others: dict[str, Node] = {}
    for row in session.execute(statement):
        key, kind, site, by, role, role_now, moves, phone, corrects, *other = row
        # entries of before roles and moves were kept: the role now, and the office's form moved
        may = (role or role_now) != "crew"
        moved = phone == "office" if moves is None else moves
        found[key] = Node(
            id=key,
            kind=kind,
            site_id=site,
            by_id=by,
            any_author=may,
            moves=moved,
            corrects=corrects,
        )
        if other[0] is not None:
            others[other[0]] = _named(other)
    return others | found


def standing_only(session: Session, column: Any, links: Standing) -> Any:
    """Return the condition that an entry's id is of one that stands.

    The ids go as one parameter: engines limit how many a statement may have.
    """
    if not links.gone:
        return sa.true()
    sent = sa.literal(sorted(links.gone), sa.JSON)
    sqlite = session.get_bind().dialect.name == "sqlite"
    rows = sa.func.json_each(sent) if sqlite else sa.func.json_array_elements_text(sent)
    ids = rows.table_valued("value")
    return column.not_in(sa.select(ids.c.value))


def links_since(session: Session, since: datetime) -> list[str]:
    """Return the entries that name another where either of the two came since an instant."""
    named = aliased(Entry)
    late = sa.or_(col(Entry.received_at) >= since, col(named.received_at) >= since)
    statement = sa.select(col(Entry.id)).outerjoin(named, col(named.id) == LINK_COLUMN)
    found = session.execute(statement.where(LINK_COLUMN.is_not(None), late))
    return [row[0] for row in found]


def named_by(entry: Entry) -> str | None:
    """Return the id of the entry that an entry corrects or withdraws."""
    return entry.corrects_id


def stored_link(corrects: str | None, role: str, *, moves: bool) -> dict[str, Any]:
    """Return the columns of a new entry that this rule rests on."""
    return {LINK: corrects, "by_role": role, "moves": moves}


def node_of(row: dict[str, Any]) -> Node:
    """Return a new entry, as its columns, as the rule knows it."""
    may = row["by_role"] != "crew"
    return Node(
        id=row["id"],
        kind=row["kind"],
        site_id=row["site_id"],
        by_id=row["by_id"],
        any_author=may,
        moves=bool(row["moves"]),
        corrects=row[LINK],
    )


def _named(place: Sequence[Any]) -> Node:
    """Return an entry that another names, of which only kind, site and person are asked."""
    key, kind, site_id, by_id = place
    return Node(id=key, kind=kind, site_id=site_id, by_id=by_id)


def named_nodes(session: Session, ids: Collection[str]) -> dict[str, Node]:
    """Return the entries that others name, as the rule knows them; those not here are left out."""
    if not ids:
        return {}
    columns = (col(Entry.id), col(Entry.kind), col(Entry.site_id), col(Entry.by_id))
    found = session.execute(sa.select(*columns).where(col(Entry.id).in_(ids)))
    return {row[0]: _named(row) for row in found}


def held_words(session: Session, rows: Collection[dict[str, Any]]) -> dict[str, str]:
    """Return the words for each stored entry whose link has no effect so far."""
    linked = [row for row in rows if row[LINK] is not None]
    named = named_nodes(session, {row[LINK] for row in linked})
    words = {row["id"]: link_word(node_of(row), named.get(row[LINK])) for row in linked}
    return {key: HELD[word] for key, word in words.items() if word != ACTS}
