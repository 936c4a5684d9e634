"""A script shows an access token instead of signing in: `Authorization: Bearer …` (RFC 6750).

It opens every list, and what is marked `by_token`; pages are for people who sign in. A request
with a token needs no cookie, and one that it carries does not count.
"""

from collections.abc import Callable

from fastapi import Request, Response
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from sqlmodel import Session

from app.errors import BadInput
from app.records.database import reading_session, utc_now
from app.records.people import Person
from app.records.trouble import trouble_of
from app.services.sites import tokens


def scope_of(route: APIRoute) -> str | None:
    """Return what a token must be allowed for a route, None where none opens it."""
    marked: str | None = getattr(route.endpoint, "__by_token__", None)
    listed = route.path.endswith((".csv", ".json")) and "GET" in (route.methods or ())
    return marked or ("read" if listed else None)


def bearer_of(request: Request) -> str | None:
    """Return the access token that a request shows (RFC 6750, 2.1), None without one."""
    kind, _, text = request.headers.get("authorization", "").partition(" ")
    return text.strip() if kind.lower() == "bearer" else None


def person_of_token(request: Request, text: str, needed: str | None) -> Person | Response:
    """Return whom a token stands for, or why it does not open this address."""
    now = utc_now()
    with reading_session(request.app.state.engine) as session:
        found = tokens.person_of(session, text, now)
        if found is None:
            error = BadInput("token", text[: tokens.SHOWN],
                             "no such access token, or it has ended or was revoked",
                             "Make a new one on the page “Access tokens”.")  # fmt: skip
            return not_opened(401, error, "invalid_token")
        person, one = found
        session.expunge_all()
    if needed is None or (needed == "write" and one.scope != "write"):
        rule = ("a token opens lists (.csv, .json), exports and POST /sync only" if needed is None
                else "this token may only read")  # fmt: skip
        remedy = "Sign in for pages." if needed is None else "Make one that may write."
        return not_opened(403, BadInput("token", one.begins, rule, remedy), "insufficient_scope")
    if tokens.use_is_due(one, now):
        note(request, lambda session: tokens.note_use(session, one.id or 0, now))
    return person


def not_opened(status: int, error: BadInput, code: str) -> Response:
    said = {"www-authenticate": f'Bearer realm="Sillbook", error="{code}"'}
    return JSONResponse(error.as_dict(), status_code=status, headers=said)


def note(request: Request, write: Callable[[Session], None]) -> None:
    """Write down that somebody is here; where the database cannot now, the next time."""
    try:
        with request.app.state.new_session() as session:
            write(session)
    except Exception as error:
        if trouble_of(error) is None:
            raise  # else it is noted next time: what only looks must open now
