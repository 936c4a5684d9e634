"""The loggers of a site and their files: lists, those that wait, discarding, taking back."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Annotated

from fastapi import Path, Query, Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language.tables import PAGE_ROWS
from app.records.database import utc_now
from app.records.people import Person
from app.services.loggers import lists as logger_lists
from app.services.loggers import register as loggers
from app.services.loggers import tables as logger_tables
from app.services.loggers import undo as logger_undo
from app.services.loggers import waiting as logger_waiting
from app.services.loggers.uploads import kept_file
from app.services.sites import register as sites
from app.web.deps import SessionDep
from app.web.guard import guarded_router, office
from app.web.posted import Posted, PostedDep
from app.web.render import form_of, listing, page
from app.web.requests import RowId

router = guarded_router()

FileHash = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$")]


@router.get("/sites/{site_id}/loggers")
@office
def index(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return lists(request, session, site_id)


def lists(
    request: Request,
    session: Session,
    site_id: int,
    error: BadInput | None = None,
    undoing: int | None = None,
    acting: str = "",
) -> Response:
    """Answer with all lists of a site; `undoing` and `acting` name the row that the error is of."""
    found = loggers.loggers(session, site_id)
    return page(
        request,
        "loggers/index.html",
        site=sites.get_site(session, site_id),
        structures=sites.structures_of(session, site_id),
        loggers=found,
        waiting=logger_waiting.kept_logger_files(session, site_id),
        discarded=logger_waiting.kept_logger_files(session, site_id, discarded=True),
        imports=logger_lists.imports(session, site_id),
        undoing=undoing,
        acting=acting,
        error=error,
    )


@router.get("/sites/{site_id}/loggers.csv")
@router.get("/sites/{site_id}/loggers.json")
@office
def loggers_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, logger_tables.loggers_table(session, sites.get_site(session, site_id)))


@router.get("/sites/{site_id}/logger-files.csv")
@router.get("/sites/{site_id}/logger-files.json")
@office
def files_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, logger_tables.imports_table(session, sites.get_site(session, site_id)))


@router.get("/sites/{site_id}/logger-files-waiting.csv")
@router.get("/sites/{site_id}/logger-files-waiting.json")
@office
def waiting_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, logger_tables.waiting_table(session, sites.get_site(session, site_id)))


@router.post("/sites/{site_id}/loggers/files/{sha256}/discard")
@office
def discard(post: PostedDep, site_id: RowId, sha256: FileHash) -> Response:
    return set_aside(post, site_id, sha256, logger_waiting.discard)


@router.post("/sites/{site_id}/loggers/files/{sha256}/take-up")
@office
def take_up(post: PostedDep, site_id: RowId, sha256: FileHash) -> Response:
    return set_aside(post, site_id, sha256, logger_waiting.take_up)


def set_aside(
    post: Posted,
    site_id: int,
    sha256: str,
    act: Callable[[Session, int, str, str, Person, datetime], None],
) -> Response:
    sites.get_site(post.session, site_id)
    kept_file(post.session, sha256)
    why = post.form.get("reason", "")
    return post.answer(
        lambda: act(post.session, site_id, sha256, why, post.person, utc_now()),
        then=lambda _: f"/sites/{site_id}/loggers#waiting",
        again=lambda error: lists(post.request, post.session, site_id, error, acting=sha256),
    )


@router.post("/sites/{site_id}/loggers/imports/{import_id}/undo")
@office
def undo(post: PostedDep, site_id: RowId, import_id: RowId) -> Response:
    why = post.form.get("reason", "")
    return post.answer(
        lambda: logger_undo.undo_import(post.session, import_id, post.person, utc_now(), why),
        then=lambda _: f"/sites/{site_id}/loggers#imports",
        again=lambda error: lists(post.request, post.session, site_id, error, undoing=import_id),
    )


@router.get("/sites/{site_id}/loggers/{logger_id}/conflicts")
@office
def conflicts(request: Request, session: SessionDep, site_id: RowId, logger_id: RowId) -> Response:
    logger = loggers.get_logger(session, logger_id, site_id)
    return page(
        request,
        "loggers/conflicts.html",
        site=sites.get_site(session, site_id),
        logger=logger,
        found=logger_lists.conflicts(session, logger_id),
    )


@router.get("/sites/{site_id}/loggers/{logger_id}/conflicts.csv")
@router.get("/sites/{site_id}/loggers/{logger_id}/conflicts.json")
@office
def conflicts_list(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    logger_id: RowId,
    skip: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
) -> Response:
    """List what differs: as CSV whole, as JSON in pages of which each names the next."""
    site = sites.get_site(session, site_id)
    loggers.get_logger(session, logger_id, site_id)
    if form_of(request) != "json":
        return listing(request, logger_tables.conflicts_table(session, site, logger_id))
    size = PAGE_ROWS
    table = logger_tables.conflicts_table(session, site, logger_id, size + 1, skip)
    after = f"{request.url.path}?skip={skip + size}" if len(table.rows) > size else None
    return listing(request, replace(table, rows=table.rows[:size]), after=after)
