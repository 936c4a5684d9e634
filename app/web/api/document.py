"""The OpenAPI document: every address that an access token opens, described from its route.

OpenAPI Specification 3.1.0. What the routes do not say is said here once: what an address is by its
words, what a parameter means by its name, and the shape that all lists share. A new list is in the
document by itself; a test asks every parameter for a meaning.
"""

from typing import Any

from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute

from app.errors import BadInput
from app.language.columns import column_of, list_head
from app.services.entries.kinds import Envelope, HeadReading
from app.services.sync.protocol import MOST_ENTRIES, PROTOCOL
from app.web.api.bearer import scope_of
from app.web.api.examples import SENT_READING

OF = {"sites": "a site", "structures": "a structure", "ratings": "a rating", "plans": "a plan",
      "equipment": "an instrument", "loggers": "a logger", "settings": "a setting",
      "gaugings": "a check gauging", "readings": "a head reading", "visits": "a visit",
      "level-runs": "a level run"}  # fmt: skip
"""What the id behind a word of an address is of."""

MEANINGS: dict[str, tuple[str, object]] = {
    "site_id": ("Id of the site, as /sites.json tells it.", 1),
    "structure_id": ("Id of the structure: /sites/{site_id}/ratings.json tells it.", 1),
    "rating_id": ("Id of the rating, cited by every discharge.", 1),
    "plan_id": ("Id of the plan, as the list of plans tells it.", 1),
    "instrument_id": ("Id of the instrument in the register.", 1),
    "logger_id": ("Id of the logger, as the list of loggers tells it.", 1),
    "entry_id": ("Id of the entry, as the phone gave it.", "0f8fad5b-d9cb-469f-a165-70867728950e"),
    "batch": ("Id of the batch, as /books.json of the site tells it.", ""),
    "key": ("Key of the setting, as /settings.json tells it.", "water_year"),
    "from": ("First site day, year-month-day; open without.", "2026-07-01"),
    "to": ("Last site day, included; open without.", "2026-07-31"),
    "as_of": ("Site day up to which is counted; the last on record without.", "2026-07-31"),
    "structure": ("Only of this structure, where a site has several.", 1),
    "corrected": ("Also readings that a correction replaced.", True),
    "rating": ("Which rating is tested; the one in force without.", 1),
    "every": ("Also gaugings that do not count.", "yes"),
    "step": ("Step of the head, mm.", 5),
    "kind": ("Only of this kind.", ""),
    "state": ("Only in this state.", ""),
    "q": ("Only what holds these letters.", "logger"),
    "find": ("Only sites that hold these letters.", "tansy"),
    "sort": ("Column to sort by.", "name"),
    "in_use": ("Only what is in use.", "yes"),
    "skip": ("Rows to leave out at the beginning.", 0),
    "from_s": ("From this instant on, seconds since 1970-01-01T00:00:00Z.", 1782864000),
    "to_s": ("Up to this instant, seconds since 1970-01-01T00:00:00Z.", 1785542399),
    "limit": ("Most rows of one answer in JSON; or the id of a limit of takes.", 1000),
    "columns": ("Width of the picture that the series is thinned for, pixels.", 800),
    "what": ("Which curve; of a file, which table.", "discharge"),
    "format": ("Format of a file.", "waterml"),
    "with": ("Which other curves.", "head"),
    "at": ("Instant, seconds since 1970-01-01T00:00:00Z.", 1782864000),
    "scale": ("Scale of the axes.", "log"),
    "by": ("Totals by this period.", "month"),
    "month": ("Only of this month.", "2026-07"),
    "site": ("Only of the site with this id.", "1"),
    "subject": ("Only about this kind of thing.", "rating"),
    "before": ("Only before this line of the trail.", 500),
    "person": ("Only of the person with this id.", "1"),
    "round": ("Only of this round.", "due"),
}
"""What a parameter means, by its name, and an example."""

_ERROR = BadInput("from", "2026-02-30", "no such day", "Give year-month-day.").as_dict()
_LIST = {
    **list_head("daily-1", [column_of("day"), column_of("mean_m3s")]),
    "rows": [{"day": "2026-07-01", "mean_m3s": 0.0412}],
}
LIST_SCHEMA = {
    "type": "object",
    "description": "Every list: what it is, titles and UCUM units by column, who made it, rows.",
    "required": ["name", "columns", "units", "meta", "rows"],
    "properties": {
        "name": {"type": "string"},
        "columns": {"type": "object", "additionalProperties": {"type": "string"}},
        "units": {"type": "object", "additionalProperties": {"type": "string"}},
        "meta": {"type": "object"},
        "rows": {"type": "array", "items": {"type": "object"}},
        "next": {"type": "string", "description": "Address of the rows after these, if any."},
    },
}
ERROR_SCHEMA = {
    "type": "object",
    "description": "What is wrong, and how to put it right.",
    "required": ["field", "value", "rule", "remedy"],
    "properties": {part: {"type": "string"} for part in ("field", "value", "rule", "remedy")},
}
REFUSALS = {
    "401": "No access token that runs, and nobody is signed in.",
    "403": "The token, or the role of its person, does not reach so far.",
    "404": "Nothing is here.",
    "422": "Something asked for cannot be.",
}
RECEIPTS = {
    "protocol": PROTOCOL,
    "server_epoch": "7d2f",
    "received_at": "2026-07-01T09:31:02Z",
    "receipts": [{"id": SENT_READING["id"], "state": "stored", "notes": []}],
}


def document(app: FastAPI) -> dict[str, Any]:
    """Return the document of this application, made once."""
    made: dict[str, Any] | None = getattr(app.state, "api_document", None)
    if made is None:
        made = app.state.api_document = _written(app)
    return made


def _written(app: FastAPI) -> dict[str, Any]:
    said = app.openapi()
    opened = {route.path: route for route in _routes(app.routes) if scope_of(route)}
    paths = {}
    for path, route in opened.items():
        operation = next(iter(said["paths"].get(path, {}).values()), None)
        if operation is not None:
            method = "post" if "POST" in (route.methods or ()) else "get"
            paths[path] = {method: _operation(path, method, operation)}
    schemas = {
        "List": LIST_SCHEMA,
        "Refusal": ERROR_SCHEMA,
        "Entry": _plain_schema(Envelope.model_json_schema()),
        "HeadReading": _plain_schema(HeadReading.model_json_schema()),
    }
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Sillbook",
            "version": said["info"]["version"],
            "description": "Lists and exports of the flow record, and the way in for entries. "
            "Figures are SI; a missing value is empty or null, no flow is 0.",
        },
        "servers": [{"url": "/"}],
        "security": [{"token": []}],
        "paths": dict(sorted(paths.items())),
        "components": {
            "securitySchemes": {
                "token": {"type": "http", "scheme": "bearer",
                          "description": "An access token, made on the page /tokens."},
            },
            "schemas": schemas,
        },
    }  # fmt: skip


def _routes(routes: list[BaseRoute]) -> list[APIRoute]:
    found: list[APIRoute] = []
    for route in routes:
        if isinstance(route, APIRoute):
            found.append(route)
        elif (inside := getattr(route, "original_router", None)) is not None:
            found += _routes(inside.routes)
    return found


def _operation(path: str, method: str, said: dict[str, Any]) -> dict[str, Any]:
    summary = "Send entries" if path == "/sync" else summary_of(path)
    more = said.get("description", "")
    answers = {status: _refusal(words) for status, words in REFUSALS.items()}
    told: dict[str, Any] = {
        "summary": summary,
        "description": more or f"{summary}; the same rows as its page.",
        "operationId": f"{method}{path}".translate(str.maketrans("/.-{}", "_____")),
        "tags": [path.split("/")[1].partition(".")[0]],
        "responses": {"200": _answer(path, method), **answers},
    }
    if given := said.get("parameters"):
        told["parameters"] = [_parameter(one) for one in given]
    if method == "post":
        told["requestBody"] = _sent()
    return told


def summary_of(path: str) -> str:
    """Return what an address is, by its words: "Check gaugings of a site, as CSV"."""
    stem, _, form = path.partition(".")
    parts = [part for part in stem.split("/") if part]
    last = parts[-1]
    owner = parts[-2] if last.startswith("{") else parts[-3] if len(parts) > 2 else ""
    if last.startswith("{"):
        words = f"{OF.get(owner, owner)} whole"
    else:
        between = parts[-2] if len(parts) > 1 and not parts[-2].startswith("{") else ""
        words = f"{between} {last}".strip().replace("-", " ")
        holder = next((OF[p] for p in reversed(parts[:-1]) if p in OF), "")
        words += f" of {holder}" if holder else ""
    return f"{words[:1].upper()}{words[1:]}" + (f", as {form.upper()}" if form else "")


def _parameter(said: dict[str, Any]) -> dict[str, Any]:
    words, example = MEANINGS.get(said["name"], ("", ""))
    return {**said, "description": words, **({"example": example} if example != "" else {})}


def _answer(path: str, method: str) -> dict[str, Any]:
    if method == "post":
        kind, shape, example = "application/json", {"type": "object"}, RECEIPTS
        return {"description": "A receipt for each entry: stored, already_held or refused.",
                "content": {kind: {"schema": shape, "example": example}}}  # fmt: skip
    if path.endswith(".csv"):
        return {
            "description": "RFC 4180, UTF-8, one header row; /….csv-metadata.json describes it.",
            "content": {"text/csv": {"schema": {"type": "string"},
                                     "example": "day,mean_m3s\r\n2026-07-01,0.0412\r\n"}},
        }  # fmt: skip
    if path.endswith(".json"):
        shape = {"$ref": "#/components/schemas/List"}
        return {
            "description": "A list; one thing whole, or a chart, has keys of its own.",
            "content": {"application/json": {"schema": {"anyOf": [shape, {"type": "object"}]},
                                             "example": _LIST}},
        }  # fmt: skip
    return {"description": "The file."}


def _refusal(words: str) -> dict[str, Any]:
    shape = {"$ref": "#/components/schemas/Refusal"}
    return {"description": words,
            "content": {"application/json": {"schema": shape, "example": _ERROR}}}  # fmt: skip


def _sent() -> dict[str, Any]:
    entry = {"$ref": "#/components/schemas/Entry"}
    shape = {
        "type": "object",
        "required": ["protocol", "phone", "entries"],
        "properties": {
            "protocol": {"const": PROTOCOL},
            "phone": {"type": "string", "maxLength": 64, "description": "Who sends: any name."},
            "sent_at": {"type": "string", "format": "date-time"},
            "entries": {"type": "array", "maxItems": MOST_ENTRIES, "items": entry},
        },
    }
    example = {"protocol": PROTOCOL, "phone": "script", "entries": [SENT_READING]}
    return {"required": True,
            "content": {"application/json": {"schema": shape, "example": example}}}  # fmt: skip


def _plain_schema(schema: dict[str, Any]) -> dict[str, Any]:
    """Return a model's schema with what it refers to inside, as a component must hold it."""
    inside = schema.pop("$defs", {})

    def put_in(part: Any) -> Any:
        if isinstance(part, dict):
            if "$ref" in part:
                return put_in(inside[part["$ref"].rpartition("/")[2]])
            return {key: put_in(value) for key, value in part.items()}
        return [put_in(one) for one in part] if isinstance(part, list) else part

    plain: dict[str, Any] = put_in(schema)
    return plain
