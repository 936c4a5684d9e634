"""Level runs, benchmarks and install stops in the office."""

from typing import Annotated

from fastapi import Path, Request, Response
from fastapi.responses import RedirectResponse

from app.errors import BadInput
from app.language import forms
from app.records.database import utc_now
from app.services.equipment import naming as equipment_naming
from app.services.install import page as survey_page
from app.services.install import stops as install_stops
from app.services.install.hold_points import CAUTIONS, STOPS
from app.services.sites import register as sites
from app.services.sites import structures
from app.services.surveys import history as level_history
from app.services.surveys import runs as level_runs
from app.services.surveys import zeros as surveys
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import listing, page
from app.web.requests import FormDep, RowId

router = guarded_router()

RunEntryId = Annotated[str, Path(max_length=36)]


@router.get("/sites/{site_id}/levels.csv")
@router.get("/sites/{site_id}/levels.json")
@everyone
def level_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, survey_page.site_table(session, site_id))


@router.get("/sites/{site_id}/levels")
@everyone
def index(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return page(
        request,
        "surveys/index.html",
        site=sites.get_site(session, site_id),
        levels=survey_page.levels(session, site_id),
        loose=[v for v in level_runs.runs(session, site_id=site_id) if not v.entry.structure_id],
        marks=level_history.benchmarks(session, site_id),
        pictures=survey_page.pictures(session, site_id),
    )


@router.get("/sites/{site_id}/benchmarks.csv")
@router.get("/sites/{site_id}/benchmarks.json")
@everyone
def mark_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, survey_page.marks_table(session, site_id))


@router.get("/level-runs/{entry_id}.csv")
@router.get("/level-runs/{entry_id}.json")
@everyone
def book(request: Request, session: SessionDep, entry_id: RunEntryId) -> Response:
    return listing(request, survey_page.book_table(level_runs.get_run(session, entry_id)))


@router.get("/level-runs/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, entry_id: RunEntryId) -> Response:
    return run_page(request, session, entry_id, {})


@router.post("/level-runs/{entry_id}/accept")
@office
def accept(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, entry_id: RunEntryId
) -> Response:
    try:
        zero = survey_page.accept(session, entry_id, form, person)
    except BadInput as error:
        session.rollback()
        return run_page(request, session, entry_id, form, error)
    site_id = structures.get_structure(session, zero.structure_id).site_id
    session.commit()
    return RedirectResponse(f"/sites/{site_id}/rate-again", status_code=303)


@router.post("/level-runs/{entry_id}/decline")
@office
def decline(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, entry_id: RunEntryId
) -> Response:
    try:
        survey_page.decline(session, entry_id, form, person)
    except BadInput as error:
        session.rollback()
        return run_page(request, session, entry_id, form, error)
    session.commit()
    return RedirectResponse(f"/level-runs/{entry_id}", status_code=303)


def run_page(
    request: Request,
    session: SessionDep,
    entry_id: str,
    form: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    view = level_runs.get_run(session, entry_id)
    site = sites.get_site(session, view.entry.site_id)
    usual = {
        "valid_from": forms.local_text(view.entry.observed_at, site.utc_offset_min),
        "reason": "",
    }
    return page(
        request,
        "surveys/run.html",
        status=422 if error else 200,
        site=site,
        view=view,
        naming=equipment_naming.naming_box(session, view.entry),
        figures=survey_page.figures(view),
        answers=survey_page.answers(session, view),
        doubt=surveys.doubt(view),
        pictures=survey_page.pictures(session, view.entry.site_id).get(entry_id, []),
        form=usual | form,
        now={},
        error=error,
        looked_at=utc_now(),
    )


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
        "surveys/install.html",
        site=site,
        structure=structure,
        stops=found,
        sequence=[(stop, stop.key in seen) for stop in STOPS],
        cautions=CAUTIONS,
        pictures=survey_page.pictures(session, structure.site_id),
    )
