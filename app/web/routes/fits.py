"""A rating and its check gaugings: fitted to them, tested by them, and as a table to take away."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Query, Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import Form
from app.records.database import utc_now
from app.services.fits import adopt as fitted_ratings
from app.services.fits import candidates as fits
from app.services.fits import card as rating_tables
from app.services.fits import charts as fit_charts
from app.services.fits import sides as rating_sides
from app.services.fits import tables as test_tables
from app.services.fits import test_charts
from app.services.fits import tests as rating_tests
from app.services.fits.tests import RatingTested
from app.services.lists import page as page_lists
from app.services.sites.views import described
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep, rate_again_at
from app.web.render import fresh_json, listing, page
from app.web.requests import DayRange, QueryDep, RangeDep, RowId, RowQuery, else_usual

router = guarded_router()

ScaleQuery = Annotated[str, Query(alias="scale", max_length=10)]
StepQuery = Annotated[str, Query(max_length=20)]


@router.get("/structures/{structure_id}/fits")
@office
def show(request: Request, session: SessionDep, typed: QueryDep, structure_id: RowId) -> Response:
    return fit_page(request, session, structure_id, typed)


def fit_page(
    request: Request,
    session: Session,
    structure_id: int,
    typed: dict[str, str],
    error: BadInput | None = None,
) -> Response:
    found = fits.fitted(session, structure_id, typed)
    error = error or found.error
    return page(
        request,
        "fits/show.html",
        status=422 if error and typed else 200,
        found=found,
        site=found.site,
        structure=found.structure,
        form=found.form,
        make=fitted_ratings.make_form(found, typed, utc_now()),
        equations=fitted_ratings.equations(found.fit) if found.fit else [],
        bands=fit_charts.band_rows(found),
        log=typed.get("scale") == "log",
        error=error,
    )


@router.get("/structures/{structure_id}/fits/charts.json")
@office
def charts(session: SessionDep, typed: QueryDep, structure_id: RowId) -> Response:
    found = fits.fitted(session, structure_id, typed)
    said = fit_charts.charts(found, log=typed.get("scale") == "log")
    return fresh_json(said)


@router.get("/structures/{structure_id}/fits.csv")
@router.get("/structures/{structure_id}/fits.json")
@office
def gaugings(
    request: Request, session: SessionDep, typed: QueryDep, structure_id: RowId
) -> Response:
    return listing(request, fit_charts.rows_table(fits.fitted(session, structure_id, typed)))


@router.get("/structures/{structure_id}/fit-bands.csv")
@router.get("/structures/{structure_id}/fit-bands.json")
@office
def bands(request: Request, session: SessionDep, typed: QueryDep, structure_id: RowId) -> Response:
    return listing(request, fit_charts.bands_table(fits.fitted(session, structure_id, typed)))


@router.post("/structures/{structure_id}/fits")
@office
def make(post: PostedDep, structure_id: RowId) -> Response:
    """Show what a rating made of the fit would change; store it when the person has seen that."""
    request, session, form = post.request, post.session, post.form

    def again(error: BadInput) -> Response:
        return fit_page(request, session, structure_id, form, error)

    if form.get("do") == "back":
        return fit_page(request, session, structure_id, form)
    if form.get("do") == "store":
        return post.answer(
            lambda: fitted_ratings.make(session, structure_id, form, post.by_id),
            then=lambda rating: rate_again_at(session, rating.structure_id),
            again=again,
        )
    return post.answer(
        lambda: fitted_ratings.look(session, structure_id, form, post.by_id, utc_now()),
        then=lambda look: look_page(request, look, form),
        again=again,
    )


def look_page(request: Request, look: fitted_ratings.Look, form: Form) -> Response:
    return page(
        request,
        "fits/look.html",
        look=look,
        found=look.change,
        fit=look.found,
        site=look.found.site,
        structure=look.found.structure,
        form=form,
        hidden=look.found.choice | {key: form.get(key, "") for key in fitted_ratings.BOXES},
        equations=fitted_ratings.equations(look.found.fit) if look.found.fit else [],
    )


@dataclass(frozen=True)
class Asked:
    """A rating tested, as asked for; what cannot be read is said on the page."""

    read: Callable[[], RatingTested]
    usual: Callable[[], RatingTested]
    typed: DayRange


def asked(
    session: SessionDep,
    structure_id: RowId,
    typed: RangeDep,
    rating: RowQuery = None,
    every: Annotated[str, Query(max_length=10)] = "",
) -> Asked:
    now = utc_now()
    return Asked(
        lambda: rating_tests.rating_tested(
            session,
            structure_id,
            now,
            rating_id=rating,
            every=every == "yes",
            first=typed.first,
            last=typed.last,
        ),
        lambda: rating_tests.rating_tested(session, structure_id, now),
        typed,
    )


AskedDep = Annotated[Asked, Depends(asked)]


@router.get("/structures/{structure_id}/rating-tests")
@everyone
def rating_tests_page(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    asked: AskedDep,
    scale: ScaleQuery = "",
) -> Response:
    found, error = else_usual(asked.read, asked.usual)
    word, advice = rating_tests.conclusion(found)
    return page(
        request,
        "fits/tests.html",
        found=found,
        site=found.site,
        structure=found.structure,
        described={rating.id: described(rating) for rating in found.ratings},
        word=word,
        advice=advice,
        grid=test_tables.season_grid(found),
        sides=rating_sides.side_by_side(session, found),
        log=scale == "log",
        first=asked.typed.first,
        last=asked.typed.last,
        error=error,
    )


@router.get("/structures/{structure_id}/rating-tests/charts.json")
@everyone
def rating_tests_chart(structure_id: RowId, asked: AskedDep, scale: ScaleQuery = "") -> Response:
    said = test_charts.charts(asked.read(), log=scale == "log")
    return fresh_json(said)


@router.get("/structures/{structure_id}/tested-gaugings.csv")
@router.get("/structures/{structure_id}/tested-gaugings.json")
@everyone
def points(request: Request, structure_id: RowId, asked: AskedDep) -> Response:
    return listing(request, test_tables.points_table(asked.read()))


@router.get("/structures/{structure_id}/seasons.csv")
@router.get("/structures/{structure_id}/seasons.json")
@everyone
def seasons(request: Request, structure_id: RowId, asked: AskedDep) -> Response:
    return listing(request, test_tables.seasons_table(asked.read()))


@router.get("/structures/{structure_id}/rating-tests.csv")
@router.get("/structures/{structure_id}/rating-tests.json")
@everyone
def tests(request: Request, structure_id: RowId, asked: AskedDep) -> Response:
    return listing(request, page_lists.tests_table(asked.read()))


@router.get("/structures/{structure_id}/ratings-compared.csv")
@router.get("/structures/{structure_id}/ratings-compared.json")
@everyone
def compared(
    request: Request, session: SessionDep, structure_id: RowId, asked: AskedDep
) -> Response:
    view = asked.read()
    return listing(request, test_tables.sides_table(view, rating_sides.side_by_side(session, view)))


@router.get("/structures/{structure_id}/ratings/{rating_id}/table.csv")
@router.get("/structures/{structure_id}/ratings/{rating_id}/table.json")
@everyone
def table(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    rating_id: RowId,
    step: StepQuery = "1",
) -> Response:
    return listing(request, rating_tables.rating_table(session, structure_id, rating_id, step))


@router.get("/structures/{structure_id}/ratings/{rating_id}/card")
@everyone
def card(
    request: Request,
    session: SessionDep,
    structure_id: RowId,
    rating_id: RowId,
    step: StepQuery = "",
) -> Response:
    now = utc_now()
    found, error = else_usual(
        lambda: rating_tables.card(session, structure_id, rating_id, step, now),
        lambda: rating_tables.card(session, structure_id, rating_id, "", now),
    )
    return page(
        request,
        "fits/card.html",
        card=found,
        site=found.site,
        structure=found.structure,
        rating=found.rating,
        now=now,
        error=error,
    )
