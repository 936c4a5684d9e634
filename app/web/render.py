"""Templates, their filters, and the one place that looks at a request's headers for its form."""

import re
from collections.abc import Iterable
from typing import Any
from urllib.parse import quote

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, JSONResponse, StreamingResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from app.errors import BadInput
from app.language import csvw, position, trade, words
from app.language.columns import list_head
from app.language.forms import ChangedMeanwhile
from app.language.tables import Column, Table, csv_lines, json_value
from app.paths import TEMPLATES
from app.services.entries.ahead import ahead_of
from app.services.review.sentences import sentence
from app.services.settings import in_force as settings
from app.services.sites.accounts import TooManyAttempts
from app.web.workspace import around

DATE = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")

ENVIRONMENT = Environment(
    loader=FileSystemLoader(TEMPLATES),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
ENVIRONMENT.filters.update(words.FILTERS)
ENVIRONMENT.filters["sentence"] = sentence
ENVIRONMENT.filters["position"] = position.of
ENVIRONMENT.globals["trade"] = trade


def whole_dates(text: str) -> Markup:
    """Return text in which no date breaks at its hyphens at the end of a line."""
    return Markup(DATE.sub(r'<span class="when">\g<0></span>', str(escape(text))))


ENVIRONMENT.filters["ahead_of"] = ahead_of
ENVIRONMENT.filters["whole_dates"] = whole_dates


def wants_html(request: Request) -> bool:
    """Tell whether a person looks at the answer, by path ending and Accept header."""
    if request.url.path.endswith((".csv", ".json")):
        return False
    return "text/html" in request.headers.get("accept", "")


def wants_part(request: Request) -> bool:
    """Tell whether htmx asks for a part of the page rather than the whole."""
    headers = request.headers
    whole = "hx-boosted" in headers or headers.get("hx-history-restore-request") == "true"
    return headers.get("hx-request") == "true" and not whole


def wants_json(request: Request) -> bool:
    """Tell whether a program asks for JSON and no person looks at the answer."""
    accepted = request.headers.get("accept", "")
    return "application/json" in accepted and "text/html" not in accepted


def status_of(error: BadInput | None) -> int:
    """Return the status of a page that shows this fault, 200 where there is none."""
    kinds = ((ChangedMeanwhile, 409), (TooManyAttempts, 429), (BadInput, 422))
    return next((status for kind, status in kinds if isinstance(error, kind)), 200)


def fresh(error: BadInput | None = None) -> dict[str, str]:
    """Return the headers of a page: never from a cache; after too many attempts, when to try."""
    wait = {"retry-after": str(error.wait_s)} if isinstance(error, TooManyAttempts) else {}
    return {"cache-control": "no-store", **wait}


def as_json(error: BadInput) -> JSONResponse:
    """Answer a refusal to a program: field, value, rule and remedy, and all that is wrong."""
    return JSONResponse(error.told(), status_code=status_of(error), headers=fresh(error))


def page(
    request: Request, template: str, status: int | None = None, **context: Any
) -> HTMLResponse:
    """Render a template with what every page needs, such as the person and its site's workspace.

    The status is that of the `error` that it shows; after a clash `now` holds the present values.
    """
    error = context.setdefault("error", None)
    context.setdefault("now", error.now if isinstance(error, ChangedMeanwhile) else {})
    context.setdefault("person", getattr(request.state, "person", None))
    context.setdefault("workspace", around(request, template, context))
    session = getattr(request.state, "session", None)
    context["organisation"] = lambda: settings.value(session, "organisation") if session else ""
    text = ENVIRONMENT.get_template(template).render(
        request=request,
        path=request.url.path,
        demo=request.app.state.settings.demo,
        version=request.app.state.version,
        **context,
    )
    return HTMLResponse(text, status_code=status or status_of(error), headers=fresh(error))


def download_as(name: str) -> dict[str, str]:
    """Return the header that names a download, whatever letters a site code has (RFC 6266)."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in name)
    return {
        "content-disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name)}"
    }


def form_of(request: Request) -> str:
    """Return the form of a list that an address asks for: csv, json, or what describes its CSV."""
    path = request.url.path
    if path.endswith(csvw.ENDING):
        return "described"
    return "csv" if path.endswith(".csv") else "json"


def download(
    request: Request, name: str, columns: tuple[Column, ...], blocks: Iterable[str]
) -> Response:
    """Send a list that is made while it is sent, so that a long one needs little memory.

    The blocks are text in the form that the address asks for; its description needs none.
    """
    form, path, query = form_of(request), request.url.path, request.url.query
    asked = f"?{query}" if query else ""
    last = path.rsplit("/", 1)[-1]
    if form == "described":
        about = csvw.described(name, last.removesuffix(csvw.ENDING) + asked, columns)
        return JSONResponse(about, headers=fresh(), media_type=csvw.MEDIA_TYPE)
    headers = {**download_as(f"{name}.{form}"), **fresh()}
    if form == "csv":
        where = quote(last + csvw.ENDING) + asked
        headers["link"] = f'<{where}>; rel="describedby"; type="{csvw.MEDIA_TYPE}"'
    kind = "text/csv; charset=utf-8" if form == "csv" else "application/json"
    return StreamingResponse(blocks, media_type=kind, headers=headers)


def file_sent(name: str, media_type: str, pieces: Iterable[bytes]) -> Response:
    """Send a file that is made while it is sent, under a name."""
    headers = {**download_as(name), **fresh()}
    return StreamingResponse(pieces, media_type=media_type, headers=headers)


def fresh_json(content: object) -> JSONResponse:
    """Answer JSON that no cache keeps."""
    return JSONResponse(content, headers=fresh())


def listing(request: Request, table: Table, *, after: str | None = None) -> Response:
    """Answer a list as .csv or .json, or what describes its CSV, by the ending of the path.

    A JSON list that is sent in pages has the address of the one `after` it as "next"; the
    last page, or a whole list, has no "next".
    """
    if form_of(request) != "json":
        return download(request, table.name, table.columns, csv_lines(table.columns, table.rows))
    rows = [{c.key: json_value(row.get(c.key)) for c in table.columns} for row in table.rows]
    more = {} if after is None else {"next": after}
    return fresh_json({**list_head(table.name, table.columns), "rows": rows, **more})
