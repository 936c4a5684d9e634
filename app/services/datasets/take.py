"""What is sent when somebody takes the data out: a file name, its media type, and its bytes."""

from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, select

from app.errors import BadInput
from app.records.sites import Site
from app.services.datasets import bundle, columnar, features, netcdf, waterml
from app.services.datasets.asked import Form, form_for
from app.services.datasets.zips import zipped
from app.services.readings.list import span_of
from app.services.sites.register import get_site

Opened = AbstractContextManager[Session]


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is asked for: `site_id` None means all sites; days as typed, empty for all."""

    what: str
    format_key: str
    site_id: int | None = None
    first: str = ""
    last: str = ""

    @property
    def form(self) -> Form:
        """The format, where it holds what is asked for; raises BadInput."""
        return form_for(self.format_key, self.what)

    def checked(self) -> "Wish":
        """Return the wish where it can be met; raises BadInput before anything is sent."""
        form = self.form
        span_of(self.first, self.last, 0)
        if self.site_id is None and self.format_key not in OF_ALL_SITES:
            raise BadInput(
                "site",
                "",
                f"{form.words} is of one site",
                f"Name a site, or take {' or '.join(OF_ALL_SITES)}.",
            )
        return self

    def file_name(self, code: str) -> str:
        days = [day for day in (self.first, self.last) if day]
        whose = code or "all-sites"
        return "-".join([self.what, whose, *days]) + f".{self.form.suffix(self.what)}"

    @property
    def media_type(self) -> str:
        return "application/zip" if self.form.suffix(self.what) == "zip" else self.form.media_type


OF_ALL_SITES = ("geojson", "parquet")


def pieces(opened: Opened, wish: Wish, at: datetime) -> Iterator[bytes]:
    """Yield the bytes; the session is opened when the first is asked for, closed after the last."""
    with opened as session:
        for piece in _pieces(session, wish, at):
            yield piece.encode() if isinstance(piece, str) else piece


def _pieces(session: Session, wish: Wish, at: datetime) -> Iterable[str | bytes]:
    if wish.format_key == "geojson":
        return features.geojson(session, at, wish.site_id)
    if wish.format_key == "parquet":
        sites = (
            session.exec(select(Site).order_by(Site.code)).all()
            if wish.site_id is None
            else [get_site(session, wish.site_id)]
        )
        files = columnar.files(
            session,
            sites,
            wish.what,
            lambda site: span_of(wish.first, wish.last, site.utc_offset_min),
        )
        return zipped(files, at)
    site = get_site(session, wish.site_id or 0)
    span = span_of(wish.first, wish.last, site.utc_offset_min)
    if wish.format_key == "netcdf":
        return netcdf.netcdf(session, site, span, at)
    if wish.format_key == "waterml":
        return waterml.waterml(session, site, wish.what, span, at)
    if wish.format_key == "csv":
        return zipped(bundle.csv_files(session, site, wish.what, span, at), at)
    return zipped(bundle.json_files(session, site, wish.what, span, at), at)
