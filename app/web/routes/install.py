"""Installing a structure: its stops, the as-built sheet, and the commissioning sheet."""

from collections.abc import Callable

from fastapi import Request, Response

from app.errors import BadInput
from app.language import forms
from app.records.database import utc_now
from app.services.install import as_built
from app.services.install import page as survey_page
from app.services.install import sheet as commissioning
from app.services.install import stops as install_stops
from app.services.install.hold_points import CAUTIONS, STOPS
from app.services.install.tables import as_built_table, sheet_table
from app.services.sites import structures
from app.services.sync import measure as as_built_entry
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import Posted, PostedDep
from app.web.render import listing, page
from app.web.requests import RowId

router = guarded_router()


@router.get("/structures/{structure_id}/install.csv")
@router.get("/structures/{structure_id}/install.json")
@everyone
def stop_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    _, structure = structures.place(session, structure_id)
    return listing(request, survey_page.stops_table(session, structure_id, structure.site_id))


@router.get("/structures/{structure_id}/install")
@everyone
def timeline(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, structure = structures.place(session, structure_id)
    found = install_stops.stops(session, structure_id)
    seen = {view.stop.key for view in found if view.stands}
    return page(
        request,
        "install/stops.html",
        site=site,
        structure=structure,
        stops=found,
        sequence=[(stop, stop.key in seen) for stop in STOPS],
        cautions=CAUTIONS,
        pictures=survey_page.pictures(session, structure.site_id),
    )


@router.get("/structures/{structure_id}/as-built.csv")
@router.get("/structures/{structure_id}/as-built.json")
@everyone
def as_built_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, as_built_table(as_built.as_built(session, structure_id)))


@router.get("/structures/{structure_id}/as-built")
@everyone
def as_built_page(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return as_built_shown(request, session, structure_id, {})


@router.post("/structures/{structure_id}/as-built")
@office
def enter(post: PostedDep, structure_id: RowId) -> Response:
    return as_built_by(
        post,
        structure_id,
        lambda: as_built_entry.enter(post.session, structure_id, post.form, post.person, utc_now()),
    )


@router.post("/structures/{structure_id}/as-built/rating")
@office
def make_rating(post: PostedDep, structure_id: RowId) -> Response:
    return as_built_by(
        post,
        structure_id,
        lambda: as_built_entry.make_rating(post.session, structure_id, post.form, post.by_id),
    )


def as_built_by(post: Posted, structure_id: int, act: Callable[[], object]) -> Response:
    """Act on the as-built sheet and come back to it."""
    return post.answer(
        act,
        then=lambda _: f"/structures/{structure_id}/as-built",
        again=lambda error: as_built_shown(
            post.request, post.session, structure_id, post.form, error
        ),
    )


def as_built_shown(
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
        "install/as_built.html",
        sheet=sheet,
        site=sheet.site,
        structure=sheet.structure,
        repeats=range(1, as_built.SHEET_REPEATS + 1),
        form={"at": moment, "valid_from": moment} | form,
        error=error,
    )


@router.get("/structures/{structure_id}/commissioning.csv")
@router.get("/structures/{structure_id}/commissioning.json")
@everyone
def sheet_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, sheet_table(commissioning.sheet(session, structure_id)))


@router.get("/structures/{structure_id}/commissioning")
@everyone
def sheet_page(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return sheet_shown(request, session, structure_id, {})


@router.post("/structures/{structure_id}/commissioning")
@everyone
def sign(post: PostedDep, structure_id: RowId) -> Response:
    return post.answer(
        lambda: commissioning.sign(post.session, structure_id, post.form, post.person, utc_now()),
        then=lambda _: f"/structures/{structure_id}/commissioning",
        again=lambda error: sheet_shown(post.request, post.session, structure_id, post.form, error),
    )


def sheet_shown(
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
        "install/sheet.html",
        sheet=sheet,
        site=sheet.site,
        structure=sheet.structure,
        signed=commissioning.signed(session, structure_id),
        disclaimer=commissioning.NOT_A_CERTIFICATE,
        form=usual | form,
        error=error,
    )
