"""The months of a record on their way from draft to approved, with who, when and why."""

from fastapi import Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language import forms
from app.language.forms import Form
from app.records.database import utc_now
from app.services.days import staleness
from app.services.lists import export as record_lists
from app.services.review import approval
from app.services.sites.structures import place
from app.web.deps import SessionDep
from app.web.guard import guarded_router, office
from app.web.posted import PostedDep
from app.web.render import listing, page
from app.web.requests import RowId

router = guarded_router()


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
