"""What review shows of entries whose times lie ahead of their receipt.

Key: ahead: (of an entry).
"""

from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.hydraulics.structure.device import Flag
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sites import Site
from app.services.entries.ahead import ahead_words, times_ahead
from app.services.entries.links import what_stands
from app.services.review.items import QueueItem
from app.services.sites.changes import names_of
from app.services.sync.page import address_of, kind_words

# Times of a body that may lie ahead while the entry's own does not; those of a head reading are
# known by the flag of its flow value, so that a long record is not read through.
OF_THE_BODY = (("started_at",), ("ended_at",), ("fit_from",), ("downloaded_at",))
DEEPER = (("set_zero", "from"), ("sensor", "at"), ("clock", "right"))


def suspects(session: Session, site_id: int | None) -> list[Entry]:
    """Return the entries that may hold a time ahead of their receipt: few, found in SQL."""
    body: Any = col(Entry.body)
    others = sa.select(
        col(Entry.id),
        col(Entry.received_at),
        *(body[path if len(path) > 1 else path[0]].as_string() for path in OF_THE_BODY + DEEPER),
    ).where(col(Entry.kind) != "head_reading")
    flagged = sa.select(col(FlowValue.entry_id)).where(
        col(FlowValue.current), col(FlowValue.flags).op("&")(int(Flag.TIME_AHEAD)) != 0
    )
    own = sa.select(col(Entry.id)).where(col(Entry.observed_at) > col(Entry.received_at))
    if site_id is not None:
        others = others.where(col(Entry.site_id) == site_id)
        flagged = flagged.where(col(FlowValue.site_id) == site_id)
        own = own.where(col(Entry.site_id) == site_id)
    ids = {*session.execute(flagged).scalars(), *session.execute(own).scalars()}
    for entry_id, received_at, *texts in session.execute(others):
        told = [{"at": text} for text in texts]
        if times_ahead(received_at, {"times": told}, received_at):
            ids.add(entry_id)
    found = select(Entry).where(col(Entry.id).in_(ids)).order_by(col(Entry.id))
    return list(session.exec(found)) if ids else []


def items_ahead(session: Session, site_id: int | None) -> list[QueueItem]:
    """Return an item for each entry that stands and holds a time ahead of its receipt."""
    found = suspects(session, site_id)
    if not found:
        return []
    links, names = what_stands(session, site_id), names_of(session)
    sites = {site.id: site for site in session.exec(select(Site))}
    items = []
    for entry in found:
        ahead = times_ahead(entry.observed_at, entry.body, entry.received_at)
        if not ahead or not links.stands(entry.id):
            continue
        site = sites[entry.site_id]
        at = int(entry.received_at.timestamp())
        items.append(
            QueueItem(
                key=f"ahead:{entry.id}",
                kind="ahead",
                title="a time lies ahead of the office's clock",
                words=f"{kind_words(entry.kind)}, {names.get(entry.by_id, '')}: "
                f"{ahead_words(ahead, site.utc_offset_min)} Correct the record, or accept that it "
                "was seen",
                site_id=entry.site_id,
                site_code=site.code,
                structure_id=None,
                quantity="head" if entry.kind == "head_reading" else "",
                from_s=at,
                to_s=at,
                link={
                    "entry_id": entry.id,
                    "addresses": [(f"the {kind_words(entry.kind)}", address_of(entry))],
                },
            )
        )
    return items
