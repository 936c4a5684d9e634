"""For scripts: how to ask with an access token, and the document of all addresses."""

from fastapi import Request, Response

from app.records.database import utc_now
from app.records.sites import Site, Structure
from app.services.sites.register import first_structure
from app.web.api.document import document
from app.web.api.examples import examples, reading_now
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router
from app.web.render import fresh_json, page

router = guarded_router()
NO_SITE = Site(id=1, code="SITE", name="the first site")
NO_STRUCTURE = Structure(id=1, site_id=1, name="", family="", dims={})


@router.get("/api")
@everyone
def api_page(request: Request, session: SessionDep, person: PersonDep) -> Response:
    """Show three worked examples for this server, with a site that is there."""
    found = first_structure(session)
    site, structure = found or (NO_SITE, NO_STRUCTURE)
    entry = reading_now(person, site, structure, utc_now())
    base = str(request.base_url).rstrip("/")
    addresses = document(request.app)["paths"]
    return page(
        request,
        "api/index.html",
        examples=examples(base, site, entry),
        empty=found is None,
        addresses=[
            (path, how["summary"]) for path, ways in addresses.items() for how in ways.values()
        ],
    )


@router.get("/api/document.json")
@everyone
def api_document(request: Request) -> Response:
    """Answer the OpenAPI document: every address that an access token opens."""
    return fresh_json(document(request.app))
