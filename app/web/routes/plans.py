"""Plans of a site: the list, the form, one plan with its pictures, and the choice."""

from fastapi import Request, Response

from app.errors import BadInput
from app.language import forms
from app.records.database import utc_now
from app.services.lists import page as page_lists
from app.services.plans import inputs as plan_inputs
from app.services.plans import make as planning
from app.services.plans import page as plan_page
from app.services.plans.tables import plan_table, pond_table, upstream_table
from app.services.sites import register as sites
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep
from app.web.render import fresh_json, listing, page
from app.web.requests import QueryDep, RowId

router = guarded_router()
CHOOSE_FIELDS = ("candidate", "reason", "structure_name", "structure_id")


@router.get("/sites/{site_id}/plans.csv")
@router.get("/sites/{site_id}/plans.json")
@everyone
def plan_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, plan_table(session, site_id))


@router.get("/sites/{site_id}/plans")
@everyone
def index(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return page(
        request,
        "plans/index.html",
        site=sites.get_site(session, site_id),
        plans=planning.plans(session, site_id),
    )


@router.get("/sites/{site_id}/plans/new")
@everyone
def new(request: Request, session: SessionDep, typed: QueryDep, site_id: RowId) -> Response:
    like = typed.get("like", "")
    like_id = int(like) if like.isascii() and like.isdigit() and len(like) < 10 else None
    form = planning.new_form(session, site_id, like_id)
    given = {key: value for key, value in typed.items() if key in form}
    return plan_form(request, session, site_id, form | given)


@router.post("/sites/{site_id}/plans")
@everyone
def add(post: PostedDep, site_id: RowId) -> Response:
    return post.answer(
        lambda: planning.add_plan(post.session, site_id, post.form, post.by_id),
        then=lambda plan: f"/plans/{plan.id}",
        again=lambda error: plan_form(
            post.request, post.session, site_id, plan_inputs.EMPTY | post.form, error
        ),
    )


def plan_form(
    request: Request,
    session: SessionDep,
    site_id: int,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    return page(
        request,
        "plans/form.html",
        site=sites.get_site(session, site_id),
        form=form,
        families=plan_inputs.options(),
        rows=range(1, plan_inputs.CANDIDATES + 1),
        asks=plan_inputs.ASKS,
        error=error,
    )


@router.get("/plans/{plan_id}/sections.csv")
@router.get("/plans/{plan_id}/sections.json")
@everyone
def sections(request: Request, session: SessionDep, plan_id: RowId) -> Response:
    return listing(request, upstream_table(session, plan_id))


@router.get("/plans/{plan_id}/ponds.csv")
@router.get("/plans/{plan_id}/ponds.json")
@everyone
def ponds(request: Request, session: SessionDep, plan_id: RowId) -> Response:
    return listing(request, pond_table(session, plan_id))


@router.get("/plans/{plan_id}.json")
@everyone
def whole(session: SessionDep, plan_id: RowId) -> Response:
    view = planning.get_plan(session, plan_id)
    return fresh_json(plan_page.as_json(view))


@router.get("/plans/{plan_id}")
@everyone
def show(request: Request, session: SessionDep, plan_id: RowId) -> Response:
    return plan_shown(request, session, plan_id, {})


@router.post("/plans/{plan_id}/choose")
@office
def choose(post: PostedDep, plan_id: RowId) -> Response:
    return post.answer(
        lambda: planning.choose(post.session, plan_id, post.form, post.by_id),
        then=lambda choice: f"/structures/{choice.structure_id}/as-built",
        again=lambda error: plan_shown(post.request, post.session, plan_id, post.form, error),
    )


def plan_shown(
    request: Request,
    session: SessionDep,
    plan_id: int,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    view = planning.get_plan(session, plan_id)
    site = sites.get_site(session, view.plan.site_id)
    moment = forms.local_text(utc_now().replace(second=0, microsecond=0), site.utc_offset_min)
    usual = {"valid_from": moment} | dict.fromkeys(CHOOSE_FIELDS, "")
    return page(
        request,
        "plans/show.html",
        site=site,
        view=view,
        shown=plan_page.candidates(view),
        structures=planning.site_structures(session, site),
        form=usual | form,
        error=error,
    )


@router.get("/plans/{plan_id}/candidates.csv")
@router.get("/plans/{plan_id}/candidates.json")
@everyone
def candidate_list(request: Request, session: SessionDep, plan_id: RowId) -> Response:
    return listing(request, page_lists.candidates_table(session, plan_id))
