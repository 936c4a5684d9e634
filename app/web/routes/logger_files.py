"""One logger file: upload, a look at what it holds, the questions it asks, taking it in."""

from contextlib import suppress
from typing import Annotated, Any

from fastapi import Depends, Request, Response
from sqlmodel import Session
from starlette.datastructures import UploadFile

from app.errors import BadInput
from app.language.forms import Form
from app.language.progress import Progress
from app.records.database import utc_now
from app.records.files import KeptFile
from app.records.people import Person
from app.services.entries.kept_files import LARGEST, LOGGER_FILE, TOO_LARGE
from app.services.loggers import register as loggers
from app.services.loggers import take_in as logger_imports
from app.services.loggers import waiting as logger_waiting
from app.services.loggers.asking import answers as logger_answers
from app.services.loggers.asking import boxes as logger_boxes
from app.services.loggers.preview import preview_import
from app.services.loggers.results import ImportPreview, ImportResult
from app.services.loggers.uploads import keep_upload, kept_file
from app.services.loggers.waiting import KeptLine
from app.services.sites import register as sites
from app.web.bodies import FORM_AROUND, largest
from app.web.deps import PersonDep, SessionDep
from app.web.guard import guarded_router, office
from app.web.posted import PostedDep, answer
from app.web.progress import in_steps, wants_steps
from app.web.render import page
from app.web.requests import QueryDep, RowId
from app.web.routes.loggers import FileHash, lists

router = guarded_router()

SHOWN = {
    "seen", "asked", "asked_m", "logger", "clock_fast_s", "clock_shape", "name", "serial",
    "structure_id", "quantity", "reads", "restart_at", "accept_dates",
}  # fmt: skip
SCALE = ("zero_", "per_unit_")


async def uploaded(request: Request) -> tuple[str, bytes]:
    """Return name and bytes of the one file of a form; its size is the route's."""
    async with request.form(max_files=1, max_fields=5) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            raise BadInput("file", "", "no file was chosen", "Choose a logger file.")
        return file.filename or "logger file", await file.read()


UploadDep = Annotated[tuple[str, bytes], Depends(uploaded)]


@router.post("/sites/{site_id}/loggers/files")
@office
@largest(LARGEST[LOGGER_FILE] + FORM_AROUND, TOO_LARGE[LOGGER_FILE])
def upload(
    request: Request, session: SessionDep, person: PersonDep, site_id: RowId, file: UploadDep
) -> Response:
    sites.get_site(session, site_id)
    return answer(
        request,
        session,
        lambda: keep_upload(session, person, site_id, *file, utc_now()),
        then=lambda sha256: f"/sites/{site_id}/loggers/files/{sha256}",
        again=lambda error: lists(request, session, site_id, error),
    )


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
    """Answer with what the file holds, as the answers in the form read it.

    Answers that it cannot be read by stay in their boxes, beside what is understood without them.
    """
    site = sites.get_site(session, site_id)
    kept = kept_file(session, sha256)
    said = logger_waiting.said_of(session, site_id, sha256)
    form = with_what_was_said(form, said)
    found: ImportPreview | None = None
    chosen = token = ""
    read = False
    try:
        found = previewed(session, site_id, kept, form, logger_answers.answers_of(form))
        chosen = logger_answers.logger_choice(form, found.logger, found.logger_candidates)
        token = logger_answers.seen_token({**form, "logger": chosen})
        read = True
    except BadInput as refused:
        error = error or refused
        with suppress(BadInput):  # what cannot be read at all is said above already
            found = previewed(session, site_id, kept, {}, {})
            chosen = logger_answers.logger_choice(form, found.logger, found.logger_candidates)
    boxes = []
    if found:
        boxes = logger_boxes.answer_boxes(found.guesses, form, found.answered, found.remembered)
    if found and not read:
        boxes += logger_boxes.unread_boxes(form, {box.name for box in boxes} | SHOWN)
    shown = {box.name for box in boxes} | SHOWN
    return page(
        request,
        "loggers/look.html",
        site=site,
        structures=sites.structures_of(session, site_id),
        reads=loggers.READS,
        kept=kept,
        said=said,
        found=found,
        read=read,
        boxes=boxes,
        left=[(k, v) for k, v in form.items() if v and k not in shown and not k.startswith(SCALE)],
        scaled=logger_boxes.scaled_columns(
            form, found.choices if found else None, found.guesses if found else ()
        ),
        scales=(found.choices.get("columns") or {}) if found else {},
        resets=logger_boxes.reset_rows(found.problems) if found else [],
        form=form,
        chosen=chosen,
        token=token,
        error=error,
    )


def with_what_was_said(form: Form, said: KeptLine | None) -> Form:
    """Return the form with what the phone said of the file, where the form does not say it."""
    if said is None:
        return form
    more = {}
    if said.clock_fast_s and "clock_fast_s" not in form:
        more["clock_fast_s"] = f"{said.clock_fast_s:.0f}"
    if said.structure_id and "structure_id" not in form:
        more["structure_id"] = str(said.structure_id)
    return {**form, **more}


def previewed(
    session: Session, site_id: int, kept: KeptFile, form: Form, answers: dict[str, Any]
) -> ImportPreview:
    return preview_import(
        session,
        site_id,
        kept.content,
        kept.name,
        logger_id=logger_answers.logger_id(form),
        new=form.get("logger", "").strip() == "new",
        reads=form.get("reads", ""),
        answers=answers,
        clock_fast_s=logger_answers.clock_fast_s(form),
        clock_shape=form.get("clock_shape") or "linear",
    )


@router.post("/sites/{site_id}/loggers/files/{sha256}")
@office
def take_in(post: PostedDep, site_id: RowId, sha256: FileHash) -> Response:
    """Take the file in as it was looked at; in steps with progress when a script asks so."""
    request, session, person, form = post.request, post.session, post.person, post.form
    site = sites.get_site(session, site_id)

    def again(error: BadInput) -> Response:
        return looked(request, session, site_id, sha256, form, error)

    def act(own: Session, progress: Progress | None = None) -> ImportResult:
        return imported(own, person, form, site_id, sha256, progress)

    def shown(own: Session, done: ImportResult) -> dict[str, Any]:
        return {"done": done, "site": site, "structure_id": structure_of(own, done)}

    def ready(_: None) -> Response:
        if wants_steps(request):
            return in_steps(request, session, act, "loggers/_result.html", shown)
        return post.answer(
            lambda: act(session),
            then=lambda done: page(request, "loggers/done.html", **shown(session, done)),
            again=again,
        )

    return post.answer(
        lambda: as_it_was_looked_at(session, form, site_id, sha256), then=ready, again=again
    )


def as_it_was_looked_at(session: Session, form: Form, site_id: int, sha256: str) -> None:
    """Refuse what differs from what the person saw: answers, or a file that was discarded.

    Raises
    ------
    BadInput
        When an answer cannot be read, the file was discarded, or an answer was changed.
    """
    logger_answers.new_logger(form)
    token = logger_answers.seen_token(form)
    said = logger_waiting.said_of(session, site_id, sha256)
    if said is not None and said.discarded:
        raise BadInput(
            "file", "", f"{said.act_by} discarded it: {said.reason}", "Take it up again first."
        )
    if form.get("seen") != token:
        raise BadInput(
            "answers",
            "",
            "they were changed after the look",
            "Look at the rows below, then import.",
        )


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
