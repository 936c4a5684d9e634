"""The map for a page and its lists: the sheet, the sites beside it, how far two are apart."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.language.tables import Column, Table
from app.services.map.drawing import Sheet, code_of, sheet, state_words
from app.services.map.lines import LineView, lines
from app.services.map.places import Places, apart_m, places
from app.services.today.board import SiteRow, board

SITE_COLUMNS = (
    Column("site_id", "Site id"),
    Column("code", "Code"),
    Column("name", "Site"),
    Column("latitude", "Latitude, degrees"),
    Column("longitude", "Longitude, degrees"),
    Column("east_m", "East of the midst, m"),
    Column("north_m", "North of the midst, m"),
    Column("state", "State"),
    Column("place", "On the map"),
)
LINE_COLUMNS = (
    Column("id", "Line"),
    Column("name", "Name"),
    Column("file_name", "File"),
    Column("sha256", "SHA-256 of the file"),
    Column("parts", "Lines"),
    Column("positions", "Positions"),
    Column("length_m", "Length, m"),
    Column("by", "Brought by"),
    Column("added_at", "Brought, UTC"),
    Column("withdrawn_at", "Taken off, UTC"),
    Column("withdrawn_by", "Taken off by"),
    Column("withdraw_reason", "Why taken off"),
)
DRAWN, FAR, WITHOUT = "drawn", "too far from the others", "no position"


@dataclass(frozen=True, kw_only=True)
class Beside:
    """A site in the list beside the map."""

    row: SiteRow
    place: str
    code: int
    state: str
    east_m: float | None
    north_m: float | None

    def as_row(self) -> dict[str, Any]:
        """Return the site as a row of SITE_COLUMNS."""
        site = self.row.site
        return {
            "site_id": site.id,
            **{key: getattr(site, key) for key in ("code", "name", "latitude", "longitude")},
            **{key: getattr(self, key) for key in ("east_m", "north_m", "state", "place")},
        }


@dataclass(frozen=True, kw_only=True)
class MapPage:
    """Everything the page shows."""

    sheet: Sheet | None
    places: Places
    beside: Sequence[Beside]
    lines: Sequence[LineView]
    pair: tuple[SiteRow, SiteRow] | None
    apart_m: float | None


def beside(rows: Sequence[SiteRow], found: Places) -> list[Beside]:
    """Return every site with its place, in the order of the board."""
    at = {one.row.id: one.at for one in found.sites}
    far = {row.id for row in found.far}
    listed = []
    for row in rows:
        point = at.get(row.id)
        listed.append(
            Beside(
                row=row,
                place=DRAWN if point else FAR if row.id in far else WITHOUT,
                code=code_of(row),
                state=state_words(row),
                east_m=round(point[0], 1) if point else None,
                north_m=round(point[1], 1) if point else None,
            )
        )
    return listed


def map_page(session: Session, now: datetime, one: int | None, other: int | None) -> MapPage:
    """Return the map with the distance between two sites, where two are chosen.

    Raises
    ------
    BadInput
        When a chosen site is none, or the two are one.
    """
    rows, drawn = board(session, now), lines(session)
    found = places(rows, drawn)
    pair = None
    if one is not None and other is not None:
        pair = (chosen(rows, "from", one), chosen(rows, "to", other))
        if one == other:
            raise BadInput("to", pair[1].site.code, "it is the same site", "Choose two sites.")
    return MapPage(
        sheet=sheet(found, (one, other) if one is not None and other is not None else None),
        places=found,
        beside=beside(rows, found),
        lines=drawn,
        pair=pair,
        apart_m=apart_m(pair[0].site, pair[1].site) if pair else None,
    )


def chosen(rows: Sequence[SiteRow], field: str, site_id: int) -> SiteRow:
    """Return the row of a site that somebody chose; raises BadInput."""
    for row in rows:
        if row.id == site_id:
            return row
    raise BadInput(field, site_id, "there is no such site", "Choose one of the list.")


def sites_table(session: Session, now: datetime) -> Table:
    """Return every site with its place on the map as a table."""
    found = map_page(session, now, None, None)
    return Table("map", SITE_COLUMNS, [one.as_row() for one in found.beside])


def lines_table(session: Session) -> Table:
    """Return the lines that were brought, those taken off too, as a table."""
    return Table("lines", LINE_COLUMNS, [line.as_row() for line in lines(session)])
