"""Logger files: upload, look, take in, take back; and those that phones have sent."""

from typing import Annotated

from fastapi import Depends, Path, Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session
from starlette.datastructures import UploadFile

from app.errors import BadInput
from app.records.database import utc_now
from app.records.people import Person
from app.services import logger_answers, logger_imports, logger_lists, logger_undo, loggers, sites
from app.services.forms import Form
from app.services.logger_results import ImportPreview, ImportResult
from app.services.logger_uploads import LARGEST, keep_upload, kept_file
from app.web.deps import PersonDep, SessionDep
from app.web.forms import FormDep, QueryDep, RowId
from app.web.guard import guarded_router, office
from app.web.progress import LINES, Progress, watched
from app.web.render import ENVIRONMENT, page

router = guarded_router()

FileHash = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$")]


async def uploaded(request: Request) -> tuple[str, bytes]:
    """Return name and bytes of the one file of a form; refused by its length before it is read."""
    length = request.headers.get("content-length", "")
    if not length.isdigit() or int(length) > LARGEST:
        raise BadInput("file", f"{length} bytes", "too large, or of unknown length", "Split it.")
    async with request.form(max_files=1, max_fields=5) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            raise BadInput("file", "", "no file was chosen", "Choose a logger file.")
        return file.filename or "logger file", await file.read()


UploadDep = Annotated[tuple[str, bytes], Depends(uploaded)]


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
) -> Response:
    found = loggers.loggers(session, site_id)
    return page(
        request,
        "loggers/index.html",
        status=422 if error else 200,
        site=sites.get_site(session, site_id),
        structures=sites.structures_of(session, site_id),
        loggers=found,
        waiting=logger_lists.kept_logger_files(session, site_id),
        imports=logger_lists.imports(session, site_id),
        undoing=undoing,
        error=error,
    )


@router.post("/sites/{site_id}/loggers/files")
@office
def upload(
    request: Request, session: SessionDep, person: PersonDep, site_id: RowId, file: UploadDep
) -> Response:
    sites.get_site(session, site_id)
    try:
        sha256 = keep_upload(session, person, *file, utc_now())
    except BadInput as error:
        session.rollback()
        return lists(request, session, site_id, error)
    session.commit()
    return RedirectResponse(f"/sites/{site_id}/loggers/files/{sha256}", status_code=303)


@router.get("/sites/{site_id}/loggers/files/{sha256}")
@office
def look(
    request: Request, session: SessionDep, site_id: RowId, sha256: FileHash, asked: QueryDep
) -> Response:
    return looked(request, session, site_id, sha256, asked)


def looked(
    request: Request,
    session: Session,
    site_id: int,
    sha256: str,
    form: Form,
    error: BadInput | None = None,
) -> Response:
    """Answer with what the file holds, as the answers in the form read it."""
    site = sites.get_site(session, site_id)
    kept = kept_file(session, sha256)
    sent = next(
        (x for x in logger_lists.kept_logger_files(session, site_id) if x.sha256 == sha256), None
    )
    found: ImportPreview | None = None
    chosen = ""
    token = ""
    try:
        found = logger_imports.preview_import(
            session,
            site_id,
            kept.content,
            kept.name,
            logger_id=logger_answers.logger_id(form),
            answers=logger_answers.answers_of(form),
            clock_fast_s=logger_answers.clock_fast_s(form),
            clock_shape=form.get("clock_shape") or "linear",
        )
        chosen = logger_answers.logger_choice(form, found.logger, found.logger_candidates)
        token = logger_answers.seen_token({**form, "logger": chosen})
    except BadInput as refused:
        error = error or refused
    return page(
        request,
        "loggers/look.html",
        status=422 if error else 200,
        site=site,
        structures=sites.structures_of(session, site_id),
        reads=loggers.READS,
        kept=kept,
        sent=sent,
        found=found,
        boxes=logger_answers.answer_boxes(found.guesses, form) if found else [],
        scaled=logger_answers.scaled_columns(form),
        resets=logger_answers.reset_rows(found.problems) if found else [],
        form=form,
        chosen=chosen,
        token=token,
        error=error,
    )


@router.post("/sites/{site_id}/loggers/files/{sha256}")
@office
def take_in(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    site_id: RowId,
    sha256: FileHash,
) -> Response:
    """Take the file in as it was looked at; in steps with progress when a script asks so."""
    try:
        logger_answers.new_logger(form)
        token = logger_answers.seen_token(form)
    except BadInput as error:
        return looked(request, session, site_id, sha256, form, error)
    if form.get("seen") != token:
        changed = BadInput(
            "answers",
            "",
            "they were changed after the look",
            "Look at the rows below, then import.",
        )
        return looked(request, session, site_id, sha256, form, changed)
    site = sites.get_site(session, site_id)
    if LINES in request.headers.get("accept", ""):
        new_session = request.app.state.new_session
        session.close()  # the work has its own session; SQLite has one writer

        def work(progress: Progress) -> dict[str, object]:
            with new_session() as own:
                done = imported(own, person, form, site_id, sha256, progress)
                progress(1, 1)  # the last moment to cancel
                own.commit()
                template = ENVIRONMENT.get_template("loggers/_result.html")
                structure_id = structure_of(own, done)
                return {"html": template.render(done=done, site=site, structure_id=structure_id)}

        return watched(work)
    try:
        done = imported(session, person, form, site_id, sha256, None)
    except BadInput as error:
        session.rollback()
        return looked(request, session, site_id, sha256, form, error)
    session.commit()
    structure_id = structure_of(session, done)
    return page(request, "loggers/done.html", done=done, site=site, structure_id=structure_id)


def structure_of(session: Session, done: ImportResult) -> int | None:
    """Return the structure whose record a file went into."""
    if done.logger_id is None:
        return None
    return loggers.get_logger(session, done.logger_id).structure_id


def imported(
    session: Session,
    person: Person,
    form: Form,
    site_id: int,
    sha256: str,
    progress: Progress | None,
) -> ImportResult:
    kept = kept_file(session, sha256)
    return logger_imports.do_import(
        session,
        site_id,
        kept.content,
        kept.name,
        person,
        utc_now(),
        logger_id=logger_answers.logger_id(form),
        new_logger=logger_answers.new_logger(form),
        answers=logger_answers.answers_of(form),
        clock_fast_s=logger_answers.clock_fast_s(form),
        clock_shape=form.get("clock_shape") or "linear",
        progress=progress,
    )


@router.post("/sites/{site_id}/loggers/imports/{import_id}/undo")
@office
def undo(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    site_id: RowId,
    import_id: RowId,
) -> Response:
    try:
        logger_undo.undo_import(session, import_id, person, utc_now(), form.get("reason", ""))
    except BadInput as error:
        session.rollback()
        return lists(request, session, site_id, error, undoing=import_id)
    session.commit()
    return RedirectResponse(f"/sites/{site_id}/loggers#imports", status_code=303)


@router.get("/sites/{site_id}/loggers/{logger_id}/conflicts")
@office
def conflicts(request: Request, session: SessionDep, site_id: RowId, logger_id: RowId) -> Response:
    logger = loggers.get_logger(session, logger_id)
    return page(
        request,
        "loggers/conflicts.html",
        site=sites.get_site(session, site_id),
        logger=logger,
        found=logger_lists.conflicts(session, logger_id),
    )
