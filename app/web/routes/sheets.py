"""Sheets of paper of a site: which there are, and each as a page that prints."""

from typing import Annotated

from fastapi import Query, Request, Response
from fastapi.responses import HTMLResponse

from app.records.database import utc_now
from app.services.sheets.make import SHEETS, printed, sheet_of
from app.services.sheets.parts import PAPERS
from app.services.sites.register import get_site
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import fresh, page
from app.web.requests import RangeDep, RowId

router = guarded_router()


@router.get("/sites/{site_id}/sheets")
@everyone
def sheets_page(request: Request, session: SessionDep, site_id: RowId) -> Response:
    site = get_site(session, site_id)
    return page(request, "sheets/index.html", site=site, sheets=SHEETS, papers=PAPERS)


@router.get("/sites/{site_id}/sheets/{what}")
@everyone
def one_sheet(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    site_id: RowId,
    what: str,
    typed: RangeDep,
    paper: Annotated[str, Query(max_length=20)] = "a4",
) -> Response:
    """Show a sheet; the browser prints it."""
    site = get_site(session, site_id)
    sheet = sheet_of(session, site, what, typed.first, typed.last, by=person.name, now=utc_now())
    text = printed(session, sheet, paper, alone=False, version=request.app.state.version)
    return HTMLResponse(text, headers=fresh())
