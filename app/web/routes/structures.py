"""Forms of a structure, its ratings and its gauge zeros."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import ChangedMeanwhile
from app.records.database import utc_now
from app.records.sites import Site, Structure
from app.services.sites import families as devices
from app.services.sites import register as sites
from app.services.sites import structures
from app.web.deps import PersonDep, SessionDep
from app.web.guard import guarded_router, office
from app.web.render import page
from app.web.requests import FormDep, QueryDep, RowId

router = guarded_router()


@router.get("/sites/{site_id}/structures/new")
@office
def new(request: Request, session: SessionDep, typed: QueryDep, site_id: RowId) -> Response:
    site = sites.get_site(session, site_id)
    return structure_form(request, site, structures.new_form(site, utc_now()) | typed)


@router.post("/sites/{site_id}/structures")
@office
def add(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, site_id: RowId
) -> Response:
    try:
        structures.add_structure(session, site_id, form, person.id)
    except BadInput as error:
        session.rollback()
        site = sites.get_site(session, site_id)
        return structure_form(request, site, structures.new_form(site, utc_now()) | form, error)
    session.commit()
    return RedirectResponse(f"/sites/{site_id}", status_code=303)


def structure_form(
    request: Request, site: Site, form: dict[str, str], error: BadInput | None = None
) -> Response:
    family = structures.family_of(form["family"])
    return page(
        request,
        "sites/structure_new.html",
        status=422 if error else 200,
        site=site,
        form=form,
        now={},
        families=devices.families(),
        family=family,
        boxes=structures.boxes(family) if family else [],
        error=error,
    )


@router.get("/structures/{structure_id}/edit")
@office
def edit(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, structure = structures.place(session, structure_id)
    return edit_form(request, site, structure, structures.form_of(structure))


@router.post("/structures/{structure_id}")
@office
def change(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, structure_id: RowId
) -> Response:
    try:
        structure = structures.change_structure(session, structure_id, form, person.id)
    except BadInput as error:
        session.rollback()
        site, structure = structures.place(session, structure_id)
        kept = structures.form_of(structure) | {"tailwater_gauge": ""} | form
        return edit_form(request, site, structure, kept, error)
    site_id = structure.site_id
    session.commit()
    return RedirectResponse(f"/sites/{site_id}", status_code=303)


def edit_form(
    request: Request,
    site: Site,
    structure: Structure,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    now = error.now if isinstance(error, ChangedMeanwhile) else {}
    return page(
        request,
        "sites/structure_edit.html",
        status=409 if now else 422 if error else 200,
        site=site,
        structure=structure,
        form=form | {key: now[key] for key in now if key == "revision"},
        now=now,
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
def add_rating(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, structure_id: RowId
) -> Response:
    try:
        structures.add_rating(session, structure_id, form, person.id)
    except BadInput as error:
        session.rollback()
        return dated_form(request, session, "sites/rating.html", structure_id, form, error)
    return rate_again(session, structure_id)


@router.get("/structures/{structure_id}/gauge-zeros/new")
@office
def new_zero(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, _ = structures.place(session, structure_id)
    form = structures.new_form(site, utc_now())
    return dated_form(request, session, "sites/zero.html", structure_id, form)


@router.post("/structures/{structure_id}/gauge-zeros")
@office
def add_zero(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, structure_id: RowId
) -> Response:
    try:
        structures.add_gauge_zero(session, structure_id, form, person.id)
    except BadInput as error:
        session.rollback()
        return dated_form(request, session, "sites/zero.html", structure_id, form, error)
    return rate_again(session, structure_id)


def rate_again(session: Session, structure_id: int) -> Response:
    """Keep what was entered and go to the look at what it changes."""
    site_id = structures.get_structure(session, structure_id).site_id
    session.commit()
    return RedirectResponse(f"/sites/{site_id}/rate-again", status_code=303)


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
    family = structures.family_of(form["family"])
    return page(
        request,
        template,
        status=422 if error else 200,
        site=site,
        structure=structure,
        form=form,
        now={},
        families=devices.families(),
        family=family,
        boxes=structures.boxes(family) if family else [],
        error=error,
    )
