"""What the page "Take the data out" shows: the choices, and the first rows of what is chosen."""

from dataclasses import dataclass

from sqlmodel import Session

from app.language.tables import Table, csv_cell
from app.records.sites import Site
from app.services.datasets.asked import FORMS, WHATS
from app.services.datasets.parts import first_rows, parts
from app.services.datasets.take import OF_ALL_SITES, Wish
from app.services.readings.list import span_of
from app.services.settings import in_force as settings
from app.services.sites.tables import site_list

FIRST_ROWS = 5


@dataclass(frozen=True, kw_only=True)
class Preview:
    """The first rows of a table, as they stand in its CSV."""

    name: str
    heads: list[tuple[str, str]]
    rows: list[list[str]]


@dataclass(frozen=True, kw_only=True)
class Look:
    """The choices of a page, and the tables that would be taken."""

    whats: list[tuple[str, str]]
    forms: list[tuple[str, str]]
    previews: list[Preview]
    licence: str


def look(session: Session, wish: Wish, site: Site | None, *, sure: bool) -> Look:
    """Return what the page shows; without first rows where the wish cannot be met (`sure`)."""
    able = [key for key in FORMS if site is not None or key in OF_ALL_SITES]
    held = {what for key in able for what in FORMS[key].holds}
    tables: list[Table] = []
    if sure and site is not None:
        span = span_of(wish.first, wish.last, site.utc_offset_min)
        tables = [first_rows(one, FIRST_ROWS) for one in parts(session, site, wish.what, span)]
    elif sure and wish.what == "sites":
        found = site_list(session)
        tables = [Table(found.name, found.columns, found.rows[:FIRST_ROWS])]
    return Look(
        whats=[(key, words) for key, words in WHATS.items() if key in held],
        forms=[(key, FORMS[key].words) for key in able],
        previews=[_preview(table) for table in tables],
        licence=settings.value(session, "licence"),
    )


def _preview(table: Table) -> Preview:
    return Preview(
        name=table.name,
        heads=[(column.key, column.title) for column in table.columns],
        rows=[[csv_cell(row.get(c.key)) for c in table.columns] for row in table.rows],
    )
