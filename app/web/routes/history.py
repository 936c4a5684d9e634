"""A site's head readings as lists: one by one, by day, by flow word, and their export."""

from typing import Annotated

from fastapi import Depends, Request, Response

from app.services.days import staleness
from app.services.readings import charts as history_chart
from app.services.readings import export as exports
from app.services.readings import history
from app.services.readings.history import History
from app.services.readings.list import Span
from app.services.readings.tables import daily_table, readings_table, words_table
from app.services.sites import register as sites
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import download, form_of, fresh_json, listing, page
from app.web.requests import PartQuery, RangeDep, RowId, RowQuery, else_usual

router = guarded_router()


def asked(
    session: SessionDep, site_id: RowId, typed: RangeDep, structure: RowQuery = None
) -> History:
    site = sites.get_site(session, site_id)
    return history.history(session, site_id, typed.span(site.utc_offset_min), structure)


AskedDep = Annotated[History, Depends(asked)]


@router.get("/sites/{site_id}/readings")
@everyone
def show(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    typed: RangeDep,
    structure: RowQuery = None,
    part: PartQuery = 1,
) -> Response:
    site = sites.get_site(session, site_id)
    newest = history.newest_day(session, site)
    usual = history.usual_span(newest, site.utc_offset_min)

    def found_in(span: Span, structure_id: int | None) -> History:
        return history.history(session, site_id, span, structure_id)

    found, error = else_usual(
        lambda: found_in(
            typed.span(site.utc_offset_min) if typed.first or typed.last else usual, structure
        ),
        lambda: found_in(usual, None),
    )
    rows, parts = history.newest_first(found, part)
    days = history.daily(found)
    return page(
        request,
        "readings/index.html",
        found=found,
        site=site,
        structure=found.structure,
        rows=rows,
        part=min(part, parts),
        parts=parts,
        daily=days[-history.SCREENFUL :],
        all_days=len(days),
        groups=history.by_flow_word(found.rows),
        ranges=history.quick_ranges(newest),
        first=typed.first if error else found.span.first or "",
        last=typed.last if error else found.span.last or "",
        stale=staleness.of_site(session, site_id),
        error=error,
    )


@router.get("/sites/{site_id}/history/chart.json")
@everyone
def chart(site_id: RowId, found: AskedDep) -> Response:
    return fresh_json(history_chart.chart(found))


@router.get("/sites/{site_id}/history.csv")
@router.get("/sites/{site_id}/history.json")
@everyone
def readings(request: Request, site_id: RowId, found: AskedDep) -> Response:
    return listing(request, readings_table(found))


@router.get("/sites/{site_id}/daily-readings.csv")
@router.get("/sites/{site_id}/daily-readings.json")
@everyone
def daily(request: Request, site_id: RowId, found: AskedDep) -> Response:
    return listing(request, daily_table(found))


@router.get("/sites/{site_id}/flow-words.csv")
@router.get("/sites/{site_id}/flow-words.json")
@everyone
def flow_words(request: Request, site_id: RowId, found: AskedDep) -> Response:
    return listing(request, words_table(found))


@router.get("/sites/{site_id}/readings.csv")
@router.get("/sites/{site_id}/readings.json")
@everyone
def export(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    typed: RangeDep,
    structure: RowQuery = None,
    corrected: bool = False,
) -> Response:
    """Send head readings while they are read, so that many of them need little memory."""
    site = sites.get_site(session, site_id)
    span = typed.span(site.utc_offset_min)
    blocks = exports.export_readings(
        request.app.state.engine,
        site,
        span,
        structure,
        with_corrected=corrected,
        as_json=form_of(request) == "json",
    )
    return download(request, exports.file_name(site, span), exports.EXPORT_COLUMNS, blocks)
