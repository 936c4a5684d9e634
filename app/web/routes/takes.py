"""Limits on what may be taken, the use against each, and what needs attention."""

from typing import Annotated

from fastapi import Query, Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language import forms
from app.language.forms import Form
from app.records.database import utc_now
from app.services.days import staleness
from app.services.lists import export as record_lists
from app.services.sites.structures import place
from app.services.takes import calendar as take_calendar
from app.services.takes import capacity as race_capacity
from app.services.takes import limits as take_limits
from app.services.takes import page as take_views
from app.services.takes import use as takes
from app.services.takes.tables import capacity_table, use_lines_table
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep
from app.web.render import fresh_json, listing, page
from app.web.requests import AsOfDep, DayQuery, RowId, RowQuery, else_usual

router = guarded_router()

LimitId = Annotated[int, Query(ge=1, le=2**31 - 1)]


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
    return listing(request, use_lines_table("takes", take_views.alerts(session)))


@router.get("/structures/{structure_id}/takes")
@everyone
def show(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    as_of: DayQuery = "",
    limit: RowQuery = None,
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
    end_form: Form | None = None,
) -> Response:
    site, structure = place(session, structure_id)
    day, unread = else_usual(lambda: forms.site_day(as_of, "as_of"), lambda: None)
    return page(
        request,
        "takes/show.html",
        site=site,
        structure=structure,
        kinds=take_limits.LIMIT_KINDS,
        capacities=race_capacity.lines(session, structure_id),
        capacity_kinds=race_capacity.CAPACITY_KINDS,
        capacity_form=capacity_form or {},
        end_form=end_form or {},
        limits=take_limits.limits(session, structure_id),
        use=takes.use(session, structure_id, day),
        heat=take_calendar.calendar(take_views.heat(session, structure_id, day)),
        last_day=takes.last_day(session, structure_id),
        past=take_views.history_of_use(session, structure_id, limit) if limit else [],
        stale=staleness.of_structure(session, structure_id),
        as_of=as_of,
        form=form,
        error=unread or error,
    )


@router.get("/structures/{structure_id}/takes.csv")
@router.get("/structures/{structure_id}/takes.json")
@everyone
def use_list(request: Request, session: SessionDep, structure_id: RowId, day: AsOfDep) -> Response:
    site, _ = place(session, structure_id)
    found = takes.use(session, structure_id, day)
    return listing(request, use_lines_table(f"takes-{site.code}", found))


@router.get("/structures/{structure_id}/takes/calendar.json")
@everyone
def calendar(session: SessionDep, structure_id: RowId, day: AsOfDep) -> Response:
    place(session, structure_id)
    found = take_views.heat(session, structure_id, day)
    return fresh_json(found)


@router.get("/structures/{structure_id}/race-capacity.csv")
@router.get("/structures/{structure_id}/race-capacity.json")
@everyone
def capacity_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, capacity_table(session, structure_id))


@router.post("/structures/{structure_id}/race-capacity")
@office
def state_capacity(post: PostedDep, structure_id: RowId) -> Response:
    return post.answer(
        lambda: race_capacity.add_capacity(
            post.session, structure_id, post.form, post.person, utc_now()
        ),
        then=lambda _: f"/structures/{structure_id}/takes#race",
        again=lambda error: shown(
            post.request, post.session, structure_id, {}, error=error, capacity_form=post.form
        ),
    )


@router.post("/structures/{structure_id}/takes")
@office
def add(post: PostedDep, structure_id: RowId) -> Response:
    return post.answer(
        lambda: take_limits.add_limit(
            post.session, structure_id, post.form, post.person, utc_now()
        ),
        then=lambda _: f"/structures/{structure_id}/takes#limits",
        again=lambda error: shown(post.request, post.session, structure_id, post.form, error=error),
    )


@router.post("/structures/{structure_id}/takes/{limit_id}/end")
@office
def end(post: PostedDep, structure_id: RowId, limit_id: RowId) -> Response:
    def act() -> None:
        take_limits.end_limit(post.session, limit_id, post.form, post.person, utc_now())

    return post.answer(
        act,
        then=lambda _: f"/structures/{structure_id}/takes#limits",
        again=lambda error: shown(
            post.request,
            post.session,
            structure_id,
            {},
            error=error,
            end_form={**post.form, "of": str(limit_id)},
        ),
    )


@router.get("/structures/{structure_id}/take-limits.csv")
@router.get("/structures/{structure_id}/take-limits.json")
@everyone
def limit_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.limits_table(session, structure_id))


@router.get("/structures/{structure_id}/take-periods.csv")
@router.get("/structures/{structure_id}/take-periods.json")
@everyone
def period_list(
    request: Request, session: SessionDep, structure_id: RowId, limit: LimitId
) -> Response:
    return listing(request, record_lists.periods_table(session, structure_id, limit))


@router.get("/structures/{structure_id}/take-calendar.csv")
@router.get("/structures/{structure_id}/take-calendar.json")
@everyone
def calendar_list(
    request: Request, session: SessionDep, structure_id: RowId, day: AsOfDep
) -> Response:
    place(session, structure_id)
    return listing(request, record_lists.calendar_table(session, structure_id, day))
