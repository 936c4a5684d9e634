"""Fit a rating to check gaugings, look at what it would change, and make it a rating."""

from fastapi import Request, Response
from fastapi.responses import JSONResponse, RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.records.database import utc_now
from app.services.fits import adopt as fitted_ratings
from app.services.fits import candidates as fits
from app.services.fits import charts as fit_charts
from app.services.sites import structures
from app.web.deps import PersonDep, SessionDep
from app.web.guard import guarded_router, office
from app.web.render import listing, page
from app.web.requests import FormDep, QueryDep, RowId

router = guarded_router()


@router.get("/structures/{structure_id}/fits")
@office
def show(request: Request, session: SessionDep, typed: QueryDep, structure_id: RowId) -> Response:
    return fit_page(request, session, structure_id, typed)


def fit_page(
    request: Request,
    session: Session,
    structure_id: int,
    typed: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    found = fits.fitted(session, structure_id, typed)
    error = error or found.error
    return page(
        request,
        "fits/show.html",
        status=422 if error and typed else 200,
        found=found,
        site=found.site,
        structure=found.structure,
        form=found.form,
        make=fitted_ratings.make_form(found, typed, utc_now()),
        equations=fitted_ratings.equations(found.fit) if found.fit else [],
        bands=fit_charts.band_rows(found),
        log=typed.get("scale") == "log",
        error=error,
    )


@router.get("/structures/{structure_id}/fits/charts.json")
@office
def charts(session: SessionDep, typed: QueryDep, structure_id: RowId) -> Response:
    found = fits.fitted(session, structure_id, typed)
    said = fit_charts.charts(found, log=typed.get("scale") == "log")
    return JSONResponse(said, headers={"cache-control": "no-store"})


@router.get("/structures/{structure_id}/fits.csv")
@router.get("/structures/{structure_id}/fits.json")
@office
def gaugings(
    request: Request, session: SessionDep, typed: QueryDep, structure_id: RowId
) -> Response:
    return listing(request, fit_charts.rows_table(fits.fitted(session, structure_id, typed)))


@router.get("/structures/{structure_id}/fit-bands.csv")
@router.get("/structures/{structure_id}/fit-bands.json")
@office
def bands(request: Request, session: SessionDep, typed: QueryDep, structure_id: RowId) -> Response:
    return listing(request, fit_charts.bands_table(fits.fitted(session, structure_id, typed)))


@router.post("/structures/{structure_id}/fits")
@office
def make(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, structure_id: RowId
) -> Response:
    """Show what a rating made of the fit would change; store it when the person has seen that."""
    if form.get("do") == "back":
        return fit_page(request, session, structure_id, form)
    try:
        if form.get("do") == "store":
            rating = fitted_ratings.make(session, structure_id, form, person.id)
            site_id = structures.get_structure(session, rating.structure_id).site_id
            session.commit()
            return RedirectResponse(f"/sites/{site_id}/rate-again", status_code=303)
        look = fitted_ratings.look(session, structure_id, form, person.id, utc_now())
    except BadInput as error:
        session.rollback()
        return fit_page(request, session, structure_id, form, error)
    return page(
        request,
        "fits/look.html",
        look=look,
        found=look.change,
        fit=look.found,
        site=look.found.site,
        structure=look.found.structure,
        form=form,
        hidden=look.found.choice | {key: form.get(key, "") for key in fitted_ratings.BOXES},
        equations=fitted_ratings.equations(look.found.fit) if look.found.fit else [],
    )
