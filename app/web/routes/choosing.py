"""Which flume: every family and size for a race and a range of flows, and a plan of one of them."""

from urllib.parse import urlencode

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from app.errors import BadInput
from app.services.install.drawing import pictures
from app.services.plans.choosing import page as choosing_page
from app.services.plans.choosing.form import USUAL, from_form, plan_of, texts
from app.services.plans.choosing.tables import choice_table
from app.services.plans.choosing.wishes import WISHES
from app.services.sites import register as sites
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import listing, page
from app.web.requests import QueryDep, RowId

router = guarded_router()


@router.get("/sites/{site_id}/which-flume.csv")
@router.get("/sites/{site_id}/which-flume.json")
@everyone
def structure_list(
    request: Request, session: SessionDep, typed: QueryDep, site_id: RowId
) -> Response:
    site = sites.get_site(session, site_id)
    rows = choosing_page.rows_by(from_form(typed), typed.get("sort", ""))
    return listing(request, choice_table(f"which-flume-{site.code}", rows))


@router.get("/sites/{site_id}/which-flume/plan")
@everyone
def plan(request: Request, session: SessionDep, typed: QueryDep, site_id: RowId) -> Response:
    sites.get_site(session, site_id)
    try:
        asked = from_form(typed)
        boxes = plan_of(typed, asked, choosing_page.row_of(asked, typed.get("rank", "")))
    except BadInput as error:
        return shown(request, session, typed, site_id, error)
    return RedirectResponse(f"/sites/{site_id}/plans/new?{urlencode(boxes)}", status_code=303)


@router.get("/sites/{site_id}/which-flume")
@everyone
def which(request: Request, session: SessionDep, typed: QueryDep, site_id: RowId) -> Response:
    return shown(request, session, typed, site_id)


def shown(
    request: Request,
    session: SessionDep,
    typed: dict[str, str],
    site_id: int,
    error: BadInput | None = None,
) -> Response:
    site, form, asked = sites.get_site(session, site_id), texts(typed), None
    if not error and "q_min_l_s" in typed:
        try:
            asked = from_form(typed)
            choosing_page.answered(asked)
        except BadInput as refused:
            asked, error = None, refused
    order = typed.get("sort", "")
    order = order if order in choosing_page.SORTS else "rank"
    best = choosing_page.best(asked) if asked else []
    return page(
        request,
        "plans/choosing.html",
        status=422 if error else 200,
        site=site,
        form=form,
        now={},
        error=error,
        wishes=WISHES,
        answer=choosing_page.answered(asked) if asked else None,
        rows=choosing_page.rows_by(asked, order) if asked else [],
        best=[(row, pictures(row["family"], row["dims"], 10 * i)) for i, row in enumerate(best)],
        sorts=choosing_page.SORTS,
        order=order,
        query=urlencode({key: form[key] for key in USUAL if form[key]}),
    )
