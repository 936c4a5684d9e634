"""The as-built sheet of a structure: dimensions against the named size, and the rating of it."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from app.errors import BadInput
from app.language import forms
from app.records.database import utc_now
from app.services.install import as_built
from app.services.install.tables import as_built_table
from app.services.sync import measure as as_built_entry
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import listing, page
from app.web.requests import FormDep, RowId

router = guarded_router()


@router.get("/structures/{structure_id}/as-built.csv")
@router.get("/structures/{structure_id}/as-built.json")
@everyone
def as_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, as_built_table(as_built.as_built(session, structure_id)))


@router.get("/structures/{structure_id}/as-built")
@everyone
def show(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return sheet_page(request, session, structure_id, {})


@router.post("/structures/{structure_id}/as-built")
@office
def enter(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, structure_id: RowId
) -> Response:
    try:
        as_built_entry.enter(session, structure_id, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return sheet_page(request, session, structure_id, form, error)
    return RedirectResponse(f"/structures/{structure_id}/as-built", status_code=303)


@router.post("/structures/{structure_id}/as-built/rating")
@office
def make_rating(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, structure_id: RowId
) -> Response:
    assert person.id is not None
    try:
        rating = as_built_entry.make_rating(session, structure_id, form, person.id)
    except BadInput as error:
        session.rollback()
        return sheet_page(request, session, structure_id, form, error)
    assert rating.id is not None
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/as-built", status_code=303)


def sheet_page(
    request: Request,
    session: SessionDep,
    structure_id: int,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    sheet = as_built.as_built(session, structure_id)
    offset = sheet.site.utc_offset_min
    moment = forms.local_text(utc_now().replace(second=0, microsecond=0), offset)
    return page(
        request,
        "as_built/show.html",
        status=422 if error else 200,
        sheet=sheet,
        site=sheet.site,
        structure=sheet.structure,
        repeats=range(1, as_built.SHEET_REPEATS + 1),
        form={"at": moment, "valid_from": moment} | form,
        now={},
        error=error,
    )
