"""Review: the queue of what needs a person, and the months on their way to approval."""

from typing import Annotated
from urllib.parse import urlencode

from fastapi import Query, Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.language import forms
from app.language.forms import ChangedMeanwhile, Form
from app.records.database import utc_now
from app.services.days import staleness
from app.services.review import approval
from app.services.review import queue as review_queue
from app.services.review import tables as review_tables
from app.services.sites.structures import place
from app.services.sites.tables import site_list
from app.web.deps import PersonDep, SessionDep
from app.web.guard import guarded_router, office
from app.web.render import listing, page
from app.web.requests import FormDep, RowId, SiteQuery

router = guarded_router()

SHOWN = 500  # the newest on one page; the lists hold all
StateQuery = Annotated[str, Query(max_length=10)]
MonthQuery = Annotated[str, Query(max_length=10)]
KindQuery = Annotated[str, Query(max_length=20)]


@router.get("/review")
@office
def queue(
    request: Request,
    session: SessionDep,
    site: SiteQuery = "",
    state: StateQuery = "open",
    month: MonthQuery = "",
    kind: KindQuery = "",
) -> Response:
    site_id = int(site) if site else None
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
    try:
        found = review_tables.filtered(session, site_id, state, month, kind)
    except BadInput as refused:
        error, state, month, kind = refused, "open", "", ""
        found = review_tables.filtered(session, site_id, state, month)
    count, found = len(found), found[:SHOWN]
    clash = isinstance(error, ChangedMeanwhile)
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
        status=409 if clash else 422 if error else 200,
        items=[gone, *found] if gone else found,
        count=count,
        counts=review_queue.counts(session, site_id),
        sites=site_list(session).rows,
        site_id=site_id,
        state=state,
        month=month,
        kind=kind,
        kinds=review_tables.ITEM_KINDS,
        form=form,
        error=error,
    )


@router.get("/review.csv")
@router.get("/review.json")
@office
def queue_list(
    request: Request,
    session: SessionDep,
    site: SiteQuery = "",
    state: StateQuery = "open",
    month: MonthQuery = "",
    kind: KindQuery = "",
) -> Response:
    """List what the page lists under the same filter, without its cut."""
    items = review_tables.filtered(session, int(site) if site else None, state, month, kind)
    return listing(request, review_tables.queue_table(items))


@router.post("/review")
@office
def decide(request: Request, session: SessionDep, person: PersonDep, form: FormDep) -> Response:
    """Take one decision; `next` is the item to go on with."""
    site = form.get("site", "")
    site_id = int(site) if site.isascii() and site.isdigit() and len(site) < 10 else None
    state, month = form.get("state") or "open", form.get("month", "")
    kind = form.get("kind", "")
    action = form.get("action", "")
    try:
        review_queue.decide(
            session,
            form.get("key", ""),
            action.removesuffix(" with correction"),
            text=form.get("text", ""),
            person=person,
            now=utc_now(),
            revision=forms.revision(form),
            with_correction=action.endswith(" with correction"),
        )
    except BadInput as error:
        session.rollback()
        return queued(
            request, session, site_id, state, error=error, form=form, month=month, kind=kind
        )
    except NotFound:
        session.rollback()
        gone = BadInput("item", "", "it is no longer in the queue", "Somebody has put it right.")
        return queued(request, session, site_id, state, error=gone, month=month, kind=kind)
    session.commit()
    then = form.get("next", "")
    anchor = f"#{then}" if then.replace("-", "").isalnum() else ""
    asked = urlencode({"site": site_id or "", "state": state, "month": month, "kind": kind})
    return RedirectResponse(f"/review?{asked}{anchor}", status_code=303)


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
    return page(
        request,
        "review/months.html",
        status=409 if isinstance(error, ChangedMeanwhile) else 422 if error else 200,
        site=site,
        structure=structure,
        months=approval.months(session, structure_id)[::-1],
        stale=staleness.of_structure(session, structure_id),
        form=form or {},
        month=month,
        error=error,
        tab="months",
    )


@router.post("/structures/{structure_id}/months/{month}")
@office
def move(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    structure_id: RowId,
    month: str,
) -> Response:
    try:
        approval.move(
            session,
            structure_id,
            month,
            form.get("to", ""),
            person,
            utc_now(),
            reason=form.get("reason", ""),
            revision=forms.revision(form),
        )
    except BadInput as error:
        session.rollback()
        return months_of(request, session, structure_id, error, form, month)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/months#m-{month}", status_code=303)
