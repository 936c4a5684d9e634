"""What the page of one visit says of it besides what lies within."""

from dataclasses import dataclass

from sqlmodel import Session

from app.services.entries.links import what_stands
from app.services.surveys.photos import PhotoView, photos
from app.services.visits.done import visit_view
from app.services.visits.view import VisitView


@dataclass(frozen=True)
class VisitPage:
    """A visit, its photos, and the entry that counts in its place where it stands no more."""

    view: VisitView
    pictures: list[PhotoView]
    stands: bool
    instead: str | None


def visit_page(session: Session, entry_id: str) -> VisitPage:
    """Return a visit for its page; raises NotFound."""
    view = visit_view(session, entry_id)
    links = what_stands(session, view.entry.site_id)
    held = {one.entry.id for one in view.of_kind("photo")}
    pictures = photos(session, site_id=view.entry.site_id) if held else []
    stands = links.stands(entry_id)
    return VisitPage(
        view,
        [one for one in pictures if one.entry.id in held],
        stands,
        None if stands else links.latest(entry_id),
    )
