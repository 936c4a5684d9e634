"""The list of sites, a site's page, and its form."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from app.errors import BadInput
from app.records.database import utc_now
from app.records.sites import Site
from app.services.days import staleness
from app.services.sites import register as sites
from app.services.sites import tables as site_tables
from app.services.sites import views as structure_views
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep, present_revision
from app.web.render import listing, page
from app.web.requests import RowId

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
def new(request: Request, session: SessionDep) -> Response:
    return site_form(request, None, sites.new_form(session))


@router.post("/sites")
@office
def add(post: PostedDep) -> Response:
    return post.answer(
        lambda: sites.add_site(post.session, post.form, post.by_id),
        then=lambda site: f"/sites/{site.id}",
        again=lambda error: site_form(post.request, None, sites.EMPTY_FORM | post.form, error),
    )


@router.get("/sites/{site_id}")
@everyone
def show(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return page(
        request,
        "sites/show.html",
        site=sites.get_site(session, site_id),
        views=structure_views.views(session, site_id),
        stale=staleness.of_site(session, site_id),
        now=utc_now(),
    )


@router.get("/sites/{site_id}/edit")
@office
def edit(request: Request, session: SessionDep, site_id: RowId) -> Response:
    site = sites.get_site(session, site_id)
    return site_form(request, site, sites.form_of(site))


@router.post("/sites/{site_id}")
@office
def change(post: PostedDep, site_id: RowId) -> Response:
    def again(error: BadInput) -> Response:
        site = sites.get_site(post.session, site_id)
        return site_form(post.request, site, sites.EMPTY_FORM | post.form, error)

    return post.answer(
        lambda: sites.change_site(post.session, site_id, post.form, post.by_id),
        then=lambda _: f"/sites/{site_id}",
        again=again,
    )


def site_form(
    request: Request, site: Site | None, form: dict[str, str], error: BadInput | None = None
) -> Response:
    """Answer with the form, what was typed kept; after a clash the present values beside it."""
    return page(
        request,
        "sites/form.html",
        site=site,
        form=form | present_revision(error),
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
