"""How sure the numbers are: every family's sources, limits and tested tolerance."""

from fastapi import Request, Response

from app.services.sites import families as devices
from app.services.sites.tables import numbers_table
from app.web.guard import everyone, guarded_router
from app.web.render import listing, page

router = guarded_router()


@router.get("/about/numbers.csv")
@router.get("/about/numbers.json")
@everyone
def number_list(request: Request) -> Response:
    return listing(request, numbers_table())


@router.get("/about/numbers")
@everyone
def numbers(request: Request) -> Response:
    return page(request, "about/numbers.html", cards=devices.family_cards())
