"""Review: the queue of what needs a person, and the months on their way to approval."""

from typing import Annotated
from urllib.parse import urlencode

from fastapi import Query, Request, Response
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.language import forms
from app.language.forms import Form
from app.records.database import utc_now
from app.services.days import staleness
from app.services.lists import export as record_lists
from app.services.review import approval
from app.services.review import queue as review_queue
from app.services.review import tables as review_tables
from app.services.review.kinds import KINDS
from app.services.sites.structures import place
from app.services.sites.tables import site_list
from app.web.deps import SessionDep
from app.web.guard import guarded_router, office
from app.web.posted import PostedDep
from app.web.render import listing, page
from app.web.requests import RowId, SiteDep, else_usual

router = guarded_router()

SHOWN = 500  # the newest on one page; the lists hold all
StateQuery = Annotated[str, Query(max_length=10)]
MonthQuery = Annotated[str, Query(max_length=10)]
KindQuery = Annotated[str, Query(max_length=20)]


class Gone(BadInput):
    """The item was put right while somebody looked at it."""

    def __init__(self) -> None:
        super().__init__("item", "", "it is no longer in the queue", "Somebody has put it right.")


@router.get("/review")
@office
def queue(
    request: Request,
    session: SessionDep,
    site_id: SiteDep,
    state: StateQuery = "open",
    month: MonthQuery = "",
    kind: KindQuery = "",
) -> Response:
    return queued(request, session, site_id, state, month=month, kind=kind)


def queued(
    request: Request,
    session: Session,
    site_id: int | None,
    state: str,
    *,
    error: BadInput | None = None,
    form: Form | None = None,
    month: str = "",
    kind: str = "",
) -> Response:
    """Answer with the queue; after a clash the item shows what the other person decided."""
    found, unread = else_usual(
        lambda: review_tables.filtered(session, site_id, state, month, kind),
        lambda: review_tables.filtered(session, site_id, "open", ""),
    )
    if unread:
        error, state, month, kind = unread, "open", "", ""
    count, found = len(found), found[:SHOWN]
    form = form or {}
    gone = None
    if form and not any(item.key == form.get("key") for item in found):
        gone = next(
            (x for x in review_queue.queue(session, None, state="all") if x.key == form.get("key")),
            None,
        )
    return page(
        request,
        "review/queue.html",
        items=[gone, *found] if gone else found,
        count=count,
        kinds=KINDS,
        counts=review_queue.counts(session, site_id),
        sites=site_list(session).rows,
        site_id=site_id,
        state=state,
        month=month,
        kind=kind,
        form=form,
        error=error,
    )


@router.get("/review.csv")
@router.get("/review.json")
@office
def queue_list(
    request: Request,
    session: SessionDep,
    site_id: SiteDep,
    state: StateQuery = "open",
    month: MonthQuery = "",
    kind: KindQuery = "",
) -> Response:
    """List what the page lists under the same filter, without its cut."""
    items = review_tables.filtered(session, site_id, state, month, kind)
    return listing(request, review_tables.queue_table(items))


@router.post("/review")
@office
def decide(post: PostedDep) -> Response:
    """Take one decision; `next` is the item to go on with."""
    form = post.form
    site = form.get("site", "")
    site_id = int(site) if site.isascii() and site.isdigit() and len(site) < 10 else None
    state, month = form.get("state") or "open", form.get("month", "")
    kind = form.get("kind", "")
    action = form.get("action", "")

    def act() -> None:
        try:
            review_queue.decide(
                post.session,
                form.get("key", ""),
                action.removesuffix(" with correction"),
                text=form.get("text", ""),
                person=post.person,
                now=utc_now(),
                revision=forms.revision(form),
                with_correction=action.endswith(" with correction"),
            )
        except NotFound:
            raise Gone from None

    def then(_: None) -> str:
        following = form.get("next", "")
        anchor = f"#{following}" if following.replace("-", "").isalnum() else ""
        asked = urlencode({"site": site_id or "", "state": state, "month": month, "kind": kind})
        return f"/review?{asked}{anchor}"

    def again(error: BadInput) -> Response:
        typed = {} if isinstance(error, Gone) else form
        return queued(
            post.request,
            post.session,
            site_id,
            state,
            error=error,
            form=typed,
            month=month,
            kind=kind,
        )

    return post.answer(act, then=then, again=again)


@router.get("/structures/{structure_id}/months")
@office
def months(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return months_of(request, session, structure_id)


def months_of(
    request: Request,
    session: Session,
    structure_id: int,
    error: BadInput | None = None,
    form: Form | None = None,
    month: str = "",
) -> Response:
    site, structure = place(session, structure_id)
    lines = approval.months(session, structure_id)[::-1]
    shown = {line.month for line in lines}  # else the refusal has no row to stand beside
    return page(
        request,
        "review/months.html",
        site=site,
        structure=structure,
        months=lines,
        stale=staleness.of_structure(session, structure_id),
        form=form or {},
        month=month if month in shown else "",
        error=error,
    )


@router.post("/structures/{structure_id}/months/{month}")
@office
def move(post: PostedDep, structure_id: RowId, month: str) -> Response:
    form = post.form
    return post.answer(
        lambda: approval.move(
            post.session,
            structure_id,
            month,
            form.get("to", ""),
            post.person,
            utc_now(),
            reason=form.get("reason", ""),
            revision=forms.revision(form),
        ),
        then=lambda _: f"/structures/{structure_id}/months#m-{month}",
        again=lambda error: months_of(post.request, post.session, structure_id, error, form, month),
    )


@router.get("/structures/{structure_id}/months.csv")
@router.get("/structures/{structure_id}/months.json")
@office
def month_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.months_table(session, structure_id))
