"""The steward's pages of settings: all with their source, and one with its form and its history."""

from fastapi import Request, Response

from app.errors import BadInput
from app.services.settings import change
from app.services.settings import page as settings_page
from app.web.deps import SessionDep
from app.web.guard import guarded_router, steward
from app.web.posted import PostedDep, present_revision
from app.web.render import listing, page

router = guarded_router()


@router.get("/settings.csv")
@router.get("/settings.json")
@steward
def settings_list(request: Request, session: SessionDep) -> Response:
    return listing(request, settings_page.settings_table(session))


@router.get("/settings")
@steward
def all_settings(request: Request, session: SessionDep) -> Response:
    return page(
        request,
        "settings/index.html",
        groups=settings_page.groups(session),
        started=request.app.state.settings.started_with(),
    )


@router.get("/settings/{key}/changes.csv")
@router.get("/settings/{key}/changes.json")
@steward
def change_list(request: Request, session: SessionDep, key: str) -> Response:
    return listing(request, settings_page.changes_table(session, key))


@router.get("/settings/{key}")
@steward
def one_setting(request: Request, session: SessionDep, key: str) -> Response:
    return show(request, session, key)


def show(
    request: Request,
    session: SessionDep,
    key: str,
    error: BadInput | None = None,
    typed: dict[str, str] | None = None,
) -> Response:
    found = settings_page.history(session, key)
    form = found.form | (typed or {}) | present_revision(error)
    return page(request, "settings/show.html", found=found, form=form, error=error)


@router.post("/settings/{key}")
@steward
def set_value(post: PostedDep, key: str) -> Response:
    return post.answer(
        lambda: change.set_from_form(post.session, key, post.form, post.by_id),
        then=lambda _: "/settings",
        again=lambda error: show(post.request, post.session, key, error, post.form),
    )


@router.post("/settings/{key}/default")
@steward
def back_to_default(post: PostedDep, key: str) -> Response:
    return post.answer(
        lambda: change.back_to_default(post.session, key, post.form, post.by_id),
        then=lambda _: "/settings",
        again=lambda error: show(post.request, post.session, key, error, post.form),
    )
