"""Take the data out: choose what, period and format, look at the first rows, fetch the file."""

from typing import Annotated

from fastapi import Query, Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.records.database import reading_session, utc_now
from app.records.sites import Site
from app.services.datasets import page as dataset_page
from app.services.datasets.tables import codebook
from app.services.datasets.take import Wish, pieces
from app.services.sites.register import get_site
from app.web.deps import SessionDep
from app.web.guard import by_token, everyone, guarded_router, office
from app.web.render import listing, page, sent_file
from app.web.requests import DayRange, RangeDep, RowId

router = guarded_router()

WhatQuery = Annotated[str, Query(max_length=20)]
FormatQuery = Annotated[str, Query(alias="format", max_length=20)]


def wish_of(typed: DayRange, what: str, form: str, site_id: int | None = None) -> Wish:
    return Wish(what=what, format_key=form, site_id=site_id, first=typed.first, last=typed.last)


@router.get("/codebook.csv")
@router.get("/codebook.json")
@everyone
def codebook_list(request: Request) -> Response:
    return listing(request, codebook())


@router.get("/codebook")
@everyone
def codebook_page(request: Request) -> Response:
    return page(request, "datasets/codebook.html", rows=codebook().rows)


@router.get("/data")
@office
def of_all(
    request: Request,
    session: SessionDep,
    typed: RangeDep,
    what: WhatQuery = "sites",
    form: FormatQuery = "geojson",
) -> Response:
    """Show what can be taken of all sites."""
    wish = wish_of(typed, what, form)
    return shown(request, session, wish, None)


@router.get("/sites/{site_id}/data")
@office
def of_site(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    typed: RangeDep,
    what: WhatQuery = "everything",
    form: FormatQuery = "csv",
) -> Response:
    """Show what can be taken of a site, with the first rows of it."""
    site = get_site(session, site_id)
    wish = wish_of(typed, what, form, site_id)
    return shown(request, session, wish, site)


def shown(request: Request, session: Session, wish: Wish, site: Site | None) -> Response:
    error = None
    try:
        wish = wish.checked()
    except BadInput as fault:
        error = fault
    found = dataset_page.look(session, wish, site, sure=error is None)
    template = "datasets/site.html" if site else "datasets/all.html"
    return page(request, template, site=site, found=found, wish=wish, error=error)


@router.get("/data/file")
@by_token("read")
@office
def file_of_all(
    request: Request,
    typed: RangeDep,
    what: WhatQuery = "sites",
    form: FormatQuery = "geojson",
) -> Response:
    """Send a file of all sites while it is made."""
    wish = wish_of(typed, what, form).checked()
    return sent(request, wish, "")


@router.get("/sites/{site_id}/data/file")
@by_token("read")
@office
def file_of_site(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    typed: RangeDep,
    what: WhatQuery = "everything",
    form: FormatQuery = "csv",
) -> Response:
    """Send a file of a site while it is made."""
    code = get_site(session, site_id).code
    session.close()  # the pieces are read in a session of their own
    wish = Wish(
        what=what, format_key=form, site_id=site_id, first=typed.first, last=typed.last
    ).checked()
    return sent(request, wish, code)


def sent(request: Request, wish: Wish, code: str) -> Response:
    opened = reading_session(request.app.state.engine)
    return sent_file(wish.file_name(code), wish.media_type, pieces(opened, wish, utc_now()))
