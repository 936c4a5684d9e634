"""The flow history of a structure: one chart from years to a quarter of an hour, and its series."""

from typing import Annotated
from urllib.parse import urlencode

from fastapi import Query, Request, Response
from fastapi.encoders import jsonable_encoder
from sqlmodel import Session

from app.language.tables import PAGE_ROWS, part_of
from app.records.sites import Site, Structure
from app.services.days import daily, staleness
from app.services.record import charts as series_charts
from app.services.record import export as record_exports
from app.services.record import reading as record_reading
from app.services.record import table as record_table
from app.services.record.marks import main_structure, span_on_record
from app.services.sites.register import get_site
from app.services.sites.structures import place
from app.services.takes import use as takes
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import download, form_of, fresh_json, listing, page, wants_part
from app.web.requests import AsOfDep, PartQuery, RowId, RowQuery

router = guarded_router()

MARKS_ON_A_PAGE = 50

Second = Annotated[int | None, Query(ge=-(2**40), le=2**40)]
Columns = Annotated[int, Query(ge=10, le=5000)]
PageRows = Annotated[int, Query(ge=1, le=record_exports.MOST_PAGE_ROWS)]
What = Annotated[str, Query(max_length=20)]
Others = Annotated[str, Query(alias="with", pattern=r"^(\d{1,9})?(,\d{1,9}){0,10}$")]


@router.get("/structures/{structure_id}/record")
@everyone
def show(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, structure = place(session, structure_id)
    return flow_page(request, session, site, structure)


@router.get("/sites/{site_id}/flow")
@everyone
def of_site(
    request: Request, session: SessionDep, site_id: RowId, structure: RowQuery = None
) -> Response:
    """Show the flow of a site's main structure, or what to do first where there is none."""
    site = get_site(session, site_id)
    return flow_page(request, session, site, main_structure(session, site_id, structure))


def flow_page(
    request: Request, session: Session, site: Site, structure: Structure | None
) -> Response:
    structure_id = structure.id if structure else None
    return page(
        request,
        "record/show.html",
        site=site,
        structure=structure,
        span=span_on_record(session, structure_id) if structure_id else None,
        logged=bool(structure_id and daily.span(session, structure_id)),
        others=record_reading.others(session, structure_id) if structure_id else [],
        stale=staleness.of_structure(session, structure_id)
        if structure_id
        else staleness.of_site(session, site.id or 0),
    )


@router.get("/structures/{structure_id}/years")
@everyone
def years_page(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, structure = place(session, structure_id)
    return page(
        request,
        "record/years.html",
        site=site,
        structure=structure,
        span=daily.span(session, structure_id),
        stale=staleness.of_structure(session, structure_id),
    )


@router.get("/structures/{structure_id}/record/chart.json")
@everyone
def chart(
    session: SessionDep,
    structure_id: RowId,
    from_s: Second = None,
    to_s: Second = None,
    columns: Columns = 900,
    what: What = "discharge",
    others: Others = "",
) -> Response:
    """Answer the columns of a view; no peak is thinned away and gaps stay open."""
    ids = [structure_id, *(int(part) for part in others.split(",") if part)]
    found = series_charts.several(session, ids, from_s, to_s, columns, what)
    return fresh_json(found)


@router.get("/structures/{structure_id}/record/reading.json")
@everyone
def reading(
    session: SessionDep,
    structure_id: RowId,
    at: Annotated[int, Query(ge=-(2**40), le=2**40)],
) -> Response:
    """Answer the stored reading nearest to a time, with its uncertainty, words and versions."""
    return fresh_json(record_reading.nearest(session, structure_id, at))


@router.get("/structures/{structure_id}/record/years.json")
@everyone
def years(session: SessionDep, structure_id: RowId) -> Response:
    return fresh_json(series_charts.year_over_year(session, structure_id))


@router.get("/structures/{structure_id}/record/cumulative.json")
@everyone
def cumulative(
    session: SessionDep,
    structure_id: RowId,
    as_of: AsOfDep,
    limit: RowQuery = None,
) -> Response:
    day = as_of or takes.last_day(session, structure_id)
    found = jsonable_encoder(series_charts.cumulative(session, structure_id, limit, day))
    return fresh_json(found)


@router.get("/structures/{structure_id}/series.csv")
@router.get("/structures/{structure_id}/series.json")
@everyone
def series(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    from_s: Second = None,
    to_s: Second = None,
    limit: PageRows = PAGE_ROWS,
) -> Response:
    """Send the series while it is read, so that ten years need little memory.

    The CSV is whole; the JSON comes in pages of `limit` rows, each with the address of the next.
    """
    site, structure = place(session, structure_id)
    name = record_reading.file_name(site, structure, "series")
    session.close()  # the blocks are read in a session of their own
    engine = request.app.state.engine
    if form_of(request) == "json":
        blocks = record_exports.series_json(engine, structure_id, from_s, to_s, limit=limit)
    else:
        blocks = record_exports.series_csv(engine, structure_id, from_s, to_s)
    return download(request, name, record_exports.SERIES_COLUMNS, blocks)


@router.get("/structures/{structure_id}/record/marks.csv")
@router.get("/structures/{structure_id}/record/marks.json")
@everyone
def mark_list(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    from_s: Second = None,
    to_s: Second = None,
) -> Response:
    return listing(request, record_exports.marks_table(session, structure_id, from_s, to_s))


@router.get("/structures/{structure_id}/record/table")
@everyone
def table(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    from_s: Second = None,
    to_s: Second = None,
    part: PartQuery = 1,
) -> Response:
    """Answer the view in words: parts of the chart's page, or a page for those without it."""
    site, structure = place(session, structure_id)
    found = record_table.view(session, structure_id, from_s, to_s)
    rows, part, parts = part_of(found.marks, part, MARKS_ON_A_PAGE)
    template = "record/_beside.html" if wants_part(request) else "record/table.html"
    return page(
        request,
        template,
        site=site,
        structure=structure,
        found=found.beside,
        summed=found.summed,
        marks=rows,
        all_marks=len(found.marks),
        part=part,
        parts=parts,
        view=urlencode({k: v for k, v in (("from_s", from_s), ("to_s", to_s)) if v is not None}),
        stale=None if wants_part(request) else staleness.of_structure(session, structure_id),
    )
