"""The lists of the pages as files of the archive, each with its description beside it."""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from sqlmodel import Session, col, select

from app.language import csvw
from app.language.tables import Column, Table, csv_lines
from app.records.sites import Site
from app.services.gaugings.results import gauging_results
from app.services.gaugings.tables import gaugings_table
from app.services.readings.export import EXPORT_COLUMNS, reading_rows
from app.services.readings.list import span_of
from app.services.record.export import DAILY_FILE_COLUMNS, SERIES_COLUMNS, daily_rows, series_rows
from app.services.sites.register import structures_of
from app.services.sites.tables import people_table, ratings_table, site_list, zeros_table

Rows = Iterable[dict[str, Any]]
Listed = tuple[str, Callable[[], tuple[Sequence[Column], Rows]]]
"""Name without ending, and what gives columns and rows when they are wanted."""


def all_lists(session: Session) -> Iterator[Listed]:
    """Yield every list in the order of its name; rows are read when they are asked for."""
    found: list[Listed] = [
        ("people", lambda: _by_id(people_table(session))),
        ("sites", lambda: _by_id(site_list(session))),
    ]
    for site in session.exec(select(Site).order_by(col(Site.id))).all():
        assert site.id is not None
        found += _of_site(session, site, site.id)
    return iter(sorted(found, key=lambda one: one[0]))


def _by_id(table: Table) -> tuple[Sequence[Column], Rows]:
    """Return a table in the order of its ids: engines sort names differently."""
    return table.columns, sorted(table.rows, key=lambda row: int(row["id"]))


def _whole(table: Table) -> tuple[Sequence[Column], Rows]:
    return table.columns, table.rows


def _of_site(session: Session, site: Site, site_id: int) -> Iterator[Listed]:
    span = span_of("", "", site.utc_offset_min)
    yield f"gauge-zeros-site-{site_id}", lambda: _whole(zeros_table(session, site_id))
    yield f"ratings-site-{site_id}", lambda: _whole(ratings_table(session, site_id))
    yield (
        f"gaugings-site-{site_id}",
        lambda: _whole(gaugings_table(site, gauging_results(session, site_id))),
    )
    yield (
        f"readings-site-{site_id}",
        lambda: (EXPORT_COLUMNS, reading_rows(session, site, span)),
    )
    for structure in structures_of(session, site_id):
        assert structure.id is not None
        yield from _of_structure(session, structure.id)


def _of_structure(session: Session, structure_id: int) -> Iterator[Listed]:
    yield (
        f"daily-structure-{structure_id}",
        lambda: (DAILY_FILE_COLUMNS, daily_rows(session, structure_id)),
    )
    yield (
        f"series-structure-{structure_id}",
        lambda: (SERIES_COLUMNS, series_rows(session, structure_id)),
    )


def csv_name(name: str) -> str:
    return f"lists/{name}.csv"


def csv_blocks(columns: Sequence[Column], rows: Rows) -> Iterator[bytes]:
    return (text.encode() for text in csv_lines(columns, rows))


def description(name: str, columns: Sequence[Column]) -> bytes:
    """Return what describes a list to a reader of CSV on the Web."""
    told = csvw.described(name, f"{name}.csv", columns)
    return json.dumps(told, indent=1).encode()
