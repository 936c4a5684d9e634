"""A site's history: chart, readings, days, and the export of gauging records."""

from typing import Annotated

from fastapi import Query, Request, Response
from fastapi.responses import JSONResponse, StreamingResponse
from sqlmodel import Session

from app.errors import BadInput
from app.services.days import staleness
from app.services.readings import charts as history_chart
from app.services.readings import export as exports
from app.services.readings import history
from app.services.readings.history import History
from app.services.readings.list import span_of
from app.services.readings.tables import daily_table, readings_table, words_table
from app.services.sites import register as sites
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import download_as, listing, page
from app.web.requests import RowId

router = guarded_router()

FromQuery = Annotated[str, Query(alias="from", max_length=40)]
ToQuery = Annotated[str, Query(alias="to", max_length=40)]
StructureQuery = Annotated[int | None, Query(alias="structure", ge=1, le=2**31 - 1)]
PartQuery = Annotated[int, Query(alias="part", ge=1, le=100_000)]


def asked(
    session: Session, site_id: int, first: str, last: str, structure_id: int | None
) -> History:
    site = sites.get_site(session, site_id)
    span = span_of(first, last, site.utc_offset_min)
    return history.history(session, site_id, span, structure_id)


@router.get("/sites/{site_id}/history")
@everyone
def show(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
    part: PartQuery = 1,
) -> Response:
    site = sites.get_site(session, site_id)
    newest = history.newest_day(session, site)
    span = history.usual_span(newest, site.utc_offset_min)
    error = None
    try:
        if first or last:
            span = span_of(first, last, site.utc_offset_min)
        found = history.history(session, site_id, span, structure)
    except BadInput as refused:
        error = refused
        found = history.history(session, site_id, span, None)
    rows, parts = history.newest_first(found, part)
    return page(
        request,
        "history/show.html",
        status=422 if error else 200,
        found=found,
        site=site,
        rows=rows,
        part=min(part, parts),
        parts=parts,
        daily=history.daily(found),
        groups=history.by_flow_word(found.rows),
        ranges=history.quick_ranges(newest),
        first=first if error else span.first or "",
        last=last if error else span.last or "",
        stale=staleness.of_site(session, site_id),
        error=error,
    )


@router.get("/sites/{site_id}/history/chart.json")
@everyone
def chart(
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
) -> Response:
    found = asked(session, site_id, first, last, structure)
    return JSONResponse(history_chart.chart(found), headers={"cache-control": "no-store"})


@router.get("/sites/{site_id}/history.csv")
@router.get("/sites/{site_id}/history.json")
@everyone
def readings(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
) -> Response:
    found = asked(session, site_id, first, last, structure)
    return listing(request, readings_table(found))


@router.get("/sites/{site_id}/daily.csv")
@router.get("/sites/{site_id}/daily.json")
@everyone
def daily(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
) -> Response:
    found = asked(session, site_id, first, last, structure)
    return listing(request, daily_table(found))


@router.get("/sites/{site_id}/flow-words.csv")
@router.get("/sites/{site_id}/flow-words.json")
@everyone
def flow_words(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
) -> Response:
    found = asked(session, site_id, first, last, structure)
    return listing(request, words_table(found))


@router.get("/sites/{site_id}/gaugings.csv")
@router.get("/sites/{site_id}/gaugings.json")
@everyone
def gaugings(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    structure: StructureQuery = None,
    corrected: bool = False,
) -> Response:
    """Send gauging records while they are read, so that a long record needs little memory."""
    site = sites.get_site(session, site_id)
    span = span_of(first, last, site.utc_offset_min)
    as_json = request.url.path.endswith(".json")
    blocks = exports.export_gaugings(
        request.app.state.engine,
        site,
        span,
        structure,
        with_corrected=corrected,
        as_json=as_json,
    )
    name = exports.file_name(site, span) + (".json" if as_json else ".csv")
    return StreamingResponse(
        blocks,
        media_type="application/json" if as_json else "text/csv; charset=utf-8",
        headers={
            **download_as(name),
            "cache-control": "no-store",
        },
    )
