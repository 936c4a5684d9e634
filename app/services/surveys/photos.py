"""Photos as entries describe them, and whether their picture has arrived.

The entry travels first and says what is on the photo; the picture follows when there is signal
to spare, and is served by the hash that the phone gave it (GET /kept/{sha256}).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.records.entries import Entry
from app.records.files import KeptFile
from app.services.entries.links import standing_only, what_stands
from app.services.sites.changes import names_of


@dataclass(frozen=True, kw_only=True)
class PhotoView:
    """A photo: what it shows, of which standing entry, and its address once the picture is here."""

    entry: Entry
    by: str
    sha256: str
    caption: str
    place: str
    bearing_deg: float | None
    of: str | None
    here: bool
    time_from: str | None

    @property
    def address(self) -> str:
        return f"/kept/{self.sha256}"


def photos(
    session: Session,
    *,
    site_id: int | None = None,
    structure_id: int | None = None,
    of: Sequence[str] | None = None,
) -> list[PhotoView]:
    """Return photos of a site, a structure or some entries, that stand, oldest first."""
    links = what_stands(session, site_id)
    query = select(Entry).where(Entry.kind == "photo", standing_only(session, Entry.id, links))
    if site_id is not None:
        query = query.where(Entry.site_id == site_id)
    if structure_id is not None:
        query = query.where(Entry.structure_id == structure_id)
    entries = session.exec(query.order_by(col(Entry.observed_at), col(Entry.id))).all()
    named = {entry.id: entry.body.get("of") for entry in entries}
    stand = {one: links.latest(one) or one for one in named.values() if one}
    shown = [e for e in entries if of is None or {named[e.id], stand.get(named[e.id])} & {*of}]
    held = set(
        session.execute(
            sa.select(col(KeptFile.sent_sha256)).where(
                col(KeptFile.sent_sha256).in_({entry.body["sha256"] for entry in shown})
            )
        ).scalars()
    )
    names = names_of(session)
    return [
        PhotoView(
            entry=entry,
            by=names.get(entry.by_id, ""),
            sha256=entry.body["sha256"],
            caption=entry.body.get("caption", ""),
            place=entry.body.get("place", ""),
            bearing_deg=entry.body.get("bearing_deg"),
            of=stand.get(named[entry.id]),
            here=entry.body["sha256"] in held,
            time_from=entry.body.get("time_from"),
        )
        for entry in shown
    ]
