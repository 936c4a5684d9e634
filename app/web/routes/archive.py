"""The whole archive: take everything out, and take it into a database with nothing on record."""

from collections.abc import AsyncIterator
from typing import IO, Annotated

from fastapi import Depends, Request, Response
from sqlmodel import Session
from starlette.datastructures import UploadFile

from app.errors import BadInput
from app.records.database import utc_now
from app.services.archive import out, take_in
from app.web.bodies import FORM_AROUND, largest
from app.web.deps import PersonDep, SessionDep
from app.web.guard import by_token, guarded_router, steward
from app.web.posted import answer
from app.web.render import page, sent_file

router = guarded_router()

MOST_UPLOADED = 2 * 1024**3
BY_VERB = "Take a larger one in on the server: sillbook archive in FILE --data NEW-FOLDER."


async def uploaded(request: Request) -> AsyncIterator[IO[bytes]]:
    """Give the one file of a form; it waits on the disk, not in memory."""
    async with request.form(max_files=1, max_fields=5) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.size:
            raise BadInput("file", "", "no file was chosen", "Choose an archive, a .zip.")
        yield file.file


UploadDep = Annotated[IO[bytes], Depends(uploaded)]


@router.get("/archive")
@steward
def index(request: Request, session: SessionDep) -> Response:
    return shown(request, session)


def shown(request: Request, session: Session, error: BadInput | None = None) -> Response:
    return page(
        request,
        "archive/index.html",
        empty=take_in.occupied(session) is None,
        came_from=take_in.taken_in(session),
        error=error,
    )


@router.get("/archive.zip")
@steward
@by_token("read")
def take_out(request: Request) -> Response:
    """Send everything on record as one zip, made while it is sent."""
    now = utc_now()
    name = f"sillbook-{now:%Y-%m-%d}.zip"
    return sent_file(name, "application/zip", out.blocks(request.app.state.engine, now))


@router.post("/archive")
@steward
@largest(MOST_UPLOADED + FORM_AROUND, BY_VERB)
def take_archive_in(
    request: Request, session: SessionDep, person: PersonDep, file: UploadDep
) -> Response:
    name = person.name
    return answer(
        request,
        session,
        lambda: take_in.take_in(session, file, utc_now(), name),
        # nobody is signed in any more: the page has no one's name at its top
        then=lambda done: page(request, "archive/done.html", done=done, person=None),
        again=lambda error: shown(request, session, error),
    )
