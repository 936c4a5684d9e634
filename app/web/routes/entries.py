"""One entry of any kind, and its withdrawal."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.records.database import utc_now
from app.records.people import Person
from app.services.sync import page as entries
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import page
from app.web.requests import EntryId, FormDep

router = guarded_router()


@router.get("/entries/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, person: PersonDep, entry_id: EntryId) -> Response:
    return show_entry(request, session, person, entry_id)


@router.post("/entries/{entry_id}/withdrawals")
@everyone
def withdraw(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, entry_id: EntryId
) -> Response:
    try:
        entry = entries.withdraw(session, person, entry_id, form, utc_now())
    except BadInput as error:
        session.rollback()
        return show_entry(request, session, person, entry_id, error)
    return RedirectResponse(entries.address_of(entry), status_code=303)


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
        status=422 if error else 200,
        error=error,
        found=found,
        may_correct=entries.may_correct(person, found.entry),
    )
