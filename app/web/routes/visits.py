"""Visits: the due list, the sheet for a round, the visits of a site, one visit, the plan."""

from typing import Annotated

from fastapi import Query, Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import Form
from app.records.database import utc_now
from app.records.people import Person
from app.services.sites import accounts
from app.services.sites import register as sites
from app.services.sync.page import may_correct
from app.services.visits import done as visits_done
from app.services.visits import due_list as visits_due
from app.services.visits import page as visit_pages
from app.services.visits import plans as visit_plans
from app.services.visits import round_sheet
from app.services.visits import tables as visit_tables
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep
from app.web.render import listing, page
from app.web.requests import EntryId, RowId, WordsQuery

router = guarded_router()

PageNumber = Annotated[int, Query(ge=1, le=100_000, alias="page")]
ROWS = 50
VISIT_ROWS = 15


@router.get("/visits.csv")
@router.get("/visits.json")
@everyone
def due_list(
    request: Request,
    session: SessionDep,
    person: WordsQuery = "",
    round: WordsQuery = "",
    state: WordsQuery = "",
    q: WordsQuery = "",
) -> Response:
    found = visits_due.due_list(session, utc_now())
    chosen = visits_due.chosen(found, person=person, round_=round, state=state, words=q)
    return listing(request, visit_tables.due_table(chosen))


@router.get("/visits")
@everyone
def index(
    request: Request,
    session: SessionDep,
    person: WordsQuery = "",
    round: WordsQuery = "",
    state: WordsQuery = "",
    q: WordsQuery = "",
    number: PageNumber = 1,
) -> Response:
    found = visits_due.due_list(session, utc_now())
    chosen = visits_due.chosen(found, person=person, round_=round, state=state, words=q)
    return page(
        request,
        "visits/index.html",
        counts=visits_due.counts(found),
        lines=chosen[(number - 1) * ROWS : number * ROWS],
        total=len(chosen),
        all=len(found),
        number=number,
        pages=-(-len(chosen) // ROWS),
        people=active(session),
        rounds=visits_due.rounds(found),
        asked={"person": person, "round": round, "state": state, "q": q},
    )


@router.get("/visits/round")
@everyone
def round_to_print(
    request: Request,
    session: SessionDep,
    person: WordsQuery = "",
    round: WordsQuery = "",
    whole: WordsQuery = "",
) -> Response:
    now = utc_now()
    found = visits_due.due_list(session, now)
    chosen = visits_due.chosen(found, person=person, round_=round)
    lines = round_sheet.of_round(chosen, whole=whole == "yes")
    named = {str(p.id): p.name for p in accounts.people(session)}
    return page(
        request,
        "visits/round.html",
        stops=round_sheet.stops(session, lines, now),
        left_out=len(chosen) - len(lines),
        until=round_sheet.until(now),
        now=now,
        cautions=round_sheet.ROUND_CAUTIONS,
        people=active(session),
        named=named.get(person, ""),
        rounds=visits_due.rounds(found),
        asked={"person": person, "round": round, "whole": whole},
    )


def active(session: Session) -> list[Person]:
    return [person for person in accounts.people(session) if person.active]


@router.get("/visits/{entry_id}/entries.csv")
@router.get("/visits/{entry_id}/entries.json")
@everyone
def within_list(request: Request, session: SessionDep, entry_id: EntryId) -> Response:
    view = visits_done.visit_view(session, entry_id)
    return listing(request, visit_tables.within_table(session, view))


@router.get("/visits/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, person: PersonDep, entry_id: EntryId) -> Response:
    found = visit_pages.visit_page(session, entry_id)
    return page(
        request,
        "visits/show.html",
        found=found,
        view=found.view,
        site=found.view.site,
        rows=visit_tables.within_rows(found.view),
        may_correct=may_correct(person, found.view.entry),
    )


@router.get("/sites/{site_id}/visits.csv")
@router.get("/sites/{site_id}/visits.json")
@everyone
def visits_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    site = sites.get_site(session, site_id)
    found = visits_done.visits(session, [site]).get(site_id, [])
    return listing(request, visit_tables.visits_table(site.code, found))


@router.get("/sites/{site_id}/visit-plans.csv")
@router.get("/sites/{site_id}/visit-plans.json")
@everyone
def plans_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, visit_tables.plans_table(session, site_id))


@router.get("/sites/{site_id}/visits")
@everyone
def of_site(
    request: Request, session: SessionDep, site_id: RowId, number: PageNumber = 1
) -> Response:
    return shown(request, session, site_id, number)


@router.post("/sites/{site_id}/visit-plans")
@office
def plan(post: PostedDep, site_id: RowId) -> Response:
    return post.answer(
        lambda: visit_plans.add_plan(post.session, site_id, post.form, post.person, utc_now()),
        then=lambda _: f"/sites/{site_id}/visits#plan",
        again=lambda error: shown(post.request, post.session, site_id, 1, post.form, error),
    )


def shown(
    request: Request,
    session: Session,
    site_id: int,
    number: int,
    form: Form | None = None,
    error: BadInput | None = None,
) -> Response:
    site = sites.get_site(session, site_id)
    found = visits_done.visits(session, [site]).get(site_id, [])
    plans = visit_plans.plan_lines(session, site_id)
    lines = visits_due.due_list(session, utc_now())
    return page(
        request,
        "visits/site.html",
        site=site,
        line=next(line for line in lines if line.site.id == site_id),
        found=found[(number - 1) * VISIT_ROWS : number * VISIT_ROWS],
        total=len(found),
        number=number,
        pages=-(-len(found) // VISIT_ROWS),
        plans=plans,
        people=active(session),
        form=form or visit_plans.form_of(session, plans[0].row if plans else None),
        error=error,
        now={},
    )
