"""The list of sites, a site's page, and its form."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from app.errors import BadInput
from app.language.forms import ChangedMeanwhile
from app.records.database import utc_now
from app.services.days import staleness
from app.services.sites import changes
from app.services.sites import register as sites
from app.services.sites import tables as site_tables
from app.services.sites import views as structure_views
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import listing, page
from app.web.requests import FormDep, RowId

router = guarded_router()


@router.get("/")
@everyone
def start(person: PersonDep) -> Response:
    return RedirectResponse("/field" if person.role == "crew" else "/today", status_code=303)


@router.get("/sites.csv")
@router.get("/sites.json")
@everyone
def site_list(request: Request, session: SessionDep) -> Response:
    return listing(request, site_tables.site_list(session))


@router.get("/sites")
@everyone
def index(request: Request, session: SessionDep) -> Response:
    table = site_tables.site_list(session)
    return page(request, "sites/index.html", sites=table.rows, now=utc_now())


@router.get("/sites/new")
@office
def new(request: Request) -> Response:
    return site_form(request, None, dict(sites.EMPTY_FORM))


@router.post("/sites")
@office
def add(request: Request, session: SessionDep, person: PersonDep, form: FormDep) -> Response:
    try:
        site = sites.add_site(session, form, person.id)
    except BadInput as error:
        session.rollback()
        return site_form(request, None, sites.EMPTY_FORM | form, error)
    session.commit()
    return RedirectResponse(f"/sites/{site.id}", status_code=303)


@router.get("/sites/{site_id}")
@everyone
def show(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return page(
        request,
        "sites/show.html",
        site=sites.get_site(session, site_id),
        views=structure_views.views(session, site_id),
        stale=staleness.of_site(session, site_id),
        changes=changes.changes(session, site_id, limit=12),
        now=utc_now(),
    )


@router.get("/sites/{site_id}/edit")
@office
def edit(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return site_form(request, site_id, sites.form_of(sites.get_site(session, site_id)))


@router.post("/sites/{site_id}")
@office
def change(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, site_id: RowId
) -> Response:
    try:
        sites.change_site(session, site_id, form, person.id)
    except BadInput as error:
        session.rollback()
        return site_form(request, site_id, sites.EMPTY_FORM | form, error)
    session.commit()
    return RedirectResponse(f"/sites/{site_id}", status_code=303)


def site_form(
    request: Request, site_id: int | None, form: dict[str, str], error: BadInput | None = None
) -> Response:
    """Answer with the form, what was typed kept; after a clash the present values beside it."""
    now = error.now if isinstance(error, ChangedMeanwhile) else {}
    return page(
        request,
        "sites/form.html",
        status=409 if now else 422 if error else 200,
        site_id=site_id,
        # Saving again after a clash is meant, so it is against the present revision.
        form=form | {key: now[key] for key in now if key == "revision"},
        now=now,
        units=sites.HEAD_UNITS,
        error=error,
    )


@router.get("/sites/{site_id}/ratings.csv")
@router.get("/sites/{site_id}/ratings.json")
@everyone
def ratings(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, site_tables.ratings_table(session, site_id))


@router.get("/sites/{site_id}/gauge-zeros.csv")
@router.get("/sites/{site_id}/gauge-zeros.json")
@everyone
def gauge_zeros(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, site_tables.zeros_table(session, site_id))


@router.get("/sites/{site_id}/changes.csv")
@router.get("/sites/{site_id}/changes.json")
@everyone
def change_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, site_tables.changes_table(session, sites.get_site(session, site_id)))
