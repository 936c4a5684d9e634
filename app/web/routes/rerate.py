"""Rate a site again: look at what changes, then one act, with progress where a script asks."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.language.progress import Progress
from app.records.database import utc_now
from app.services.rerating import act as rerate
from app.services.rerating import readings as reading_changes
from app.services.rerating.tables import answer_table, month_table, reading_table
from app.web.deps import PersonDep, SessionDep
from app.web.guard import guarded_router, office
from app.web.progress import LINES, watched
from app.web.render import ENVIRONMENT, listing, page
from app.web.requests import FormDep, RowId

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
    return page(
        request,
        "rerate/look.html",
        status=422 if error else 200,
        found=rerate.look(session, site_id, utc_now()),
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
def do(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, site_id: RowId
) -> Response:
    token, reason = form.get("token", ""), form.get("reason", "")
    if LINES in request.headers.get("accept", ""):
        new_session = request.app.state.new_session
        session.close()  # the work has its own session; SQLite has one writer

        def work(progress: Progress) -> dict[str, object]:
            with new_session() as own:
                done = rerate.rerate(
                    own, site_id, token, reason, now=utc_now(), by_id=person.id, progress=progress
                )
                progress(1, 1)  # the last moment to cancel
                own.commit()
                template = ENVIRONMENT.get_template("rerate/_done.html")
                return {"html": template.render(found=done, reason=reason, person=person)}

        return watched(work)
    try:
        found = rerate.rerate(session, site_id, token, reason, now=utc_now(), by_id=person.id)
    except BadInput as error:
        session.rollback()
        return looked(request, session, site_id, reason, error)
    if not found.does_anything:
        return RedirectResponse(f"/sites/{site_id}", status_code=303)
    session.commit()
    return page(request, "rerate/done.html", found=found, reason=reason)
