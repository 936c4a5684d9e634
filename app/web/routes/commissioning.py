"""The commissioning sheet: what was found, what is outside, and who signed it."""

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from app.errors import BadInput
from app.language import forms
from app.records.database import utc_now
from app.services.install import sheet as commissioning
from app.services.install.tables import sheet_table
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import listing, page
from app.web.requests import FormDep, RowId

router = guarded_router()


@router.get("/structures/{structure_id}/commissioning.csv")
@router.get("/structures/{structure_id}/commissioning.json")
@everyone
def as_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, sheet_table(commissioning.sheet(session, structure_id)))


@router.get("/structures/{structure_id}/commissioning")
@everyone
def show(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return sheet_page(request, session, structure_id, {})


@router.post("/structures/{structure_id}/commissioning")
@everyone
def sign(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, structure_id: RowId
) -> Response:
    try:
        commissioning.sign(session, structure_id, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return sheet_page(request, session, structure_id, form, error)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/commissioning", status_code=303)


def sheet_page(
    request: Request,
    session: SessionDep,
    structure_id: int,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    sheet = commissioning.sheet(session, structure_id)
    moment = sheet.fit_from or utc_now().replace(second=0, microsecond=0)
    usual = {
        "fit_from": forms.local_text(moment, sheet.site.utc_offset_min),
        "signed_name": request.state.person.name,
        "words": sheet.fit_words,
    }
    return page(
        request,
        "commissioning/show.html",
        status=422 if error else 200,
        sheet=sheet,
        site=sheet.site,
        structure=sheet.structure,
        signed=commissioning.signed(session, structure_id),
        disclaimer=commissioning.NOT_A_CERTIFICATE,
        form=usual | form,
        now={},
        error=error,
    )
