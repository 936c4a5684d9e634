"""How sure the numbers are: every family's sources, limits and tested tolerance."""

from fastapi import Request, Response

from app.language.tables import Column, Table
from app.services.sites import families as devices
from app.web.guard import everyone, guarded_router
from app.web.render import listing, page

router = guarded_router()

NUMBER_COLUMNS = (
    Column("family", "Key"),
    Column("name", "Family"),
    Column("tested_tolerance_pct", "RatingTested against its table within, %"),
    Column("tested_words", "RatingTested within"),
    Column("weakest_provenance", "Rests at worst on"),
    Column("limits", "Limits"),
    Column("can_drown", "Can drown"),
    Column("correction", "Drowned flow is corrected"),
    Column("sources", "Sources"),
)


@router.get("/about/numbers.csv")
@router.get("/about/numbers.json")
@everyone
def number_list(request: Request) -> Response:
    cards = [
        card | {"sources": [f"{s['text']} ({s['provenance']})" for s in card["sources"]]}
        for card in devices.family_cards()
    ]
    return listing(request, Table("numbers", NUMBER_COLUMNS, cards))


@router.get("/about/numbers")
@everyone
def numbers(request: Request) -> Response:
    return page(request, "about/numbers.html", cards=devices.family_cards())
