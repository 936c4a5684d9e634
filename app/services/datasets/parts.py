"""The tables of a site that can be taken out: each with its columns, its rows when asked for."""

from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from sqlmodel import Session

from app.language.tables import Column, Table, csv_lines
from app.records.sites import Site, Structure
from app.services.days import daily
from app.services.gaugings import tables as gauging_tables
from app.services.gaugings.results import gauging_results
from app.services.lists.export import LAYER_COLUMNS, layers_table
from app.services.readings.export import EXPORT_COLUMNS, reading_rows
from app.services.readings.list import Span
from app.services.record.export import (
    DAILY_FILE_COLUMNS,
    SERIES_COLUMNS,
    series_lines,
    series_rows,
)
from app.services.sites import tables as site_tables
from app.services.sites.register import get_site, structures_of

Rows = Callable[[], Iterable[dict[str, Any]]]


@dataclass(frozen=True, kw_only=True)
class Part:
    """A table of a site; `columns`, `rows` and `lines` are of the same cells."""

    what: str
    name: str
    columns: tuple[Column, ...]
    rows: Rows
    quick: Callable[[], Iterator[str]] | None = None

    def lines(self) -> Iterator[str]:
        """Yield the table as CSV."""
        return self.quick() if self.quick else csv_lines(self.columns, self.rows())


COLUMNS_OF = {
    "readings": EXPORT_COLUMNS,
    "series": SERIES_COLUMNS,
    "daily": DAILY_FILE_COLUMNS,
    "gaugings": gauging_tables.COLUMNS,
    "ratings": site_tables.RATING_COLUMNS,
    "gauge zeros": site_tables.ZERO_COLUMNS,
    "layers": LAYER_COLUMNS,
    "sites": site_tables.SITE_COLUMNS,
}
"""The columns of every table that is taken out: what the codebook explains."""
EVERYTHING = tuple(COLUMNS_OF)


def seconds(span: Span) -> tuple[int | None, int | None]:
    """Return a range of days as epoch seconds, both ends included."""
    begin = None if span.since is None else int(span.since.timestamp())
    end = None if span.until is None else int(span.until.timestamp()) - 1
    return begin, end


def parts(session: Session, site: Site, what: str, span: Span) -> list[Part]:
    """Return the tables that are asked for; a site without structures has those of none.

    Ratings, gauge zeros and layers are whole, whatever the range: figures inside it cite them.
    """
    wanted = EVERYTHING if what == "everything" else (what,)
    return [part for one in wanted for part in _parts(session, site, one, span)]


def gauging_rows(session: Session, site: Site, span: Span) -> list[dict[str, Any]]:
    """Return the check gaugings of a range of days that stand."""
    found = gauging_results(session, site.id or 0, span.since, span.until)
    return gauging_tables.gaugings_table(site, found).rows


def _parts(session: Session, site: Site, what: str, span: Span) -> list[Part]:
    key = site.id or 0
    if what in ("series", "daily", "layers"):
        make = {"series": _series, "daily": _daily, "layers": _layers}[what]
        return [make(session, one, span) for one in structures_of(session, key)]
    tables: dict[str, Rows] = {
        "readings": lambda: reading_rows(session, site, span),
        "gaugings": lambda: gauging_rows(session, site, span),
        "ratings": lambda: site_tables.ratings_table(session, key).rows,
        "gauge zeros": lambda: site_tables.zeros_table(session, key).rows,
        "sites": lambda: [row for row in site_tables.site_list(session).rows if row["id"] == key],
    }
    name = what.replace(" ", "-")
    return [Part(what=what, name=name, columns=COLUMNS_OF[what], rows=tables[what])]


def _series(session: Session, structure: Structure, span: Span) -> Part:
    key, (begin, end) = structure.id or 0, seconds(span)
    return Part(
        what="series",
        name=f"series-{key}",
        columns=SERIES_COLUMNS,
        rows=lambda: series_rows(session, key, begin, end),
        quick=lambda: series_lines(session, key, begin, end),
    )


def days_of(session: Session, structure_id: int, span: Span) -> list[dict[str, Any]]:
    """Return the days of the long record in a range; none where the range lies beside it."""
    whole = daily.span(session, structure_id)
    if whole is None:
        return []
    first = max(whole[0], span.first or whole[0])
    last = min(whole[1], span.last or whole[1])
    return daily.shown(session, structure_id, first, last) if first <= last else []


def _daily(session: Session, structure: Structure, span: Span) -> Part:
    key, code = structure.id or 0, get_site(session, structure.site_id).code
    return Part(
        what="daily",
        name=f"daily-{key}",
        columns=DAILY_FILE_COLUMNS,
        rows=lambda: (
            {"site_code": code, "structure_id": key, **row, "day": str(row["day"])}
            for row in days_of(session, key, span)
        ),
    )


def _layers(session: Session, structure: Structure, _span: Span) -> Part:
    key = structure.id or 0
    return Part(
        what="layers",
        name=f"layers-{key}",
        columns=LAYER_COLUMNS,
        rows=lambda: layers_table(session, key).rows,
    )


def first_rows(part: Part, most: int) -> Table:
    """Return the first rows of a table, to look at before it is taken."""
    every = part.rows()
    rows = list(islice(every, most))
    if isinstance(every, Generator):
        every.close()  # and with it what it reads from
    return Table(part.name, part.columns, rows)
