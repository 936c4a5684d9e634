"""A rating as a table to take away: CSV, JSON, and the card for the gauge house."""

from typing import Annotated

from fastapi import Query, Request, Response

from app.errors import BadInput
from app.records.database import utc_now
from app.services.fits import card as rating_tables
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import listing, page
from app.web.requests import RowId

router = guarded_router()

StepQuery = Annotated[str, Query(max_length=20)]


@router.get("/structures/{structure_id}/ratings/{rating_id}/table.csv")
@router.get("/structures/{structure_id}/ratings/{rating_id}/table.json")
@everyone
def table(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    rating_id: RowId,
    step: StepQuery = "1",
) -> Response:
    return listing(request, rating_tables.rating_table(session, structure_id, rating_id, step))


@router.get("/structures/{structure_id}/ratings/{rating_id}/card")
@everyone
def card(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    rating_id: RowId,
    step: StepQuery = "",
) -> Response:
    now, error = utc_now(), None
    try:
        found = rating_tables.card(session, structure_id, rating_id, step, now)
    except BadInput as refused:
        error = refused
        found = rating_tables.card(session, structure_id, rating_id, "", now)
    return page(
        request,
        "rating_tables/card.html",
        status=422 if error else 200,
        card=found,
        site=found.site,
        structure=found.structure,
        rating=found.rating,
        now=now,
        error=error,
    )
