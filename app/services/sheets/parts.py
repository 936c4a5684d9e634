"""What a sheet is made of: sections with facts, tables, drawings, pictures and words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from sqlmodel import Session

from app import __version__
from app.errors import BadInput
from app.language import words
from app.language.drawing import Drawing
from app.records.sites import Site, Structure
from app.services.surveys.photos import PhotoView

PAPERS = ("a4", "letter")


@dataclass(frozen=True)
class Grid:
    """A table as it is printed: heads and cells in words; `wide` is set in small type."""

    heads: Sequence[str]
    rows: Sequence[Sequence[object]]
    name: str = ""
    wide: bool = False


@dataclass(kw_only=True)
class Section:
    """A part of a sheet under one heading; `on_new_page` where it begins a page."""

    title: str
    facts: list[tuple[str, str]] = field(default_factory=list)
    grids: list[Grid] = field(default_factory=list)
    drawings: list[Drawing] = field(default_factory=list)
    photos: list[PhotoView] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    on_new_page: bool = False
    blank_rows: int = 0

    @property
    def empty(self) -> bool:
        """Tell whether nothing is on record for it."""
        return not (self.facts or self.grids or self.drawings or self.photos or self.words)


@dataclass(kw_only=True)
class Sheet:
    """A whole sheet with what stands at the head of each of its pages."""

    what: str
    title: str
    site: Site
    period: str
    made_by: str
    made_at: datetime
    organisation: str
    sections: list[Section]

    @property
    def head(self) -> str:
        """Return the line that every page bears."""
        made = words.site_time(self.made_at, self.site.utc_offset_min)
        parts = [f"{self.site.name} ({self.site.code})", self.title, self.period,
                 f"made {made} by {self.made_by}", f"Sillbook {__version__}"]  # fmt: skip
        return " · ".join(part for part in parts if part)

    @property
    def invented(self) -> bool:
        return self.site.demo


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a sheet is asked for: site, days, who asks, when."""

    session: Session
    site: Site
    structures: Sequence[Structure]
    first: date | None
    last: date | None
    now: datetime

    def local(self, moment: datetime | None) -> str:
        """Return an instant on the site's clock, without its zone."""
        return words.site_clock(moment, self.site.utc_offset_min)[:16]

    def within(self, moment: datetime | None) -> bool:
        """Tell whether an instant lies in the days asked for."""
        if moment is None:
            return False
        day = date.fromisoformat(self.local(moment)[:10])
        return (self.first is None or self.first <= day) and (self.last is None or day <= self.last)

    def named(self, title: str, structure: Structure) -> str:
        """Return the heading of a structure's section; one alone needs no name."""
        return title if len(self.structures) == 1 else f"{title}: {structure.name}"

    @property
    def period(self) -> str:
        if self.first is None and self.last is None:
            return "all on record"
        return f"{self.first or 'the beginning'} to {self.last or 'the last day'}"


Maker = Callable[[Asked], list[Section]]


def paper_of(typed: str) -> str:
    """Return the paper asked for; raises BadInput for one that is not kept."""
    if typed not in PAPERS:
        raise BadInput("paper", typed[:20], "no such paper", f"Choose {' or '.join(PAPERS)}.")
    return typed
