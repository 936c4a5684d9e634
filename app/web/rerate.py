"""Rate a site again: look at what changes, then do it."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from app.errors import BadInput
from app.records.database import utc_now
from app.services import rerate
from app.web.deps import PersonDep, SessionDep
from app.web.forms import FormDep, RowId
from app.web.guard import guarded_router, office
from app.web.render import listing, page

router = guarded_router()


@router.get("/sites/{site_id}/rate-again")
@office
def look(request: Request, session: SessionDep, site_id: RowId) -> Response:
    found = rerate.look(session, site_id, utc_now())
    return page(request, "rerate/look.html", found=found, reason="", error=None)


@router.get("/sites/{site_id}/rate-again.csv")
@router.get("/sites/{site_id}/rate-again.json")
@office
def look_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, rerate.rerate_table(rerate.look(session, site_id, utc_now())))


@router.post("/sites/{site_id}/rate-again")
@office
def do(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, site_id: RowId
) -> Response:
    token, reason = form.get("token", ""), form.get("reason", "")
    try:
        found = rerate.rerate(session, site_id, token, reason, utc_now(), person.id)
    except BadInput as error:
        session.rollback()
        found = rerate.look(session, site_id, utc_now())
        return page(
            request, "rerate/look.html", status=422, found=found, reason=reason, error=error
        )
    if not found.rows:
        return RedirectResponse(f"/sites/{site_id}", status_code=303)
    session.commit()
    return page(request, "rerate/done.html", found=found, reason=reason)
