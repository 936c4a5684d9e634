"""One's own access tokens: made, shown once, listed, revoked; a steward revokes anybody's."""

from fastapi import Request, Response

from app.errors import BadInput
from app.records.database import utc_now
from app.records.people import SCOPES
from app.services.sites import tokens
from app.services.sites.tables import token_table
from app.services.sites.tokens import Made
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.posted import PostedDep
from app.web.render import fresh, listing, page
from app.web.requests import RowId

router = guarded_router()


@router.get("/tokens.csv")
@router.get("/tokens.json")
@everyone
def token_list(request: Request, session: SessionDep, person: PersonDep) -> Response:
    """List one's own access tokens, without their text."""
    return listing(request, token_table(session, person.id or 0, utc_now()))


@router.get("/tokens")
@everyone
def tokens_page(request: Request, session: SessionDep, person: PersonDep) -> Response:
    return show_tokens(request, session, person.id or 0)


def show_tokens(
    request: Request,
    session: SessionDep,
    person_id: int,
    *,
    error: BadInput | None = None,
    form: dict[str, str] | None = None,
    made: Made | None = None,
) -> Response:
    shown = page(
        request,
        "tokens/index.html",
        listed=token_table(session, person_id, utc_now()).rows,
        scopes=SCOPES,
        most_days=tokens.TOKEN_DAYS,
        error=error,
        form=form or {"scope": "read", "days": str(tokens.USUAL_DAYS)},
        made=made,
    )
    if made is not None:
        shown.headers.update(fresh())  # its text is in this answer and nowhere else
    return shown


@router.post("/tokens")
@everyone
def make_token(post: PostedDep) -> Response:
    def again(error: BadInput) -> Response:
        return show_tokens(post.request, post.session, post.by_id, error=error, form=post.form)

    return post.answer(
        lambda: tokens.make(post.session, post.person, post.form, utc_now()),
        then=lambda made: show_tokens(post.request, post.session, post.by_id, made=made),
        again=again,
    )


@router.post("/tokens/{token_id}/revoke")
@everyone
def revoke_token(post: PostedDep, token_id: RowId) -> Response:
    def then(own: bool, person_id: int) -> str:
        return "/tokens" if own else f"/people/{person_id}"

    return post.answer(
        lambda: tokens.revoke(post.session, token_id, post.person, utc_now()),
        then=lambda one: then(one.person_id == post.by_id, one.person_id),
        again=lambda error: show_tokens(post.request, post.session, post.by_id, error=error),
    )
