"""Check gaugings in the office: the list of a site and one gauging with its working."""

from fastapi import Request, Response
from sqlmodel import Session

from app.services.equipment import naming as equipment_naming
from app.services.gaugings import page as gauging_page
from app.services.gaugings import results as gaugings
from app.services.gaugings import tables as gauging_tables
from app.services.lists import page as page_lists
from app.services.readings.list import Span
from app.services.sites import register as sites
from app.services.sync.page import may_correct
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import fresh_json, listing, page
from app.web.requests import DayRange, EntryId, RangeDep, RowId, RowQuery, else_usual

router = guarded_router()


def found_in(
    session: Session, site_id: int, span: Span, structure_id: int | None
) -> list[gaugings.GaugingResult]:
    return gaugings.gauging_results(session, site_id, span.since, span.until, structure_id)


@router.get("/sites/{site_id}/gaugings.csv")
@router.get("/sites/{site_id}/gaugings.json")
@everyone
def as_list(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    typed: RangeDep,
    structure: RowQuery = None,
) -> Response:
    site = sites.get_site(session, site_id)
    found = found_in(session, site_id, typed.span(site.utc_offset_min), structure)
    return listing(request, gauging_tables.gaugings_table(site, found))


@router.get("/sites/{site_id}/gaugings")
@everyone
def index(
    request: Request,
    session: SessionDep,
    site_id: RowId,
    typed: RangeDep,
    structure: RowQuery = None,
) -> Response:
    site = sites.get_site(session, site_id)
    span, error = else_usual(
        lambda: typed.span(site.utc_offset_min), lambda: DayRange().span(site.utc_offset_min)
    )
    return page(
        request,
        "gaugings/index.html",
        site=site,
        structures=sites.structures_of(session, site_id),
        structure_id=structure,
        found=found_in(session, site_id, span, structure)[::-1],
        span=span,
        first=typed.first,
        last=typed.last,
        error=error,
    )


@router.get("/gaugings/{entry_id}.json")
@everyone
def whole(session: SessionDep, entry_id: EntryId) -> Response:
    one = gaugings.gauging_result(session, entry_id)
    site = sites.get_site(session, one.entry.site_id)
    return fresh_json(gauging_tables.whole(one, site))


@router.get("/gaugings/{entry_id}")
@everyone
def show(request: Request, session: SessionDep, person: PersonDep, entry_id: EntryId) -> Response:
    found = gauging_page.explain(session, entry_id)
    return page(
        request,
        "gaugings/show.html",
        found=found,
        one=found.result,
        naming=equipment_naming.naming_box(session, found.result.entry),
        site=found.site,
        structure=found.result.structure,
        may_correct=may_correct(person, found.result.entry),
    )


@router.get("/gaugings/{entry_id}/observed.csv")
@router.get("/gaugings/{entry_id}/observed.json")
@everyone
def observed_list(request: Request, session: SessionDep, entry_id: EntryId) -> Response:
    return listing(request, page_lists.observed_table(session, entry_id))
