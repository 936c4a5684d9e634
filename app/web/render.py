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
from app.language import position, trade, words
from app.language.forms import ChangedMeanwhile
from app.language.tables import Table, csv_lines, json_value
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


def download(name: str, blocks: Iterable[str], *, as_json: bool = False) -> Response:
    """Send text as a file of this name while it is made, so that a long one needs little memory."""
    ending = "json" if as_json else "csv"
    return StreamingResponse(
        blocks,
        media_type="application/json" if as_json else "text/csv; charset=utf-8",
        headers={**download_as(f"{name}.{ending}"), **fresh()},
    )


def fresh_json(content: object) -> JSONResponse:
    """Answer JSON that no cache keeps."""
    return JSONResponse(content, headers=fresh())


def listing(request: Request, table: Table, *, after: str | None = None) -> Response:
    """Answer a list as .csv or .json, by the ending of the path.

    A JSON list that is sent in pages has the address of the one `after` it as "next"; the
    last page, or a whole list, has no "next".
    """
    if request.url.path.endswith(".csv"):
        return download(table.name, csv_lines(table.columns, table.rows))
    rows = [{c.key: json_value(row.get(c.key)) for c in table.columns} for row in table.rows]
    more = {} if after is None else {"next": after}
    return fresh_json(
        {
            "name": table.name,
            "columns": {c.key: c.title for c in table.columns},
            "rows": rows,
            **more,
        }
    )
