"""Review: the queue of what needs a person, answers to it, and taking the last one back."""

from collections.abc import Callable, Sequence
from typing import Annotated

from fastapi import Depends, Query, Request, Response
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.language import forms
from app.language.forms import Form
from app.records.database import utc_now
from app.services.review import answers, undo
from app.services.review import page as review_page
from app.services.review import queue as review_queue
from app.services.review import tables as review_tables
from app.services.review.items import KINDS, QueueItem, mark_of
from app.services.review.page import Asked
from app.services.sites.tables import site_list
from app.web.deps import SessionDep
from app.web.guard import guarded_router, office
from app.web.posted import Posted, PostedDep
from app.web.render import listing, page
from app.web.requests import PartQuery, RowQuery, SiteDep, else_usual

router = guarded_router()

PICK = "pick:"
StateQuery = Annotated[str, Query(max_length=10)]
MonthQuery = Annotated[str, Query(max_length=10)]
KindQuery = Annotated[str, Query(max_length=20)]
MarkQuery = Annotated[str, Query(max_length=10)]
CountQuery = Annotated[int, Query(ge=0, le=1000)]
MarksQuery = Annotated[str, Query(max_length=1000)]


def asked_for(
    site_id: SiteDep,
    structure: RowQuery = None,
    state: StateQuery = "open",
    month: MonthQuery = "",
    kind: KindQuery = "",
) -> Asked:
    """Return what the queue is asked for."""
    return Asked(
        site_id=site_id,
        structure_id=structure,
        state=state or "open",
        month=month.strip(),
        kind=kind,
    )


AskedDep = Annotated[Asked, Depends(asked_for)]


@router.get("/review")
@office
def queue(
    request: Request,
    session: SessionDep,
    asked: AskedDep,
    number: PartQuery = 1,
    at: MarkQuery = "",
    row: CountQuery = 0,
    selected: MarksQuery = "",
    done: CountQuery = 0,
) -> Response:
    return queued(
        request,
        session,
        asked,
        number=number,
        at=at,
        row=row,
        selected=selected.split("."),
        done=done,
    )


def queued(
    request: Request,
    session: Session,
    asked: Asked,
    *,
    number: int = 1,
    at: str = "",
    row: int = 0,
    selected: Sequence[str] = (),
    done: int = 0,
    error: BadInput | None = None,
    form: Form | None = None,
    outcome: Sequence[answers.Answer] = (),
    status: int | None = None,
) -> Response:
    """Answer with a page of the queue; after a clash the item shows what somebody else answered."""
    shown, unread = else_usual(
        lambda: review_page.page_of(session, asked, number, at, row),
        lambda: review_page.page_of(session, Asked(site_id=asked.site_id)),
    )
    key = (form or {}).get("key", "")
    clashed = () if any(x.key == key for x in shown.items) else _item(session, key)
    items = [*clashed, *shown.items]
    return page(
        request,
        "review/queue.html",
        status=status,
        shown=shown,
        asked=shown.asked,
        items=items,
        places=review_page.places(session, items),
        kinds=KINDS,
        sites=site_list(session).rows,
        last=undo.last_act(session, request.state.person, utc_now()),
        selected=selected,
        done=done,
        outcome=[one for one in outcome if one.refused],
        went_through=sum(one.refused is None for one in outcome),
        form=form or {},
        error=unread or error,
    )


def _item(session: Session, key: str) -> Sequence[QueueItem]:
    return tuple(review_queue.items_of(session, [key]).values()) if key else ()


@router.get("/review.csv")
@router.get("/review.json")
@office
def queue_list(request: Request, session: SessionDep, asked: AskedDep) -> Response:
    """List what the page lists under the same filter, without its pages."""
    return listing(request, review_tables.queue_table(review_page.filtered(session, asked)))


def asked_in(form: Form) -> Asked:
    """Return what the page that a form was on asks for."""

    def row(field: str) -> int | None:
        typed = form.get(field, "")
        return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 10 else None

    return Asked(
        site_id=row("site"),
        structure_id=row("structure"),
        state=form.get("state") or "open",
        month=form.get("month", ""),
        kind=form.get("kind", ""),
    )


def picked_in(form: Form) -> dict[str, int]:
    """Return the items that are selected, or the one that is named, with the revisions seen."""
    picked = {
        name.removeprefix(PICK): forms.revision({"revision": value})
        for name, value in form.items()
        if name.startswith(PICK)
    }
    named = form.get("key", "")
    return picked or ({named: forms.revision(form)} if "key" in form and named else {})


@router.post("/review")
@office
def decide(post: PostedDep) -> Response:
    """Answer an item, or the selected ones with one reason; `next` is the item to go on with."""
    form = post.form
    action, picked = form.get("action", ""), picked_in(form)
    act = answers.Act(
        action=action.removesuffix(" with correction"),
        text=form.get("text", ""),
        person=post.person,
        now=utc_now(),
        with_correction=action.endswith(" with correction"),
    )

    def answer() -> Sequence[answers.Answer]:
        if len(picked) == 1:
            ((key, revision),) = picked.items()
            try:
                done = answers.decide(post.session, key, revision, act)
            except NotFound:
                raise answers.Gone from None
            return (answers.Answer(key=key, item=done),)
        return answers.decide_all(post.session, picked, act)

    return _answered(post, answer)


@router.post("/review/undo")
@office
def take_back(post: PostedDep) -> Response:
    """Take back what the person answered last."""
    act_id = forms.revision({"revision": post.form.get("answer", "")})
    return _answered(post, lambda: undo.take_back(post.session, act_id, post.person, utc_now()))


def _answered(post: Posted, act: Callable[[], Sequence[answers.Answer]]) -> Response:
    """Do it; where some are refused the page names them, and the others have gone through."""
    form, asked = post.form, asked_in(post.form)
    part = forms.revision({"revision": form.get("part", "")}) or 1
    picked = list(picked_in(form))
    row = forms.revision({"revision": form.get("row", "")})
    stand = {"at": form.get("next", "")[:10], "row": min(row, 1000) or ""}

    def partly(done: Sequence[answers.Answer], status: int | None = None) -> Response:
        left = [one.key for one in done if one.refused]
        return queued(
            post.request,
            post.session,
            asked,
            number=part,
            selected=[mark_of(key) for key in left],
            form={"text": form.get("text", "")},
            outcome=done,
            status=status,
        )

    def then(done: Sequence[answers.Answer]) -> str | Response:
        if any(one.refused for one in done):
            return partly(done)
        more = {"part": part if part > 1 else "", **stand, "done": len(done)}
        return f"/review?{asked.query(**more)}"

    def again(error: BadInput) -> Response:
        if isinstance(error, answers.NothingDone):
            return partly(error.answers, status=422)
        one = picked[0] if len(picked) == 1 and not isinstance(error, answers.Gone) else ""
        return queued(
            post.request,
            post.session,
            asked,
            number=part,
            at=mark_of(one) if one else "",
            selected=[mark_of(key) for key in picked if PICK + key in form],
            error=error,
            form={**form, "key": one},
        )

    return post.answer(act, then=then, again=again)
