"""Daily flow of the long record, its totals by month and water year, and the duration of flows."""

from typing import Annotated

from fastapi import Query, Request, Response
from fastapi.responses import JSONResponse, StreamingResponse

from app.errors import BadInput
from app.language import forms
from app.language.tables import Table
from app.services.days import daily, staleness
from app.services.days import totals as daily_totals
from app.services.days.tables import days_table, totals_table
from app.services.record import export as record_exports
from app.services.record import reading as record_reading
from app.services.sites.structures import place
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import FRESH, download_as, listing, page
from app.web.requests import RowId
from app.web.routes.history import FromQuery, ToQuery

router = guarded_router()

ByQuery = Annotated[str, Query(pattern=r"^(month|year)$")]


@router.get("/structures/{structure_id}/daily")
@everyone
def show(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
) -> Response:
    site, structure = place(session, structure_id)
    error = None
    span = record_reading.usual_days(session, structure_id)
    try:
        begin, end = forms.site_day(first, "from"), forms.site_day(last, "to")
        rows = daily.shown(session, structure_id, begin or span[0], end or span[1])
    except BadInput as refused:
        error, (begin, end) = refused, span
        rows = daily.shown(session, structure_id, begin, end)
    return page(
        request,
        "daily/show.html",
        status=422 if error else 200,
        site=site,
        structure=structure,
        whole=daily.span(session, structure_id),
        first=begin or span[0] or "",
        last=end or span[1] or "",
        rows=rows,
        months=daily_totals.totals(session, structure_id, by="month"),
        years=daily_totals.totals(session, structure_id, by="year"),
        duration=daily_totals.duration(session, structure_id),
        stale=staleness.of_structure(session, structure_id),
        error=error,
        tab="daily",
    )


@router.get("/structures/{structure_id}/daily.csv")
@everyone
def as_csv(
    session: SessionDep, structure_id: RowId, first: FromQuery = "", last: ToQuery = ""
) -> Response:
    site, structure = place(session, structure_id)
    begin, end = forms.site_day(first, "from"), forms.site_day(last, "to")
    name = record_reading.file_name(site, structure, "daily")
    return StreamingResponse(
        record_exports.daily_csv(session, structure_id, begin, end),
        media_type="text/csv; charset=utf-8",
        headers={**download_as(f"{name}.csv"), **FRESH},
    )


@router.get("/structures/{structure_id}/daily.json")
@everyone
def as_json(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
) -> Response:
    site, _ = place(session, structure_id)
    begin, end = forms.site_day(first, "from"), forms.site_day(last, "to")
    rows = daily.shown(session, structure_id, begin, end)
    return listing(request, days_table(site.code, rows))


@router.get("/structures/{structure_id}/totals.csv")
@router.get("/structures/{structure_id}/totals.json")
@everyone
def totals(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
    by: ByQuery = "month",
) -> Response:
    site, _ = place(session, structure_id)
    begin, end = forms.site_day(first, "from"), forms.site_day(last, "to")
    rows = daily_totals.totals(session, structure_id, begin, end, by)
    table: Table = totals_table(f"{by}-{site.code}", rows)
    return listing(request, table)


@router.get("/structures/{structure_id}/duration.json")
@everyone
def duration(
    session: SessionDep, structure_id: RowId, first: FromQuery = "", last: ToQuery = ""
) -> Response:
    place(session, structure_id)
    begin, end = forms.site_day(first, "from"), forms.site_day(last, "to")
    found = daily_totals.duration(session, structure_id, begin, end)
    return JSONResponse(found, headers=FRESH)
