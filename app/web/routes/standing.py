"""How a rating stands: its gaugings on charts and in tables, tests in words, ratings compared."""

from typing import Annotated

from fastapi import Depends, Query, Request, Response
from fastapi.responses import JSONResponse

from app.errors import BadInput
from app.records.database import utc_now
from app.services.fits import sides as rating_sides
from app.services.fits import tables as standing_tables
from app.services.fits import test_charts as standing_charts
from app.services.fits import tests as standing
from app.services.fits.tables import sides_table
from app.services.fits.tests import Standing
from app.services.lists import page as page_lists
from app.services.sites.views import described
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import listing, page
from app.web.requests import RowId
from app.web.routes.history import FromQuery, ToQuery

router = guarded_router()

ScaleQuery = Annotated[str, Query(alias="scale", max_length=10)]


def asked(
    session: SessionDep,
    structure_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    rating: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None,
    every: Annotated[str, Query(max_length=10)] = "",
) -> Standing | BadInput:
    try:
        return standing.standing(
            session,
            structure_id,
            utc_now(),
            rating_id=rating,
            every=every == "yes",
            first=first,
            last=last,
        )
    except BadInput as error:
        return error


AskedDep = Annotated[Standing | BadInput, Depends(asked)]


def given(found: Standing | BadInput) -> Standing:
    if isinstance(found, BadInput):
        raise found
    return found


@router.get("/structures/{structure_id}/standing")
@everyone
def show(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    found: AskedDep,
    first: FromQuery = "",
    last: ToQuery = "",
    scale: ScaleQuery = "",
) -> Response:
    error = None
    if isinstance(found, BadInput):
        error, found = found, standing.standing(session, structure_id, utc_now())
    word, advice = standing.conclusion(found)
    return page(
        request,
        "standing/show.html",
        status=422 if error else 200,
        found=found,
        site=found.site,
        structure=found.structure,
        described={rating.id: described(rating) for rating in found.ratings},
        word=word,
        advice=advice,
        grid=standing_tables.season_grid(found),
        sides=rating_sides.side_by_side(session, found),
        log=scale == "log",
        first=first,
        last=last,
        error=error,
    )


@router.get("/structures/{structure_id}/standing/charts.json")
@everyone
def charts(structure_id: RowId, found: AskedDep, scale: ScaleQuery = "") -> Response:
    said = standing_charts.charts(given(found), log=scale == "log")
    return JSONResponse(said, headers={"cache-control": "no-store"})


@router.get("/structures/{structure_id}/standing.csv")
@router.get("/structures/{structure_id}/standing.json")
@everyone
def points(request: Request, structure_id: RowId, found: AskedDep) -> Response:
    return listing(request, standing_tables.points_table(given(found)))


@router.get("/structures/{structure_id}/seasons.csv")
@router.get("/structures/{structure_id}/seasons.json")
@everyone
def seasons(request: Request, structure_id: RowId, found: AskedDep) -> Response:
    return listing(request, standing_tables.seasons_table(given(found)))


@router.get("/structures/{structure_id}/standing-tests.csv")
@router.get("/structures/{structure_id}/standing-tests.json")
@everyone
def tests(request: Request, structure_id: RowId, found: AskedDep) -> Response:
    return listing(request, page_lists.tests_table(given(found)))


@router.get("/structures/{structure_id}/ratings-compared.csv")
@router.get("/structures/{structure_id}/ratings-compared.json")
@everyone
def compared(
    request: Request, session: SessionDep, structure_id: RowId, found: AskedDep
) -> Response:
    view = given(found)
    return listing(request, sides_table(view, rating_sides.side_by_side(session, view)))
