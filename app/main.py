"""The application: the only place where everything is wired together."""

import hashlib
import logging
import sqlite3
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.staticfiles import StaticFiles
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError
from sqlmodel import Session
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Scope

from app import __version__
from app.errors import BadInput, NotAllowed, NotFound, TooLarge
from app.paths import STATIC, TEMPLATES
from app.records.database import migrate, open_engine
from app.records.trouble import trouble_of
from app.services.entries.bodies.base import rule_of
from app.services.readings import rate as rating
from app.services.upkeep import backup
from app.settings import Settings
from app.web import guard
from app.web.routers import ROUTERS

log = logging.getLogger("sillbook")
COMPRESSION = 6  # of a long CSV level 9 leaves a tenth less, for some five times the work


def shell_version() -> str:
    """Return a hash over all templates and static files: the name of one consistent release."""
    digest = hashlib.sha256()
    for root in (TEMPLATES, STATIC):
        for path in sorted(p for p in root.rglob("*") if p.is_file()):
            digest.update(path.relative_to(root).as_posix().encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


class FreshFiles(StaticFiles):
    """Static files that browsers ask about again: a phone on plain HTTP must not mix releases."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        answer = await super().get_response(path, scope)
        answer.headers["cache-control"] = "no-cache"
        return answer


class Guarded(FastAPI):
    """The application behind its guard, which sees every answer, that of a crash too."""

    def build_middleware_stack(self) -> ASGIApp:
        settings: Settings = self.state.settings
        # Compressed inside the guard. Nothing secret stands in a page beside what a request says:
        # the session is a cookie that no page repeats, and forms prove themselves by their origin.
        packed = GZipMiddleware(super().build_middleware_stack(), compresslevel=COMPRESSION)
        return guard.Guard(packed, settings.hosts, settings.https)


def create_app(settings: Settings) -> FastAPI:
    """Return the application for these settings; the database is brought up to date first."""
    app = assembled()
    open_data(app, settings)
    return app


def open_data(app: FastAPI, settings: Settings) -> None:
    """Give an assembled application its settings and its data, brought up to date."""
    if settings.database_url.startswith("sqlite"):
        settings.data_dir.mkdir(parents=True, exist_ok=True)
    migrate(settings.database_url)
    app.state.settings = settings
    app.state.engine = open_engine(settings.database_url)
    backup.ensure_epoch(app.state.engine)
    app.state.new_session = partial(Session, app.state.engine, expire_on_commit=False)
    app.state.version = shell_version()
    with app.state.new_session() as session:
        rating.rate_missing(session)  # what a crash left stored but not rated


def assembled() -> FastAPI:
    """Return the application with every address and answer, without data."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        yield
        app.state.engine.dispose()

    app = Guarded(
        title="Sillbook",
        version=__version__,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
    )
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", FreshFiles(directory=STATIC), name="static")
    kinds = ((BadInput, 422), (TooLarge, 413), (NotFound, 404), (NotAllowed, 403))
    for kind, status in kinds:
        app.add_exception_handler(kind, partial(answer_error, status))
    app.add_exception_handler(RequestValidationError, answer_invalid)
    app.add_exception_handler(HTTPException, answer_http)
    app.add_exception_handler(DataError, answer_too_large)
    app.add_exception_handler(OverflowError, answer_too_large)
    app.add_exception_handler(IntegrityError, answer_clash)
    for trouble in (DBAPIError, sqlite3.OperationalError):
        app.add_exception_handler(trouble, answer_trouble)
    app.add_exception_handler(Exception, answer_crash)
    return app


def answer_error(status: int, request: Request, error: Exception) -> Response:
    if not isinstance(error, BadInput):
        rule = "it is not here" if status == 404 else str(error)
        error = BadInput(
            "address", request.url.path, rule, "Go back to the list of sites and open it there."
        )
    return guard.refusal(request, status, error)


def answer_invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    field = ".".join(str(part) for part in first["loc"][1:]) or "form"
    value = str(first.get("input", ""))[:200]
    return guard.refusal(
        request, 422, BadInput(field, value, rule_of(first), "Correct the field and send again.")
    )


def answer_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 404:  # a file or page that never was reads as a record that is gone
        return answer_error(404, request, error)
    bad = BadInput("address", request.url.path, str(error.detail), "Check the address.")
    return guard.refusal(request, error.status_code, bad)


def answer_too_large(request: Request, error: Exception) -> Response:
    """Say that a figure is beyond what the database holds; the engines word it differently."""
    bad = BadInput(
        "figure",
        "",
        "a number or text in this request is beyond what can be kept",
        "Check the figures and ids and send again.",
    )
    return guard.refusal(request, 422, bad)


def answer_clash(request: Request, error: Exception) -> Response:
    """Answer two people who made the same thing at once: the second is told."""
    log.warning("clash on %s %s", request.method, request.url.path, exc_info=error)
    bad = BadInput(
        "form",
        "",
        "it clashes with what was stored in the meantime",
        "Nothing was changed. Load the page again, look, and save again if it is still needed.",
    )
    return guard.refusal(request, 409, bad)


def answer_trouble(request: Request, error: Exception) -> Response:
    """Answer a full, busy or absent database: 507 or 503, and when to try again."""
    trouble = trouble_of(error)
    if trouble is None:
        raise error  # a fault of ours: `answer_crash`
    log.warning("%s on %s %s", trouble.error.rule, request.method, request.url.path)
    answer = guard.refusal(request, trouble.status, trouble.error)
    answer.headers["retry-after"] = str(trouble.retry_after_s)
    return answer


def answer_crash(request: Request, error: Exception) -> Response:
    log.error("failed on %s %s", request.method, request.url.path, exc_info=error)
    bad = BadInput(
        "server",
        "",
        "the server failed on this request",
        "Nothing that was saved is lost. Try again, then tell a steward the time it happened.",
    )
    return guard.refusal(request, 500, bad)
