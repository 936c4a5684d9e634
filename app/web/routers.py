"""Every router of the office, the phone and the sign-in: what the application mounts."""

from fastapi import APIRouter
from fastapi.routing import APIRoute

from app.language import csvw
from app.web import moved
from app.web.guard import guarded_router
from app.web.routes import (
    about,
    api,
    archive,
    books,
    choosing,
    corrections,
    datasets,
    days,
    entries,
    equipment,
    field,
    fits,
    gaugings,
    history,
    install,
    kept,
    logger_files,
    loggers,
    map,
    months,
    people,
    plans,
    readings,
    record,
    rerating,
    review,
    settings,
    sheets,
    sites,
    structures,
    surveys,
    sync,
    takes,
    today,
    tokens,
    trail,
    visits,
)

LISTED = (
    about.router,
    api.router,
    books.router,
    archive.router,
    choosing.router,
    corrections.router,
    datasets.router,
    days.router,
    entries.router,
    field.router,
    fits.router,
    equipment.router,
    gaugings.router,
    history.router,
    install.router,
    kept.router,
    logger_files.router,
    loggers.router,
    map.router,
    people.router,
    plans.router,
    readings.router,
    record.router,
    rerating.router,
    review.router,
    months.router,
    settings.router,
    sheets.router,
    sites.router,
    structures.router,
    surveys.router,
    sync.router,
    takes.router,
    today.router,
    tokens.router,
    trail.router,
    visits.router,
)


def _descriptions() -> APIRouter:
    """Return a description beside every CSV, by the endpoint that makes the list.

    It stands before all others, because `/level-runs/ID.json` takes its address too.
    """
    router = guarded_router()
    found = [route for listed in LISTED for route in listed.routes]
    for route in found:
        if isinstance(route, APIRoute) and route.path.endswith(".csv"):
            at = route.path + csvw.ENDING
            router.add_api_route(at, route.endpoint, methods=["GET"], include_in_schema=False)
    return router


ROUTERS = (_descriptions(), *LISTED, moved.router)
