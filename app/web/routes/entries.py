"""One entry of any kind, and its withdrawal."""

from fastapi import Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.records.database import utc_now
from app.records.people import Person
from app.services.sync import page as entries
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.posted import PostedDep
from app.web.render import page
from app.web.requests import EntryId

router = guarded_router()


@router.get("/entries/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, person: PersonDep, entry_id: EntryId) -> Response:
    return show_entry(request, session, person, entry_id)


@router.post("/entries/{entry_id}/withdrawals")
@everyone
def withdraw(post: PostedDep, entry_id: EntryId) -> Response:
    return post.answer(
        lambda: entries.withdraw(post.session, post.person, entry_id, post.form, utc_now()),
        then=entries.address_of,
        again=lambda error: show_entry(post.request, post.session, post.person, entry_id, error),
    )


def show_entry(
    request: Request,
    session: Session,
    person: Person,
    entry_id: str,
    error: BadInput | None = None,
) -> Response:
    found = entries.entry_page(session, entry_id)
    return page(
        request,
        "entries/show.html",
        error=error,
        site=found.site,
        structure_id=found.entry.structure_id,
        found=found,
        may_correct=entries.may_correct(person, found.entry),
    )
