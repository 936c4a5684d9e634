"""Corrections of a sensor's record: staff against sensor, what is offered, layers, a preview."""

from collections.abc import Callable
from types import MappingProxyType

from fastapi import Request, Response
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
from app.services.lists import export as record_lists
from app.services.series.flow import QUANTITIES
from app.services.sites.structures import place
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import Posted, PostedDep
from app.web.render import fresh_json, listing, page
from app.web.requests import QueryDep, RowId, else_usual

router = guarded_router()


@router.get("/structures/{structure_id}/layers")
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
    form: Form = MappingProxyType({}),
    *,
    error: BadInput | None = None,
    typed_bands: Form | None = None,
) -> Response:
    """Answer with the page; a form with a shape is shown as a preview over the chart."""
    site, structure = place(session, structure_id)
    preview = None
    if form.get("shape") and error is None:
        preview, error = else_usual(
            lambda: layer_preview.preview_layer(session, structure_id, form, person, utc_now()),
            lambda: None,
        )
    return page(
        request,
        "corrections/show.html",
        site=site,
        structure=structure,
        shapes=corrections.SHAPES,
        quantities=QUANTITIES,
        layers=corrections.layers(session, structure_id, with_withdrawn=True),
        offers=sensor_offers.offers(session, structure_id),
        checks=sensor_visits.checks(session, structure_id),
        bands=sensor_bands.bands_form(session),
        typed_bands=typed_bands or {},
        preview=preview,
        stale=staleness.of_structure(session, structure_id),
        form=form,
        error=error,
    )


@router.get("/structures/{structure_id}/layers/preview.json")
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
    return fresh_json(answer)


@router.get("/structures/{structure_id}/layers/checks.json")
@everyone
def check_chart(session: SessionDep, structure_id: RowId) -> Response:
    site, _ = place(session, structure_id)
    found = sensor_visits.check_chart(session, structure_id)
    return fresh_json({**found, "utc_offset_min": site.utc_offset_min})


def corrected_by(
    post: Posted, structure_id: int, act: Callable[[], object], part: str, **kept: Form
) -> Response:
    """Act on the corrections and go to the `part` of the page; a refusal shows what is `kept`."""
    return post.answer(
        act,
        then=lambda _: f"/structures/{structure_id}/layers#{part}",
        again=lambda error: corrected(
            post.request, post.session, post.person, structure_id, error=error, **kept
        ),
    )


@router.post("/structures/{structure_id}/layers")
@office
def add(post: PostedDep, structure_id: RowId) -> Response:
    return corrected_by(
        post,
        structure_id,
        lambda: corrections.add_layer(
            post.session, structure_id, post.form, post.person, utc_now()
        ),
        "layers",
        form=post.form,
    )


@router.post("/structures/{structure_id}/layers/{layer_id}/withdraw")
@office
def withdraw(post: PostedDep, structure_id: RowId, layer_id: RowId) -> Response:
    why = post.form.get("reason", "")
    return corrected_by(
        post,
        structure_id,
        lambda: corrections.withdraw_layer(post.session, layer_id, why, post.person, utc_now()),
        "layers",
    )


@router.post("/structures/{structure_id}/acceptance-bands")
@office
def set_bands(post: PostedDep, structure_id: RowId) -> Response:
    return corrected_by(
        post,
        structure_id,
        lambda: sensor_bands.set_bands_form(post.session, post.form, post.person),
        "bands",
        typed_bands=post.form,
    )


@router.get("/structures/{structure_id}/layers.csv")
@router.get("/structures/{structure_id}/layers.json")
@everyone
def layer_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.layers_table(session, structure_id))


@router.get("/structures/{structure_id}/layers-offered.csv")
@router.get("/structures/{structure_id}/layers-offered.json")
@everyone
def offer_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.offers_table(session, structure_id))


@router.get("/structures/{structure_id}/staff-minus-sensor.csv")
@router.get("/structures/{structure_id}/staff-minus-sensor.json")
@everyone
def check_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, record_lists.checks_table(session, structure_id))
