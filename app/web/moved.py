"""Old addresses: where what stood there is now. They redirect for good, with their query.

`MOVED` is the one table. A signed-out client is refused before it, as everywhere; whether the thing
exists is for the new address to say. One name changed its meaning and cannot redirect: the head
readings of a site were `/sites/ID/gaugings.csv`, which is the list of its check gaugings now.
"""

import re
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from app.web.guard import everyone, guarded_router

LIST = (".csv", ".json")
PAGE = ("",)

# old address, new address, the endings that both take, the method
MOVED: tuple[tuple[str, str, tuple[str, ...], str], ...] = (
    ("/sites/{id}/check-gaugings", "/sites/{id}/gaugings", (*PAGE, *LIST), "GET"),
    ("/check-gaugings/{id}", "/gaugings/{id}", (".json", *PAGE), "GET"),
    ("/check-gaugings/{id}/observed", "/gaugings/{id}/observed", LIST, "GET"),
    ("/sites/{id}/history", "/sites/{id}/readings", PAGE, "GET"),
    ("/sites/{id}/daily", "/sites/{id}/daily-readings", LIST, "GET"),
    ("/structures/{id}/standing", "/structures/{id}/rating-tests", PAGE, "GET"),
    ("/structures/{id}/standing", "/structures/{id}/tested-gaugings", LIST, "GET"),
    ("/structures/{id}/standing-tests", "/structures/{id}/rating-tests", LIST, "GET"),
    (
        "/structures/{id}/standing/charts",
        "/structures/{id}/rating-tests/charts",
        (".json",),
        "GET",
    ),
    ("/structures/{id}/corrections", "/structures/{id}/layers", (*PAGE, *LIST), "GET"),
    ("/structures/{id}/corrections", "/structures/{id}/layers", PAGE, "POST"),
    ("/structures/{id}/corrections-offered", "/structures/{id}/layers-offered", LIST, "GET"),
    (
        "/structures/{id}/corrections/preview",
        "/structures/{id}/layers/preview",
        (".json",),
        "GET",
    ),
    ("/structures/{id}/corrections/checks", "/structures/{id}/layers/checks", (".json",), "GET"),
    (
        "/structures/{id}/corrections/{layer}/withdraw",
        "/structures/{id}/layers/{layer}/withdraw",
        PAGE,
        "POST",
    ),
)


def _to(new: str, status: int) -> Callable[[Request], Response]:
    @everyone
    def moved(request: Request) -> Response:
        given: dict[str, Any] = request.path_params
        path = re.sub(r"\{(\w+)\}", lambda part: quote(str(given[part[1]]), safe=""), new)
        query = request.url.query
        return RedirectResponse(f"{path}?{query}" if query else path, status_code=status)

    return moved


router = guarded_router()
for _old, _new, _endings, _method in MOVED:
    for _ending in _endings:
        # 308 keeps the form that was sent; 301 is what every reader of a page follows
        _answer = _to(_new + _ending, 301 if _method == "GET" else 308)
        router.add_api_route(_old + _ending, _answer, methods=[_method], include_in_schema=False)
