"""Tables of a site with all that explains them, as one zip.

W3C Recommendation "Metadata Vocabulary for Tabular Data", 17 December 2015: every CSV has its
description beside it, and `csv-metadata.json` names them all as one group of tables.
"""

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.language import csvw
from app.language.columns import MADE_BY, list_head
from app.language.tables import csv_lines, json_value
from app.records.sites import Site
from app.services.datasets.parts import Part, parts
from app.services.datasets.tables import codebook
from app.services.datasets.zips import File
from app.services.readings.list import Span
from app.services.settings import in_force as settings
from app.services.sites.register import structures_of

GROUP = "csv-metadata.json"
CODEBOOK = "codebook.csv"


def provenance(session: Session, site: Site, span: Span, at: datetime) -> dict[str, Any]:
    """Return where the figures are from: what every file of them says of itself."""
    return {
        "site": {"code": site.code, "name": site.name, "utc_offset_min": site.utc_offset_min},
        "structures": [
            {"id": one.id, "name": one.name, "family": one.family}
            for one in structures_of(session, site.id or 0)
        ],
        "organisation": settings.value(session, "organisation") or "not stated",
        "licence": settings.value(session, "licence"),
        "invented": site.demo,
        "first_day": None if span.first is None else str(span.first),
        "last_day": None if span.last is None else str(span.last),
        "made_at": at.isoformat().replace("+00:00", "Z"),
        "made_by": MADE_BY,
    }


def about_lines(known: dict[str, Any]) -> list[str]:
    """Return the provenance in words, a line each, for formats that carry text."""
    days = [known["first_day"] or "the first on record", known["last_day"] or "the last on record"]
    return [
        f"Site {known['site']['code']}, {known['site']['name']}"
        + (" (invented, for demonstration)" if known["invented"] else ""),
        f"Organisation: {known['organisation']}. Licence: {known['licence']}.",
        f"Days asked for: {days[0]} to {days[1]}, site time.",
        f"Made by {known['made_by']} at {known['made_at']}.",
    ]


def csv_files(session: Session, site: Site, what: str, span: Span, at: datetime) -> Iterator[File]:
    """Yield the files of a bundle of CSVs; the group of tables and the codebook come first."""
    known = provenance(session, site, span, at)
    found = parts(session, site, what, span)
    tables = [_described(one, known) for one in found]
    book = codebook()
    told = csvw.described(book.name, CODEBOOK, book.columns)
    group = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "@type": "TableGroup",
        "dc:title": f"{site.code} {what}",
        "dc:creator": known["organisation"],
        "dc:rights": known["licence"],
        "dc:provenance": about_lines(known),
        "tables": [
            {key: value for key, value in one.items() if key != "@context"}
            for one in (*tables, told)
        ],
    }
    yield GROUP, [_text(group)]
    yield CODEBOOK, csv_lines(book.columns, book.rows)
    yield CODEBOOK + csvw.ENDING, [_text(told)]
    yield "provenance.json", [_text(known)]
    for part, one in zip(found, tables, strict=True):
        yield one["url"] + csvw.ENDING, [_text(one)]
        yield one["url"], part.lines()


def _described(part: Part, known: dict[str, Any]) -> dict[str, Any]:
    told = csvw.described(part.name, f"{part.name}.csv", part.columns)
    return told | {"dc:rights": known["licence"], "dc:source": about_lines(known)[0]}


def json_files(session: Session, site: Site, what: str, span: Span, at: datetime) -> Iterator[File]:
    """Yield the same tables as JSON, each in the shape of a list, with codebook and provenance."""
    yield "codebook.json", [_text(_listed(codebook()))]
    yield "provenance.json", [_text(provenance(session, site, span, at))]
    for part in parts(session, site, what, span):
        yield f"{part.name}.json", json_lines(part)


def _listed(table: Any) -> dict[str, Any]:
    rows = [{c.key: json_value(row.get(c.key)) for c in table.columns} for row in table.rows]
    return {**list_head(table.name, table.columns), "rows": rows}


def json_lines(part: Part, **beside: Any) -> Iterator[str]:
    """Yield a table as JSON in the shape of a list, a row a line."""
    yield json.dumps({**list_head(part.name, part.columns), **beside})[:-1] + ', "rows": ['
    between = "\n"
    for row in part.rows():
        cells = {c.key: json_value(row.get(c.key)) for c in part.columns}
        yield between + json.dumps(cells, ensure_ascii=False)
        between = ",\n"
    yield "\n]}\n"


def _text(content: object) -> str:
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"
