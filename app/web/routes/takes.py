"""Limits on what may be taken, the use against each, and what needs attention."""

from typing import Annotated

from fastapi import Query, Request, Response
from fastapi.responses import JSONResponse, RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.language import forms
from app.language.forms import Form
from app.records.database import utc_now
from app.services.days import staleness
from app.services.sites.structures import place
from app.services.takes import calendar as take_calendar
from app.services.takes import capacity as race_capacity
from app.services.takes import limits as take_limits
from app.services.takes import page as take_views
from app.services.takes import use as takes
from app.services.takes.tables import capacity_table, use_lines_table
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import FRESH, listing, page
from app.web.requests import AsOf, FormDep, RowId

router = guarded_router()

LimitQuery = Annotated[int | None, Query(ge=1, le=2**31 - 1)]


@router.get("/takes")
@everyone
def alerts(request: Request, session: SessionDep) -> Response:
    limits = take_limits.limits(session)
    return page(
        request,
        "takes/index.html",
        alerts=take_views.alerts(session),
        limits=limits,
        holding=takes.holding(session, limits),
        stale=staleness.of_structures(session, (line.structure_id for line in limits)),
    )


@router.get("/takes.csv")
@router.get("/takes.json")
@everyone
def alert_list(request: Request, session: SessionDep) -> Response:
    return listing(request, use_lines_table("take-alerts", take_views.alerts(session)))


@router.get("/structures/{structure_id}/takes")
@everyone
def show(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    as_of: AsOf = "",
    limit: LimitQuery = None,
) -> Response:
    return shown(request, session, structure_id, {}, as_of=as_of, limit=limit)


def shown(
    request: Request,
    session: Session,
    structure_id: int,
    form: Form,
    *,
    as_of: str = "",
    limit: int | None = None,
    error: BadInput | None = None,
    capacity_form: Form | None = None,
) -> Response:
    site, structure = place(session, structure_id)
    day = None
    try:
        day = forms.site_day(as_of, "as_of")
    except BadInput as refused:
        error = refused
    return page(
        request,
        "takes/show.html",
        status=422 if error else 200,
        site=site,
        structure=structure,
        kinds=take_limits.KINDS,
        capacities=race_capacity.lines(session, structure_id),
        capacity_kinds=race_capacity.CAPACITY_KINDS,
        capacity_form=capacity_form or {},
        limits=take_limits.limits(session, structure_id),
        use=takes.use(session, structure_id, day),
        heat=take_calendar.calendar(take_views.heat(session, structure_id, day)),
        last_day=takes.last_day(session, structure_id),
        past=take_views.history_of_use(session, structure_id, limit) if limit else [],
        stale=staleness.of_structure(session, structure_id),
        as_of=as_of,
        form=form,
        error=error,
        tab="takes",
    )


@router.get("/structures/{structure_id}/takes.csv")
@router.get("/structures/{structure_id}/takes.json")
@everyone
def use_list(
    request: Request, session: SessionDep, structure_id: RowId, as_of: AsOf = ""
) -> Response:
    site, _ = place(session, structure_id)
    found = takes.use(session, structure_id, forms.site_day(as_of, "as_of"))
    return listing(request, use_lines_table(f"takes-{site.code}", found))


@router.get("/structures/{structure_id}/takes/calendar.json")
@everyone
def calendar(session: SessionDep, structure_id: RowId, as_of: AsOf = "") -> Response:
    place(session, structure_id)
    found = take_views.heat(session, structure_id, forms.site_day(as_of, "as_of"))
    return JSONResponse(found, headers=FRESH)


@router.get("/structures/{structure_id}/race-capacity.csv")
@router.get("/structures/{structure_id}/race-capacity.json")
@everyone
def capacity_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, capacity_table(session, structure_id))


@router.post("/structures/{structure_id}/race-capacity")
@office
def state_capacity(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    structure_id: RowId,
) -> Response:
    try:
        race_capacity.add_capacity(session, structure_id, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return shown(request, session, structure_id, {}, error=error, capacity_form=form)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/takes#race", status_code=303)


@router.post("/structures/{structure_id}/takes")
@office
def add(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    structure_id: RowId,
) -> Response:
    try:
        take_limits.add_limit(session, structure_id, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return shown(request, session, structure_id, form, error=error)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/takes#limits", status_code=303)


@router.post("/structures/{structure_id}/takes/{limit_id}/end")
@office
def end(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    structure_id: RowId,
    limit_id: RowId,
) -> Response:
    try:
        day = forms.site_day(form.get("last_day", ""), "last_day")
        if day is None:
            raise BadInput("last_day", "", "this is needed", "Give the last day it holds.")
        take_limits.end_limit(session, limit_id, day, form.get("reason", ""), person, utc_now())
    except BadInput as error:
        session.rollback()
        return shown(request, session, structure_id, {}, error=error)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/takes#limits", status_code=303)
