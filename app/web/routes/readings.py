"""One reading: how its discharge came about, and its correction."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session

from app.errors import BadInput, NotAllowed
from app.records.database import utc_now
from app.records.entries import Entry
from app.records.people import Person
from app.services.days import staleness
from app.services.readings import page as reading_page
from app.services.readings.export import REPEATS
from app.services.readings.list import OCCASIONS
from app.services.sites.register import HEAD_UNITS
from app.services.sync import correct as reading_corrections
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import page
from app.web.requests import EntryId, FormDep

router = guarded_router()


@router.get("/readings/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, person: PersonDep, entry_id: EntryId) -> Response:
    return show_reading(request, session, person, entry_id)


def show_reading(
    request: Request,
    session: Session,
    person: Person,
    entry_id: str,
    error: BadInput | None = None,
) -> Response:
    found = reading_page.explain(session, entry_id)
    return page(
        request,
        "readings/show.html",
        status=422 if error else 200,
        error=error,
        found=found,
        stale=staleness.reading_why(session, found.entry),
        read_times=reading_page.read_times(found.entry),
        may_correct=reading_corrections.may_correct(person, found.entry),
    )


@router.get("/readings/{entry_id}/correct")
@everyone
def correct_form(
    request: Request, session: SessionDep, person: PersonDep, entry_id: EntryId
) -> Response:
    entry = own_reading(session, person, entry_id)
    return show_form(
        request, session, entry, reading_corrections.form_of(session, entry, utc_now())
    )


@router.post("/readings/{entry_id}/corrections")
@everyone
def correct(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, entry_id: EntryId
) -> Response:
    entry = own_reading(session, person, entry_id)
    try:
        new_id = reading_corrections.correct(session, person, entry_id, form, utc_now())
    except BadInput as error:
        session.rollback()
        return show_form(request, session, entry, form, error)
    return RedirectResponse(f"/readings/{new_id}", status_code=303)


@router.post("/readings/{entry_id}/withdrawals")
@everyone
def withdraw(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, entry_id: EntryId
) -> Response:
    try:
        reading_corrections.withdraw(session, person, entry_id, form, utc_now())
    except BadInput as error:
        session.rollback()
        return show_reading(request, session, person, entry_id, error)
    return RedirectResponse(f"/readings/{entry_id}", status_code=303)


def own_reading(session: Session, person: Person, entry_id: str) -> Entry:
    entry = reading_page.get_reading(session, entry_id)
    if not reading_corrections.may_correct(person, entry):
        raise NotAllowed("crew correct their own readings; ask the office for this one")
    return entry


def show_form(
    request: Request,
    session: Session,
    entry: Entry,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    return page(
        request,
        "readings/correct.html",
        status=422 if error else 200,
        entry=entry,
        form=form,
        now={},
        places=reading_corrections.places(session),
        occasions=OCCASIONS,
        units=HEAD_UNITS,
        tail_states=reading_corrections.TAIL_STATES,
        conditions=reading_corrections.CONDITIONS,
        repeats=REPEATS,
        error=error,
    )
