"""One reading: how its discharge came about, and its correction."""

from fastapi import Request, Response
from sqlmodel import Session

from app.errors import BadInput, NotAllowed
from app.language.trade import OCCASIONS, TAILWATER, WATER
from app.records.database import utc_now
from app.records.entries import Entry
from app.records.people import Person
from app.services.days import staleness
from app.services.lists import page as page_lists
from app.services.readings import page as reading_page
from app.services.readings.export import REPEATS
from app.services.sites import register as sites
from app.services.surveys import photos
from app.services.sync import correct as reading_corrections
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.posted import PostedDep
from app.web.render import listing, page
from app.web.requests import EntryId

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
        error=error,
        site=found.site,
        structure=found.structure,
        found=found,
        stale=staleness.reading_why(session, found.entry),
        read_times=reading_page.read_times(found.entry),
        photos=photos.photos(session, site_id=found.site.id, of=[entry_id]),
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
def correct(post: PostedDep, entry_id: EntryId) -> Response:
    entry = own_reading(post.session, post.person, entry_id)
    return post.answer(
        lambda: reading_corrections.correct(
            post.session, post.person, entry_id, post.form, utc_now()
        ),
        then=lambda new_id: f"/readings/{new_id}",
        again=lambda error: show_form(post.request, post.session, entry, post.form, error),
    )


@router.post("/readings/{entry_id}/withdrawals")
@everyone
def withdraw(post: PostedDep, entry_id: EntryId) -> Response:
    return post.answer(
        lambda: reading_corrections.withdraw(
            post.session, post.person, entry_id, post.form, utc_now()
        ),
        then=lambda _: f"/readings/{entry_id}",
        again=lambda error: show_reading(post.request, post.session, post.person, entry_id, error),
    )


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
        site=sites.get_site(session, entry.site_id),
        structure_id=entry.structure_id,
        entry=entry,
        form=form,
        places=reading_corrections.places(session),
        occasions=OCCASIONS,
        units=sites.HEAD_UNITS,
        tail_states=TAILWATER,
        conditions=WATER,
        repeats=REPEATS,
        error=error,
    )


@router.get("/readings/{entry_id}/values.csv")
@router.get("/readings/{entry_id}/values.json")
@everyone
def value_list(request: Request, session: SessionDep, entry_id: EntryId) -> Response:
    return listing(request, page_lists.values_table(session, entry_id))


@router.get("/readings/{entry_id}/steps.csv")
@router.get("/readings/{entry_id}/steps.json")
@everyone
def step_list(request: Request, session: SessionDep, entry_id: EntryId) -> Response:
    return listing(request, page_lists.steps_table(session, entry_id))
