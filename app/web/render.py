"""Templates, their filters, and the one place that looks at a request's headers for its form."""

from typing import Any
from urllib.parse import quote

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, JSONResponse, StreamingResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.language import words
from app.language.tables import Table, csv_lines, json_value
from app.paths import TEMPLATES
from app.services.entries.ahead import ahead_of

FRESH = {"cache-control": "no-store"}

ENVIRONMENT = Environment(
    loader=FileSystemLoader(TEMPLATES),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
ENVIRONMENT.filters.update(words.FILTERS)
ENVIRONMENT.filters["ahead_of"] = ahead_of


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


def page(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """Render a template with what every page needs: the person, the path, the demo mark."""
    context.setdefault("person", getattr(request.state, "person", None))
    text = ENVIRONMENT.get_template(template).render(
        request=request,
        path=request.url.path,
        demo=request.app.state.settings.demo,
        version=request.app.state.version,
        **context,
    )
    return HTMLResponse(text, status_code=status, headers=FRESH)


def download_as(name: str) -> dict[str, str]:
    """Return the header that names a download, whatever letters a site code has (RFC 6266)."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in name)
    return {
        "content-disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name)}"
    }


def listing(request: Request, table: Table, *, after: str | None = None) -> Response:
    """Answer a list as .csv or .json, by the ending of the path.

    A JSON list that is sent in pages has the address of the one `after` it as "next"; the
    last page, or a whole list, has no "next".
    """
    if request.url.path.endswith(".csv"):
        return StreamingResponse(
            csv_lines(table.columns, table.rows),
            media_type="text/csv; charset=utf-8",
            headers={
                **download_as(f"{table.name}.csv"),
                "cache-control": "no-store",
            },
        )
    rows = [{c.key: json_value(row.get(c.key)) for c in table.columns} for row in table.rows]
    more = {} if after is None else {"next": after}
    return JSONResponse(
        {
            "name": table.name,
            "columns": {c.key: c.title for c in table.columns},
            "rows": rows,
            **more,
        },
        headers=FRESH,
    )
