"""Forms of a structure, its ratings and its gauge zeros."""

from collections.abc import Callable

from fastapi import Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import Form
from app.records.database import utc_now
from app.records.sites import Site, Structure
from app.services.days import staleness
from app.services.sites import families as devices
from app.services.sites import register as sites
from app.services.sites import structures
from app.services.sites import views as structure_views
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import Posted, PostedDep, present_revision, rate_again_at
from app.web.render import page
from app.web.requests import QueryDep, RowId

router = guarded_router()


@router.get("/sites/{site_id}/structures/new")
@office
def new(request: Request, session: SessionDep, typed: QueryDep, site_id: RowId) -> Response:
    site = sites.get_site(session, site_id)
    return structure_form(
        request, site, structures.new_form(site, utc_now()) | structures.proposed(session) | typed
    )


@router.post("/sites/{site_id}/structures")
@office
def add(post: PostedDep, site_id: RowId) -> Response:
    def again(error: BadInput) -> Response:
        site = sites.get_site(post.session, site_id)
        form = structures.new_form(site, utc_now()) | post.form
        return structure_form(post.request, site, form, error)

    return post.answer(
        lambda: structures.add_structure(post.session, site_id, post.form, post.by_id),
        then=lambda _: f"/sites/{site_id}",
        again=again,
    )


def structure_form(
    request: Request, site: Site, form: dict[str, str], error: BadInput | None = None
) -> Response:
    family = devices.family_of(form["family"])
    return page(
        request,
        "sites/structure_new.html",
        site=site,
        form=form,
        families=devices.families(),
        family=family,
        boxes=devices.boxes(family) if family else [],
        error=error,
    )


@router.get("/structures/{structure_id}")
@everyone
def show(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return structure_page(request, session, "sites/dimensions.html", structure_id)


@router.get("/structures/{structure_id}/ratings")
@everyone
def ratings(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return structure_page(request, session, "ratings/index.html", structure_id)


@router.get("/structures/{structure_id}/gauge-zeros")
@everyone
def gauge_zeros(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return structure_page(request, session, "surveys/zeros.html", structure_id)


def structure_page(
    request: Request, session: Session, template: str, structure_id: int
) -> Response:
    """Answer with a page of a structure: its figures, or one of its two dated histories."""
    site, structure = structures.place(session, structure_id)
    view = structure_views.view(session, structure)
    now = utc_now()
    return page(
        request,
        template,
        site=site,
        structure=structure,
        view=view,
        rating_now=view.in_force(view.ratings, now),
        zero_now=view.in_force(view.zeros, now),
        stale=staleness.of_structure(session, structure_id),
    )


@router.get("/structures/{structure_id}/edit")
@office
def edit(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, structure = structures.place(session, structure_id)
    return edit_form(request, site, structure, structures.form_of(structure))


@router.post("/structures/{structure_id}")
@office
def change(post: PostedDep, structure_id: RowId) -> Response:
    def again(error: BadInput) -> Response:
        site, structure = structures.place(post.session, structure_id)
        kept = structures.form_of(structure) | {"tailwater_gauge": ""} | post.form
        return edit_form(post.request, site, structure, kept, error)

    return post.answer(
        lambda: structures.change_structure(post.session, structure_id, post.form, post.by_id),
        then=lambda structure: f"/sites/{structure.site_id}",
        again=again,
    )


def edit_form(
    request: Request,
    site: Site,
    structure: Structure,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    return page(
        request,
        "sites/structure_edit.html",
        site=site,
        structure=structure,
        form=form | present_revision(error),
        error=error,
    )


@router.get("/structures/{structure_id}/ratings/new")
@office
def new_rating(
    request: Request, session: SessionDep, typed: QueryDep, structure_id: RowId
) -> Response:
    site, structure = structures.place(session, structure_id)
    form = structures.rating_form(site, structure, typed, utc_now())
    return dated_form(request, session, "sites/rating.html", structure_id, form)


@router.post("/structures/{structure_id}/ratings")
@office
def add_rating(post: PostedDep, structure_id: RowId) -> Response:
    return dated(post, "sites/rating.html", structure_id, structures.add_rating)


@router.get("/structures/{structure_id}/gauge-zeros/new")
@office
def new_zero(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, _ = structures.place(session, structure_id)
    form = structures.new_form(site, utc_now())
    return dated_form(request, session, "sites/zero.html", structure_id, form)


@router.post("/structures/{structure_id}/gauge-zeros")
@office
def add_zero(post: PostedDep, structure_id: RowId) -> Response:
    return dated(post, "sites/zero.html", structure_id, structures.add_gauge_zero)


def dated(
    post: Posted,
    template: str,
    structure_id: int,
    add: Callable[[Session, int, Form, int | None], object],
) -> Response:
    """Keep a dated row and go to the look at what it changes."""
    return post.answer(
        lambda: add(post.session, structure_id, post.form, post.by_id),
        then=lambda _: rate_again_at(post.session, structure_id),
        again=lambda error: dated_form(
            post.request, post.session, template, structure_id, post.form, error
        ),
    )


def dated_form(
    request: Request,
    session: Session,
    template: str,
    structure_id: int,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    site, structure = structures.place(session, structure_id)
    form = structures.new_form(site, utc_now()) | form
    family = devices.family_of(form["family"])
    return page(
        request,
        template,
        site=site,
        structure=structure,
        form=form,
        families=devices.families(),
        family=family,
        boxes=devices.boxes(family) if family else [],
        error=error,
    )
