"""Photos and logger files by the hash of their bytes."""

from typing import Annotated

from fastapi import Depends, Request, Response
from fastapi.responses import JSONResponse

from app.errors import BadInput
from app.records.database import utc_now
from app.services.entries import kept_files
from app.services.sync.accept import PROTOCOL
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router

router = guarded_router()


async def body_bytes(request: Request, kind: str = "photo") -> bytes:
    """Read a file, cut at what its kind may hold."""
    if kind not in kept_files.LARGEST:
        known = ", ".join(kept_files.LARGEST)
        raise BadInput("kind", kind[:20], "not a kind of file", f"Use one of {known}.")
    meter = request.scope["body_meter"]
    meter.allow(kept_files.LARGEST[kind], kept_files.TOO_LARGE[kind])
    return await request.body()


@router.put("/kept/{sha256}")
@everyone
def put_file(
    session: SessionDep,
    person: PersonDep,
    sha256: str,
    content: Annotated[bytes, Depends(body_bytes)],
    kind: str = "photo",
    name: str = "",
) -> Response:
    state = kept_files.keep(
        session, person, kind, name=name, sent_sha256=sha256, content=content, received_at=utc_now()
    )
    return JSONResponse({"protocol": PROTOCOL, "sha256": sha256, "state": state})


@router.get("/kept/{sha256}")
@everyone
def get_file(session: SessionDep, sha256: str) -> Response:
    found = kept_files.kept(session, sha256)
    shown = "inline" if found.media_type == "image/jpeg" else "attachment"
    return Response(
        found.content,
        media_type=found.media_type,
        headers={
            "cache-control": "private, max-age=31536000, immutable",
            "content-disposition": f'{shown}; filename="{sha256[:12]}"',
        },
    )
