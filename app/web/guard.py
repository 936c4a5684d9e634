"""Who may call what: every route says so, a route that does not is refused.

`Guard` answers for the browser (headers, cross-site requests), `GuardedRoute` for the person.
The person is looked up before a body is read, so a signed-out client learns nothing from errors.
"""

from collections.abc import Callable, Coroutine
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.errors import BadInput
from app.records.database import reading_session, utc_now
from app.records.people import Person
from app.services.sites import accounts
from app.web.api.bearer import bearer_of, note, person_of_token, scope_of
from app.web.bodies import BodyMeter, Endpoint, allowed_to
from app.web.render import page, wants_html

CSP = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "connect-src 'self'",
        "font-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "content-security-policy": CSP,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}
SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}


def public(endpoint: Endpoint) -> Endpoint:
    """Let anybody call this route."""
    endpoint.__access__ = frozenset()  # type: ignore[attr-defined]
    return endpoint


def allow(*roles: str) -> Callable[[Endpoint], Endpoint]:
    """Let people with one of these roles call this route."""

    def mark(endpoint: Endpoint) -> Endpoint:
        endpoint.__access__ = frozenset(roles)  # type: ignore[attr-defined]
        return endpoint

    return mark


everyone = allow("crew", "office", "steward")
office = allow("office", "steward")
steward = allow("steward")


def cookie_name(https: bool) -> str:
    # The prefix makes browsers insist on Secure, Path=/ and no Domain.
    return "__Host-sillbook" if https else "sillbook"


def by_token(scope: str) -> Callable[[Endpoint], Endpoint]:
    """Let a script with an access token of this scope call this route too.

    Every list (`.csv`, `.json` and its description) is open to a token that reads without a mark.
    """

    def mark(endpoint: Endpoint) -> Endpoint:
        endpoint.__by_token__ = scope  # type: ignore[attr-defined]
        return endpoint

    return mark


def find_person(request: Request) -> Person | None:
    """Return who is signed in, renewing the sign-in now and then."""
    token = request.cookies.get(cookie_name(request.app.state.settings.https))
    if not token:
        return None
    now = utc_now()
    with reading_session(request.app.state.engine) as session:
        found = accounts.person_of(session, token, now)
        if found is None:
            return None
        person, due = found
        session.expunge(person)
    if due:
        note(request, lambda session: accounts.renew(session, token, now))
    return person


def refusal(request: Request, status: int, error: BadInput) -> Response:
    if status == 401 and wants_html(request):
        return page(
            request, "people/sign_in.html", status=401, error=None, name="", next=own_path(request)
        )
    if wants_html(request):
        return page(request, "error.html", status=status, error=error)
    return JSONResponse(error.as_dict(), status_code=status)


def own_path(request: Request) -> str:
    query = request.url.query
    return request.url.path + (f"?{query}" if query else "")


class GuardedRoute(APIRoute):
    """A route that checks its `__access__` mark before anything else happens."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handle = super().get_route_handler()
        access: frozenset[str] | None = getattr(self.endpoint, "__access__", None)
        needed = scope_of(self)

        async def guarded(request: Request) -> Response:
            shown = bearer_of(request)
            if shown is None:
                request.state.person = await run_in_threadpool(find_person, request)
            else:
                found = await run_in_threadpool(person_of_token, request, shown, needed)
                if isinstance(found, Response):
                    return found
                request.state.person = found
            if access is None:
                return refusal(
                    request,
                    403,
                    BadInput("page", request.url.path, "nobody may open it", "Tell a steward."),
                )
            if access and request.state.person is None:
                return refusal(
                    request,
                    401,
                    BadInput("session", "", "nobody is signed in", "Sign in and try again."),
                )
            if access and request.state.person.role not in access:
                return refusal(
                    request,
                    403,
                    BadInput(
                        "role",
                        request.state.person.role,
                        f"this is for {' or '.join(sorted(access))}",
                        "Ask somebody of that role, or a steward.",
                    ),
                )
            if request.state.person is not None:
                request.scope["body_meter"].allow(*allowed_to(self.endpoint))
            try:
                return await handle(request)
            except HTTPException as error:
                if error.status_code != 400:
                    raise
                raise request.scope["body_meter"].words_for(error) from None

        return guarded


def guarded_router() -> APIRouter:
    return APIRouter(route_class=GuardedRoute)


class Guard:
    """Pure ASGI: security headers on every answer, bodies metered, no writes from other sites.

    The check rests on Sec-Fetch-Site, or Origin where a browser is too old to send it. There are
    no form tokens, because cached field pages would carry stale ones.
    """

    def __init__(self, app: ASGIApp, hosts: tuple[str, ...] = (), https: bool = False) -> None:
        self.app = app
        self.hosts = set(hosts)
        headers = dict(HEADERS)
        if https:
            headers["strict-transport-security"] = "max-age=31536000"
        self.headers = [(name.encode(), value.encode()) for name, value in headers.items()]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        asked_head = scope["method"] == "HEAD"
        if asked_head:
            scope = {**scope, "method": "GET"}  # what a GET would say, without its body

        headers = dict(scope["headers"])
        meter = BodyMeter(receive, headers.get(b"content-length", b""))
        scope["body_meter"] = meter
        receive = meter.receive

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                meter.answered = True
                message["headers"] = [*message["headers"], *self.headers]
            elif asked_head:
                message = {**message, "body": b""}
            await send(message)

        if scope["method"] not in SAFE_METHODS and not self.same_site(headers):
            error = BadInput(
                "origin",
                "",
                "a write must come from Sillbook's own pages",
                "Open Sillbook itself and try again there.",
            )
            answer = JSONResponse(error.as_dict(), status_code=403)
            await answer(scope, receive, with_headers)
            return
        await self.app(scope, receive, with_headers)

    def same_site(self, headers: dict[bytes, bytes]) -> bool:
        site = headers.get(b"sec-fetch-site")
        if site is not None:
            return site in (b"same-origin", b"none")
        origin = headers.get(b"origin")
        if origin is None:
            # No browser: a browser that writes across sites always sends one of the two.
            return b"referer" not in headers or self.own_host(headers[b"referer"], headers)
        return self.own_host(origin, headers)

    def own_host(self, address: bytes, headers: dict[bytes, bytes]) -> bool:
        host = address.decode("latin-1").split("://", 1)[-1].split("/", 1)[0]
        hosts = self.hosts or {headers.get(b"host", b"").decode("latin-1")}
        return host in hosts
