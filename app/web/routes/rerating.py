"""Rate a site again: look at what changes, then one act, with progress where a script asks."""

from typing import Any

from fastapi import Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language.progress import Progress
from app.records.database import utc_now
from app.services.rerating import act as rerate
from app.services.rerating import readings as reading_changes
from app.services.rerating.act import Rerate
from app.services.rerating.tables import answer_table, month_table, reading_table
from app.web.deps import SessionDep
from app.web.guard import guarded_router, office
from app.web.posted import PostedDep
from app.web.progress import in_steps, wants_steps
from app.web.render import listing, page
from app.web.requests import RowId

router = guarded_router()


@router.get("/sites/{site_id}/rate-again")
@office
def look(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return looked(request, session, site_id)


def looked(
    request: Request,
    session: Session,
    site_id: int,
    reason: str = "",
    error: BadInput | None = None,
) -> Response:
    found = rerate.look(session, site_id, utc_now())
    return page(
        request,
        "rerating/look.html",
        site=found.site,
        found=found,
        reason=reason,
        error=error,
    )


@router.get("/sites/{site_id}/rate-again.csv")
@router.get("/sites/{site_id}/rate-again.json")
@office
def readings_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    found = reading_changes.reading_changes(session, site_id, utc_now())
    return listing(request, reading_table(found))


@router.get("/sites/{site_id}/rate-again/months.csv")
@router.get("/sites/{site_id}/rate-again/months.json")
@office
def months_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, month_table(rerate.look(session, site_id, utc_now())))


@router.get("/sites/{site_id}/rate-again/takes.csv")
@router.get("/sites/{site_id}/rate-again/takes.json")
@office
def takes_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, answer_table(rerate.look(session, site_id, utc_now())))


@router.post("/sites/{site_id}/rate-again")
@office
def do(post: PostedDep, site_id: RowId) -> Response:
    request, session = post.request, post.session
    token, reason = post.form.get("token", ""), post.form.get("reason", "")

    def act(own: Session, progress: Progress | None = None) -> Rerate:
        return rerate.rerate(
            own, site_id, token, reason, now=utc_now(), by_id=post.by_id, progress=progress
        )

    def shown(_: Session, done: Rerate) -> dict[str, Any]:
        return {"site": done.site, "found": done, "reason": reason, "person": post.person}

    def then(done: Rerate) -> str | Response:
        if not done.does_anything:
            return f"/sites/{site_id}"
        return page(request, "rerating/done.html", **shown(session, done))

    if wants_steps(request):
        return in_steps(request, session, act, "rerating/_done.html", shown)
    return post.answer(
        lambda: act(session),
        then=then,
        again=lambda error: looked(request, session, site_id, reason, error),
    )
