"""Signing in and out, and the steward's list of people."""

from typing import Annotated

from fastapi import Form, Request, Response
from fastapi.responses import JSONResponse, RedirectResponse

from app.errors import BadInput
from app.records.database import utc_now
from app.records.people import ROLES
from app.services.sites import accounts
from app.services.sites.tables import people_table
from app.services.sync.accept import PROTOCOL
from app.web.deps import PersonDep, SessionDep
from app.web.guard import cookie_name, guarded_router, public, steward
from app.web.render import listing, page, wants_html
from app.web.requests import RowId

router = guarded_router()


def local_path(path: str) -> str:
    """Return a path on this server, whatever was asked for."""
    return path if path.startswith("/") and not path.startswith(("//", "/\\")) else "/"


@router.get("/sign-in")
@public
def sign_in_form(request: Request, next: str = "/") -> Response:
    return page(request, "people/sign_in.html", error=None, name="", next=local_path(next))


@router.post("/sign-in")
@public
def sign_in(
    request: Request,
    session: SessionDep,
    name: Annotated[str, Form()] = "",
    password: Annotated[str, Form()] = "",
    next: Annotated[str, Form()] = "/",
) -> Response:
    address = request.client.host if request.client else ""
    try:
        token = accounts.sign_in(session, name, password, address, utc_now())
    except BadInput as error:
        wait = isinstance(error, accounts.TooManyAttempts)
        answer = page(
            request,
            "people/sign_in.html",
            status=429 if wait else 422,
            error=error,
            name=name,
            next=local_path(next),
        )
        if isinstance(error, accounts.TooManyAttempts):
            answer.headers["retry-after"] = str(error.wait_s)
        return answer
    https = request.app.state.settings.https
    if earlier := request.cookies.get(cookie_name(https)):
        accounts.sign_out(session, earlier)  # one browser is signed in once
    answer_ok = RedirectResponse(local_path(next), status_code=303)
    answer_ok.set_cookie(
        cookie_name(https),
        token,
        max_age=accounts.SIGN_IN_DAYS * 86_400,
        path="/",
        secure=https,
        httponly=True,
        samesite="lax",
    )
    return answer_ok


@router.post("/sign-out")
@public
def sign_out(request: Request, session: SessionDep, of: str = "") -> Response:
    """End this browser's sign-in; with `of` only the one of that mark, and answer in JSON.

    A phone sends a sign-out that it made without signal with `of`: when somebody has signed in
    since, that sign-in stays.
    """
    name = cookie_name(request.app.state.settings.https)
    token = request.cookies.get(name)
    other = bool(token and of and accounts.sign_in_mark(token) != of)
    if token and not other:
        accounts.sign_out(session, token)
    answer: Response = (
        RedirectResponse("/sign-in", status_code=303)
        if wants_html(request)
        else JSONResponse({"protocol": PROTOCOL, "signed_out": True})
    )
    if not other:
        https = request.app.state.settings.https
        answer.delete_cookie(name, path="/", secure=https, httponly=True)
    return answer


@router.get("/people.csv")
@router.get("/people.json")
@steward
def people_list(request: Request, session: SessionDep) -> Response:
    return listing(request, people_table(session))


@router.get("/people")
@steward
def people_page(request: Request, session: SessionDep) -> Response:
    return show_people(request, session)


def show_people(
    request: Request, session: SessionDep, error: BadInput | None = None, name: str = ""
) -> Response:
    return page(
        request,
        "people/index.html",
        status=422 if error else 200,
        people=accounts.people(session),
        roles=ROLES,
        error=error,
        name=name,
    )


@router.post("/people")
@steward
def add_person(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    name: Annotated[str, Form()] = "",
    role: Annotated[str, Form()] = "",
    password: Annotated[str, Form()] = "",
) -> Response:
    try:
        accounts.add_person(session, name, role, password, by_id=person.id)
    except BadInput as error:
        return show_people(request, session, error, name)
    session.commit()
    return RedirectResponse("/people", status_code=303)


@router.post("/people/{person_id}")
@steward
def change_person(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    person_id: RowId,
    role: Annotated[str, Form()] = "",
    active: Annotated[bool, Form()] = False,
    password: Annotated[str, Form()] = "",
) -> Response:
    assert person.id is not None
    try:
        accounts.change_person(
            session, person_id, by_id=person.id, role=role, active=active, password=password
        )
    except BadInput as error:
        session.rollback()
        return show_people(request, session, error)
    session.commit()
    return RedirectResponse("/people", status_code=303)
