"""Corrections of a sensor's record: staff against sensor, what is offered, layers, a preview."""

from fastapi import Request, Response
from fastapi.responses import JSONResponse, RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import Form
from app.records.database import utc_now
from app.records.people import Person
from app.services.corrections import bands as sensor_bands
from app.services.corrections import layers as corrections
from app.services.corrections import offers as sensor_offers
from app.services.corrections import preview as layer_preview
from app.services.corrections import visits as sensor_visits
from app.services.days import staleness
from app.services.series.flow import QUANTITIES
from app.services.sites.structures import place
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import FRESH, page
from app.web.requests import FormDep, QueryDep, RowId

router = guarded_router()


@router.get("/structures/{structure_id}/corrections")
@everyone
def show(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    structure_id: RowId,
    asked: QueryDep,
) -> Response:
    return corrected(request, session, person, structure_id, asked)


def corrected(
    request: Request,
    session: Session,
    person: Person,
    structure_id: int,
    form: Form,
    error: BadInput | None = None,
) -> Response:
    """Answer with the page; a form with a shape is shown as a preview over the chart."""
    site, structure = place(session, structure_id)
    preview = None
    if form.get("shape") and error is None:
        try:
            preview = layer_preview.preview_layer(session, structure_id, form, person, utc_now())
        except BadInput as refused:
            error = refused
    return page(
        request,
        "corrections/show.html",
        status=422 if error else 200,
        site=site,
        structure=structure,
        shapes=corrections.SHAPES,
        quantities=QUANTITIES,
        layers=corrections.layers(session, structure_id, with_withdrawn=True),
        offers=sensor_offers.offers(session, structure_id),
        checks=sensor_visits.checks(session, structure_id),
        bands=sensor_bands.bands_form(session),
        preview=preview,
        stale=staleness.of_structure(session, structure_id),
        form=form,
        error=error,
        tab="corrections",
    )


@router.get("/structures/{structure_id}/corrections/preview.json")
@everyone
def preview_chart(
    session: SessionDep, person: PersonDep, structure_id: RowId, asked: QueryDep
) -> Response:
    found = layer_preview.preview_layer(session, structure_id, asked, person, utc_now())
    site, _ = place(session, structure_id)
    answer = {
        "before": found.before,
        "after": found.after,
        "from_s": found.from_s,
        "to_s": found.to_s,
        "utc_offset_min": site.utc_offset_min,
    }
    return JSONResponse(answer, headers=FRESH)


@router.get("/structures/{structure_id}/corrections/checks.json")
@everyone
def check_chart(session: SessionDep, structure_id: RowId) -> Response:
    site, _ = place(session, structure_id)
    found = sensor_visits.check_chart(session, structure_id)
    return JSONResponse({**found, "utc_offset_min": site.utc_offset_min}, headers=FRESH)


@router.post("/structures/{structure_id}/corrections")
@office
def add(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    structure_id: RowId,
) -> Response:
    try:
        corrections.add_layer(session, structure_id, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return corrected(request, session, person, structure_id, form, error)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/corrections#layers", status_code=303)


@router.post("/structures/{structure_id}/corrections/{layer_id}/withdraw")
@office
def withdraw(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    structure_id: RowId,
    layer_id: RowId,
) -> Response:
    try:
        corrections.withdraw_layer(session, layer_id, form.get("reason", ""), person, utc_now())
    except BadInput as error:
        session.rollback()
        return corrected(request, session, person, structure_id, {}, error)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/corrections#layers", status_code=303)


@router.post("/structures/{structure_id}/acceptance-bands")
@office
def set_bands(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    form: FormDep,
    structure_id: RowId,
) -> Response:
    try:
        sensor_bands.set_bands_form(session, form, person)
    except BadInput as error:
        session.rollback()
        return corrected(request, session, person, structure_id, {}, error)
    session.commit()
    return RedirectResponse(f"/structures/{structure_id}/corrections#bands", status_code=303)
