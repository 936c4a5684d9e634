"""Signing in and out, one's own password, and the steward's pages of people."""

from collections.abc import Callable

from fastapi import Request, Response
from fastapi.responses import JSONResponse, RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.language import forms
from app.records.database import utc_now
from app.records.people import ROLES, Person
from app.services.review import trail
from app.services.sites import accounts, people
from app.services.sites.tables import people_table, token_table
from app.services.sync.accept import PROTOCOL
from app.web.deps import SessionDep
from app.web.guard import cookie_name, everyone, guarded_router, public, steward
from app.web.posted import PostedDep, answer
from app.web.render import listing, page, wants_html
from app.web.requests import FormDep, RowId

router = guarded_router()

SECRET = frozenset({"password", "again", "present"})


def local_path(path: str) -> str:
    """Return a path on this server, whatever was asked for."""
    return path if path.startswith("/") and not path.startswith(("//", "/\\")) else "/"


def address_of(request: Request) -> str:
    """Return where a request comes from, for the throttle of tries."""
    return request.client.host if request.client else ""


@router.get("/sign-in")
@public
def sign_in_form(request: Request, next: str = "/") -> Response:
    return page(request, "people/sign_in.html", error=None, name="", next=local_path(next))


@router.post("/sign-in")
@public
def sign_in(request: Request, session: SessionDep, form: FormDep) -> Response:
    name, going = form.get("name", ""), local_path(form.get("next", "/"))
    address = address_of(request)

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
    request: Request,
    session: SessionDep,
    error: BadInput | None = None,
    form: dict[str, str] | None = None,
) -> Response:
    return page(
        request,
        "people/index.html",
        people=accounts.people(session),
        roles=ROLES,
        error=error,
        form=form or {"role": "crew"},
    )


@router.post("/people")
@steward
def add_person(post: PostedDep) -> Response:
    form = post.form
    return post.answer(
        lambda: accounts.add_person(
            post.session,
            form.get("name", ""),
            form.get("role", ""),
            form.get("password", ""),
            by_id=post.by_id,
        ),
        then=lambda _: "/people",
        again=lambda error: show_people(post.request, post.session, error, without_secrets(form)),
    )


def without_secrets(form: dict[str, str]) -> dict[str, str]:
    """Return what was typed without the passwords: a page never holds one."""
    return {key: value for key, value in form.items() if key not in SECRET}


@router.get("/people/{person_id}")
@steward
def person_page(request: Request, session: SessionDep, person_id: RowId) -> Response:
    return show_person(request, session, person_id)


def show_person(
    request: Request,
    session: SessionDep,
    person_id: int,
    error: BadInput | None = None,
    form: dict[str, str] | None = None,
) -> Response:
    found = people.standing(session, person_id, utc_now())
    lines = trail.audit(session, subject=people.SUBJECT, limit=trail.MOST)
    return page(
        request,
        "people/show.html",
        found=found,
        lines=[line for line in lines if line.subject_id == str(person_id)],
        listed=token_table(session, person_id, utc_now()).rows,
        roles=ROLES,
        error=error,
        form={"name": found.of.name, "role": found.of.role, **without_secrets(form or {})},
    )


def done(post: PostedDep, person_id: int, act: Callable[[Session, int], Person]) -> Response:
    """Do one act about a person and go back to their page."""
    return post.answer(
        lambda: act(post.session, person_id),
        then=lambda _: f"/people/{person_id}",
        again=lambda error: show_person(post.request, post.session, person_id, error, post.form),
    )


@router.post("/people/{person_id}")
@steward
def change_person(post: PostedDep, person_id: RowId) -> Response:
    """Change role, standing and password at once; the page has a form for each."""
    form = post.form

    def act(session: Session, key: int) -> Person:
        return people.change_person(
            session,
            key,
            by_id=post.by_id,
            role=form.get("role", ""),
            active=forms.ticked(form, "active"),
            password=form.get("password", ""),
        )

    return done(post, person_id, act)


@router.post("/people/{person_id}/role")
@steward
def change_role(post: PostedDep, person_id: RowId) -> Response:
    role = post.form.get("role", "")
    return done(post, person_id, lambda s, key: people.change_role(s, key, role, post.by_id))


@router.post("/people/{person_id}/name")
@steward
def rename(post: PostedDep, person_id: RowId) -> Response:
    name = post.form.get("name", "")
    return done(post, person_id, lambda s, key: people.rename(s, key, name, post.by_id))


@router.post("/people/{person_id}/password")
@steward
def set_password(post: PostedDep, person_id: RowId) -> Response:
    new = post.form.get("password", "")
    return done(post, person_id, lambda s, key: people.set_password(s, key, new, post.by_id))


@router.post("/people/{person_id}/retire")
@steward
def retire(post: PostedDep, person_id: RowId) -> Response:
    return done(post, person_id, _with_reason(post, people.retire))


@router.post("/people/{person_id}/restore")
@steward
def take_back(post: PostedDep, person_id: RowId) -> Response:
    return done(post, person_id, _with_reason(post, people.take_back))


def _with_reason(
    post: PostedDep, act: Callable[[Session, int, int | None, str], Person]
) -> Callable[[Session, int], Person]:
    """Let an act on a person have the reason of the form, where one is given."""

    def acted(session: Session, key: int) -> Person:
        return act(session, key, post.by_id, forms.text(post.form, "reason", most=4000))

    return acted


@router.get("/own-password")
@everyone
def own_password_page(request: Request, changed: str = "") -> Response:
    return page(request, "people/own_password.html", changed=changed == "yes", form={})


@router.post("/own-password")
@everyone
def change_own_password(post: PostedDep) -> Response:
    request = post.request
    token = request.cookies.get(cookie_name(request.app.state.settings.https), "")
    return post.answer(
        lambda: people.change_own_password(
            post.session,
            post.by_id,
            post.form,
            token=token,
            address=address_of(request),
            now=utc_now(),
        ),
        then=lambda _: "/own-password?changed=yes",
        again=lambda error: page(
            request, "people/own_password.html", changed=False, form={}, error=error
        ),
    )
