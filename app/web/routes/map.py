"""The map of sites on a plain grid, and the lines of one's own that are drawn on it."""

from typing import Annotated

from fastapi import Depends, Query, Request, Response
from sqlmodel import Session
from starlette.datastructures import UploadFile

from app.errors import BadInput
from app.language.forms import Form
from app.records.database import utc_now
from app.services.map import drawing, lines
from app.services.map import page as map_page
from app.services.map.geojson import LARGEST_LINES
from app.web.bodies import FORM_AROUND, largest
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep, answer
from app.web.render import listing, page
from app.web.requests import RowId

router = guarded_router()

SiteIdQuery = Annotated[str, Query(max_length=10)]


async def brought(request: Request) -> tuple[dict[str, str], str, bytes]:
    """Return name and file of the form that brings a line."""
    async with request.form(max_files=1, max_fields=5) as form:
        file = form.get("file")
        typed = {"name": name if isinstance(name := form.get("name"), str) else ""}
        if not isinstance(file, UploadFile):
            return typed, "", b""
        return typed, file.filename or "", await file.read()


BroughtDep = Annotated[tuple[dict[str, str], str, bytes], Depends(brought)]


@router.get("/map")
@everyone
def show(
    request: Request, session: SessionDep, one: SiteIdQuery = "", other: SiteIdQuery = ""
) -> Response:
    return shown(request, session, one, other)


def shown(
    request: Request,
    session: Session,
    one: str = "",
    other: str = "",
    *,
    error: BadInput | None = None,
    form: Form | None = None,
    taking_off: int | None = None,
) -> Response:
    """Answer with the map; `taking_off` is the line whose form the error is of."""
    now = utc_now()
    try:
        found = map_page.map_page(session, now, site_id(one, "from"), site_id(other, "to"))
    except BadInput as refused:
        error = refused
        found = map_page.map_page(session, now, None, None)
    return page(
        request,
        "map/show.html",
        status=422 if error else 200,
        found=found,
        legend=drawing.LEGEND,
        length=drawing.words_of,
        one=one,
        other=other,
        form=form or {},
        taking_off=taking_off,
        error=error,
    )


def site_id(typed: str, field: str) -> int | None:
    """Return the site that was chosen, None for none; raises BadInput."""
    if not typed:
        return None
    if not (typed.isascii() and typed.isdigit() and len(typed) < 10):
        raise BadInput(field, typed, "there is no such site", "Choose one of the list.")
    return int(typed)


@router.get("/map.csv")
@router.get("/map.json")
@everyone
def site_list(request: Request, session: SessionDep) -> Response:
    return listing(request, map_page.sites_table(session, utc_now()))


@router.get("/map/lines.csv")
@router.get("/map/lines.json")
@everyone
def line_list(request: Request, session: SessionDep) -> Response:
    return listing(request, map_page.lines_table(session))


@router.post("/map/lines")
@office
@largest(LARGEST_LINES + FORM_AROUND, "Simplify the line before the export.")
def bring(request: Request, session: SessionDep, person: PersonDep, file: BroughtDep) -> Response:
    form, name, content = file

    def act() -> object:
        if not name and not content:
            raise BadInput("file", "", "no file was chosen", "Choose a GeoJSON file.")
        return lines.add_lines(session, form, name, content, person, utc_now())

    return answer(
        request,
        session,
        act,
        then=lambda _: "/map#lines",
        again=lambda error: shown(request, session, error=error, form=form),
    )


@router.post("/map/lines/{line_id}/take-off")
@office
def take_off(post: PostedDep, line_id: RowId) -> Response:
    return post.answer(
        lambda: lines.take_off(post.session, line_id, post.form, post.person, utc_now()),
        then=lambda _: "/map#lines",
        again=lambda error: shown(
            post.request, post.session, error=error, form=post.form, taking_off=line_id
        ),
    )
