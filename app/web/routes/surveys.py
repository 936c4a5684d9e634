"""Level runs, benchmarks and install stops in the office."""

from typing import Annotated

from fastapi import Path, Request, Response

from app.errors import BadInput
from app.language import forms
from app.language.tables import part_of
from app.records.database import utc_now
from app.services.equipment import naming as equipment_naming
from app.services.install import page as survey_page
from app.services.lists import page as page_lists
from app.services.sites import register as sites
from app.services.surveys import history as level_history
from app.services.surveys import photos
from app.services.surveys import runs as level_runs
from app.services.surveys import zeros as surveys
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep, rate_again_at
from app.web.render import listing, page
from app.web.requests import PartQuery, RowId

router = guarded_router()

PHOTOS = 15  # a part: three rows of five

RunId = Annotated[str, Path(max_length=36)]


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


@router.get("/sites/{site_id}/photos")
@everyone
def photo_page(
    request: Request, session: SessionDep, site_id: RowId, part: PartQuery = 1
) -> Response:
    newest_first = photos.photos(session, site_id=site_id)[::-1]
    shown, part, parts = part_of(newest_first, part, PHOTOS)
    return page(
        request,
        "surveys/photos.html",
        site=sites.get_site(session, site_id),
        photos=shown,
        count=len(newest_first),
        part=part,
        parts=parts,
    )


@router.get("/sites/{site_id}/benchmarks.csv")
@router.get("/sites/{site_id}/benchmarks.json")
@everyone
def mark_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    return listing(request, survey_page.marks_table(session, site_id))


@router.get("/level-runs/{entry_id}.csv")
@router.get("/level-runs/{entry_id}.json")
@everyone
def book(request: Request, session: SessionDep, entry_id: RunId) -> Response:
    return listing(request, survey_page.book_table(level_runs.get_run(session, entry_id)))


@router.get("/level-runs/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, entry_id: RunId) -> Response:
    return run_page(request, session, entry_id, {})


@router.post("/level-runs/{entry_id}/accept")
@office
def accept(post: PostedDep, entry_id: RunId) -> Response:
    return post.answer(
        lambda: survey_page.accept(post.session, entry_id, post.form, post.person),
        then=lambda zero: rate_again_at(post.session, zero.structure_id),
        again=lambda error: run_page(post.request, post.session, entry_id, post.form, error),
    )


@router.post("/level-runs/{entry_id}/decline")
@office
def decline(post: PostedDep, entry_id: RunId) -> Response:
    return post.answer(
        lambda: survey_page.decline(post.session, entry_id, post.form, post.person),
        then=lambda _: f"/level-runs/{entry_id}",
        again=lambda error: run_page(post.request, post.session, entry_id, post.form, error),
    )


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
        site=site,
        structure_id=view.entry.structure_id,
        view=view,
        naming=equipment_naming.naming_box(session, view.entry),
        figures=survey_page.figures(view),
        answers=survey_page.answers(session, view),
        doubt=surveys.doubt(view),
        pictures=survey_page.pictures(session, view.entry.site_id).get(entry_id, []),
        form=usual | form,
        error=error,
        looked_at=utc_now(),
    )


@router.get("/structures/{structure_id}/corners.csv")
@router.get("/structures/{structure_id}/corners.json")
@everyone
def corner_list(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return listing(request, page_lists.trends_table(session, structure_id))
