"""Check gaugings in the office: the list of a site and one gauging with its working."""

from fastapi import Request, Response
from fastapi.responses import JSONResponse
from sqlmodel import Session

from app.errors import BadInput
from app.services.equipment import naming as equipment_naming
from app.services.gaugings import page as gauging_page
from app.services.gaugings import results as gaugings
from app.services.gaugings import tables as gauging_tables
from app.services.readings.list import Span, span_of
from app.services.sites import register as sites
from app.services.sync.page import may_correct
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import listing, page
from app.web.requests import EntryId, RowId
from app.web.routes.history import FromQuery, StructureQuery, ToQuery

router = guarded_router()


def found_in(
    session: Session, site_id: int, span: Span, structure_id: int | None
) -> list[gaugings.GaugingResult]:
    return gaugings.gauging_results(session, site_id, span.since, span.until, structure_id)


@router.get("/sites/{site_id}/check-gaugings.csv")
@router.get("/sites/{site_id}/check-gaugings.json")
@everyone
def as_list(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
) -> Response:
    site = sites.get_site(session, site_id)
    span = span_of(first, last, site.utc_offset_min)
    found = found_in(session, site_id, span, structure)
    return listing(request, gauging_tables.gaugings_table(site, found))


@router.get("/sites/{site_id}/check-gaugings")
@everyone
def index(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
) -> Response:
    site = sites.get_site(session, site_id)
    error = None
    try:
        span = span_of(first, last, site.utc_offset_min)
    except BadInput as refused:
        error, span = refused, span_of("", "", site.utc_offset_min)
    return page(
        request,
        "gaugings/index.html",
        status=422 if error else 200,
        site=site,
        structures=sites.structures_of(session, site_id),
        structure_id=structure,
        found=found_in(session, site_id, span, structure)[::-1],
        span=span,
        first=first,
        last=last,
        error=error,
    )


@router.get("/check-gaugings/{entry_id}.json")
@everyone
def whole(session: SessionDep, entry_id: EntryId) -> Response:
    one = gaugings.gauging_result(session, entry_id)
    site = sites.get_site(session, one.entry.site_id)
    return JSONResponse(gauging_tables.whole(one, site), headers={"cache-control": "no-store"})


@router.get("/check-gaugings/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, person: PersonDep, entry_id: EntryId) -> Response:
    found = gauging_page.explain(session, entry_id)
    return page(
        request,
        "gaugings/show.html",
        found=found,
        one=found.result,
        naming=equipment_naming.naming_box(session, found.result.entry),
        site=found.site,
        may_correct=may_correct(person, found.result.entry),
    )
