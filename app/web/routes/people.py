"""Signing in and out, and the steward's list of people."""

from fastapi import Request, Response
from fastapi.responses import JSONResponse, RedirectResponse

from app.errors import BadInput
from app.language import forms
from app.records.database import utc_now
from app.records.people import ROLES
from app.services.sites import accounts
from app.services.sites.tables import people_table
from app.services.sync.accept import PROTOCOL
from app.web.deps import SessionDep
from app.web.guard import cookie_name, guarded_router, public, steward
from app.web.posted import PostedDep, answer
from app.web.render import listing, page, wants_html
from app.web.requests import FormDep, RowId

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
def sign_in(request: Request, session: SessionDep, form: FormDep) -> Response:
    name, going = form.get("name", ""), local_path(form.get("next", "/"))
    address = request.client.host if request.client else ""

    def then(token: str) -> Response:
        https = request.app.state.settings.https
        if earlier := request.cookies.get(cookie_name(https)):
            accounts.sign_out(session, earlier)  # one browser is signed in once
        welcome = RedirectResponse(going, status_code=303)
        welcome.set_cookie(
            cookie_name(https),
            token,
            max_age=accounts.SIGN_IN_DAYS * 86_400,
            path="/",
            secure=https,
            httponly=True,
            samesite="lax",
        )
        return welcome

    return answer(
        request,
        session,
        lambda: accounts.sign_in(session, name, form.get("password", ""), address, utc_now()),
        then=then,
        again=lambda error: page(
            request, "people/sign_in.html", error=error, name=name, next=going
        ),
    )


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
        people=accounts.people(session),
        roles=ROLES,
        error=error,
        name=name,
    )


@router.post("/people")
@steward
def add_person(post: PostedDep) -> Response:
    name, form = post.form.get("name", ""), post.form
    return post.answer(
        lambda: accounts.add_person(
            post.session,
            name,
            form.get("role", ""),
            form.get("password", ""),
            by_id=post.by_id,
        ),
        then=lambda _: "/people",
        again=lambda error: show_people(post.request, post.session, error, name),
    )


@router.post("/people/{person_id}")
@steward
def change_person(post: PostedDep, person_id: RowId) -> Response:
    form = post.form
    return post.answer(
        lambda: accounts.change_person(
            post.session,
            person_id,
            by_id=post.by_id,
            role=form.get("role", ""),
            active=forms.ticked(form, "active"),
            password=form.get("password", ""),
        ),
        then=lambda _: "/people",
        again=lambda error: show_people(post.request, post.session, error),
    )
