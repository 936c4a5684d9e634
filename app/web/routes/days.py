"""Daily flow of the long record, its totals by month and water year, and the duration of flows."""

from datetime import date
from typing import Annotated, Any

from fastapi import Query, Request, Response

from app.language.tables import part_of
from app.services.days import daily, staleness
from app.services.days import totals as daily_totals
from app.services.days.tables import totals_table
from app.services.lists import export as record_lists
from app.services.record import export as record_exports
from app.services.record import reading as record_reading
from app.services.sites.structures import place
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import fresh_json, listing, page
from app.web.requests import PartQuery, RangeDep, RowId, else_usual

router = guarded_router()

DAYS_ON_A_PAGE = 100

ByQuery = Annotated[str, Query(pattern=r"^(month|year)$")]


@router.get("/structures/{structure_id}/daily")
@everyone
def show(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    typed: RangeDep,
    part: PartQuery = 1,
) -> Response:
    site, structure = place(session, structure_id)
    usual = record_reading.usual_days(session, structure_id)

    def shown(first: date | None, last: date | None) -> tuple[Any, ...]:
        begin, end = first or usual[0], last or usual[1]
        return begin, end, daily.shown(session, structure_id, begin, end)

    (first, last, days), error = else_usual(lambda: shown(*typed.days()), lambda: shown(*usual))
    rows, part, parts = part_of(days[::-1], part, DAYS_ON_A_PAGE)
    return page(
        request,
        "days/show.html",
        site=site,
        structure=structure,
        whole=daily.span(session, structure_id),
        first=first or "",
        last=last or "",
        rows=rows[::-1],
        all_days=len(days),
        part=part,
        parts=parts,
        stale=staleness.of_structure(session, structure_id),
        error=error,
    )


@router.get("/structures/{structure_id}/totals")
@everyone
def totals_page(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, structure = place(session, structure_id)
    return page(
        request,
        "days/totals.html",
        site=site,
        structure=structure,
        whole=daily.span(session, structure_id),
        months=daily_totals.totals(session, structure_id, by="month"),
        years=daily_totals.totals(session, structure_id, by="year"),
        duration=daily_totals.duration(session, structure_id),
        stale=staleness.of_structure(session, structure_id),
    )


@router.get("/structures/{structure_id}/daily.csv")
@router.get("/structures/{structure_id}/daily.json")
@everyone
def as_list(
    request: Request, session: SessionDep, structure_id: RowId, typed: RangeDep
) -> Response:
    return listing(request, record_exports.daily_table(session, structure_id, *typed.days()))


@router.get("/structures/{structure_id}/totals.csv")
@router.get("/structures/{structure_id}/totals.json")
@everyone
def totals(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    typed: RangeDep,
    by: ByQuery = "month",
) -> Response:
    site, _ = place(session, structure_id)
    rows = daily_totals.totals(session, structure_id, *typed.days(), by)
    return listing(request, totals_table(f"{by}-{site.code}", rows))


@router.get("/structures/{structure_id}/duration.json")
@everyone
def duration(session: SessionDep, structure_id: RowId, typed: RangeDep) -> Response:
    place(session, structure_id)
    return fresh_json(daily_totals.duration(session, structure_id, *typed.days()))


@router.get("/structures/{structure_id}/durations.csv")
@router.get("/structures/{structure_id}/durations.json")
@everyone
def duration_list(
    request: Request, session: SessionDep, structure_id: RowId, typed: RangeDep
) -> Response:
    return listing(request, record_lists.durations_table(session, structure_id, *typed.days()))
