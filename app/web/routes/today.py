"""The first page of the office: what needs a person, and every site at a glance."""

from typing import Annotated

from fastapi import Query, Request, Response

from app.errors import BadInput
from app.records.database import utc_now
from app.services.today import board, find, sources, tables, zeros
from app.services.today.lines import Look
from app.web.deps import SessionDep
from app.web.guard import guarded_router, office
from app.web.render import listing, page, wants_part

router = guarded_router()

FindQuery = Annotated[str, Query(alias="find", max_length=80)]
WordQuery = Annotated[str, Query(max_length=40)]
PageQuery = Annotated[str, Query(alias="page", max_length=40)]


@router.get("/today")
@office
def show(
    request: Request,
    session: SessionDep,
    words: FindQuery = "",
    state: WordQuery = "",
    sort: WordQuery = "name",
    number: PageQuery = "1",
) -> Response:
    """Answer with the page, or with its sites alone where htmx asks for them."""
    error = None
    try:
        asked = find.asked_of(words, state, sort, number)
    except BadInput as refused:
        error, asked = refused, find.Asked(find=words)
    now = utc_now()
    rows = board.board(session, now)
    kept = find.found(rows, asked)
    part = wants_part(request)
    return page(
        request,
        "today/_sites.html" if part else "today/show.html",
        status=422 if error else 200,
        asked=asked,
        part=find.part(kept, asked.page),
        all_sites=len(rows),
        states=find.STATES,
        sorts=find.SORTS,
        lines=[] if part else sources.work(Look(session=session, now=now, rows=rows)),
        now=now,
        error=error,
    )


@router.get("/today.csv")
@router.get("/today.json")
@office
def site_list(
    request: Request,
    session: SessionDep,
    words: FindQuery = "",
    state: WordQuery = "",
    sort: WordQuery = "name",
) -> Response:
    """List every site that the page lists under the same filter, without its pages."""
    asked = find.asked_of(words, state, sort, "1")
    rows = board.board(session, utc_now())
    return listing(request, tables.sites_table(find.found(rows, asked)))


@router.get("/today/work.csv")
@router.get("/today/work.json")
@office
def work_list(request: Request, session: SessionDep) -> Response:
    now = utc_now()
    look = Look(session=session, now=now, rows=board.board(session, now))
    return listing(request, tables.work_table(sources.work(look)))


@router.get("/today/levels")
@office
def levels(request: Request, session: SessionDep) -> Response:
    now = utc_now()
    return page(request, "today/levels.html", lines=zeros.zeros_due(session, now), now=now)


@router.get("/today/levels.csv")
@router.get("/today/levels.json")
@office
def level_list(request: Request, session: SessionDep) -> Response:
    return listing(request, tables.zeros_table(session, utc_now()))
