"""Lists of the pages of the long record, and of single readings, gaugings, plans: .csv, .json."""

from typing import Annotated

from fastapi import Query, Request, Response

from app.language import forms
from app.services.lists import export as record_lists
from app.services.lists import page as page_lists
from app.services.sites.structures import place
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import listing
from app.web.requests import AsOf, EntryId, RowId
from app.web.routes.history import FromQuery, ToQuery

router = guarded_router()

LimitId = Annotated[int, Query(ge=1, le=2**31 - 1)]


@router.get("/structures/{structure_id}/corrections.csv")
@router.get("/structures/{structure_id}/corrections.json")
@everyone
def corrections(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.layers_table(session, structure_id))


@router.get("/structures/{structure_id}/corrections-offered.csv")
@router.get("/structures/{structure_id}/corrections-offered.json")
@everyone
def offers(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.offers_table(session, structure_id))


@router.get("/structures/{structure_id}/staff-minus-sensor.csv")
@router.get("/structures/{structure_id}/staff-minus-sensor.json")
@everyone
def checks(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.checks_table(session, structure_id))


@router.get("/structures/{structure_id}/months.csv")
@router.get("/structures/{structure_id}/months.json")
@office
def months(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.months_table(session, structure_id))


@router.get("/structures/{structure_id}/take-limits.csv")
@router.get("/structures/{structure_id}/take-limits.json")
@everyone
def limits(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.limits_table(session, structure_id))


@router.get("/structures/{structure_id}/take-periods.csv")
@router.get("/structures/{structure_id}/take-periods.json")
@everyone
def periods(request: Request, session: SessionDep, structure_id: RowId, limit: LimitId) -> Response:
    return listing(request, record_lists.periods_table(session, structure_id, limit))


@router.get("/structures/{structure_id}/take-calendar.csv")
@router.get("/structures/{structure_id}/take-calendar.json")
@everyone
def calendar(
    request: Request, session: SessionDep, structure_id: RowId, as_of: AsOf = ""
) -> Response:
    place(session, structure_id)
    day = forms.site_day(as_of, "as_of")
    return listing(request, record_lists.calendar_table(session, structure_id, day))


@router.get("/structures/{structure_id}/durations.csv")
@router.get("/structures/{structure_id}/durations.json")
@everyone
def durations(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    first: FromQuery = "",
    last: ToQuery = "",
) -> Response:
    days = forms.site_day(first, "from"), forms.site_day(last, "to")
    return listing(request, record_lists.durations_table(session, structure_id, *days))


@router.get("/structures/{structure_id}/corners.csv")
@router.get("/structures/{structure_id}/corners.json")
@everyone
def corners(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, page_lists.trends_table(session, structure_id))


@router.get("/readings/{entry_id}/values.csv")
@router.get("/readings/{entry_id}/values.json")
@everyone
def values(request: Request, session: SessionDep, entry_id: EntryId) -> Response:
    return listing(request, page_lists.values_table(session, entry_id))


@router.get("/readings/{entry_id}/steps.csv")
@router.get("/readings/{entry_id}/steps.json")
@everyone
def steps(request: Request, session: SessionDep, entry_id: EntryId) -> Response:
    return listing(request, page_lists.steps_table(session, entry_id))


@router.get("/check-gaugings/{entry_id}/observed.csv")
@router.get("/check-gaugings/{entry_id}/observed.json")
@everyone
def observed(request: Request, session: SessionDep, entry_id: EntryId) -> Response:
    return listing(request, page_lists.observed_table(session, entry_id))


@router.get("/plans/{plan_id}/candidates.csv")
@router.get("/plans/{plan_id}/candidates.json")
@everyone
def candidates(request: Request, session: SessionDep, plan_id: RowId) -> Response:
    return listing(request, page_lists.candidates_table(session, plan_id))
