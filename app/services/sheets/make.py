"""The sheets there are, and one as a page of HTML: office and command line share it."""

import base64
from collections.abc import Callable
from datetime import datetime

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import site_days
from app.paths import STATIC, TEMPLATES
from app.records.sites import Site
from app.services.entries.kept_files import kept
from app.services.settings import in_force as settings
from app.services.sheets.field import cards, field_sheets
from app.services.sheets.installation import installation
from app.services.sheets.parts import Asked, Maker, Sheet, paper_of
from app.services.sheets.report import report
from app.services.sheets.takes import takes
from app.services.sites.register import structures_of
from app.services.surveys.photos import PhotoView

SHEETS: dict[str, tuple[str, str, Maker, bool]] = {
    "report": ("Site report", "What is there, rating, flow, gaugings, levels, corrections, "
               "changes, and what is not known.", report, True),
    "takes": ("Season report of takes", "Each limit and its use, day by day.", takes, True),
    "installation": ("Installation file", "Plan, hold points, levels, as built, opening, photos.",
                     installation, False),
    "field": ("Field sheets", "To fill by hand: reading, gauging, level run, hold points, visit.",
              field_sheets, False),
    "card": ("Field card", "Staff reading to discharge, to hang in the gauge house.", cards, False),
}  # fmt: skip
"""Key, title, what is on it, what makes it, and whether days are asked for."""

STYLES = ("tokens.css", "sheets.css")

PAGES = Environment(
    loader=FileSystemLoader(TEMPLATES),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def sheet_of(
    session: Session, site: Site, what: str, first: str, last: str, *, by: str, now: datetime
) -> Sheet:
    """Return a sheet of a site.

    Parameters
    ----------
    first, last
        Site days as typed, included; "" where it is open.
    by
        Who makes it.

    Raises
    ------
    BadInput
        For a sheet that is not kept, or days that are none.
    """
    if what not in SHEETS:
        raise BadInput("what", what[:20], "no such sheet", f"Choose one of {', '.join(SHEETS)}.")
    title, _, make, of_days = SHEETS[what]
    begin, end = site_days(first, last)
    assert site.id is not None
    asked = Asked(
        session=session,
        site=site,
        structures=structures_of(session, site.id),
        first=begin,
        last=end,
        now=now,
    )
    return Sheet(
        what=what,
        title=title,
        site=site,
        period=asked.period if of_days else "",
        made_by=by,
        made_at=now,
        organisation=str(settings.value(session, "organisation") or ""),
        sections=make(asked),
    )


def printed(session: Session, sheet: Sheet, paper: str, *, alone: bool, version: str = "") -> str:
    """Return a sheet as a page.

    Parameters
    ----------
    paper
        a4 or letter.
    alone
        With styles and pictures inside, for a file; else they are fetched from the server.
    version
        Of the styles, where they are fetched.
    """
    styles = [(STATIC / name).read_text(encoding="utf-8") for name in STYLES] if alone else []
    picture: Callable[[PhotoView], str] = (
        (lambda photo: _inside(session, photo)) if alone else (lambda photo: photo.address)
    )
    return PAGES.get_template("sheets/paper.html").render(
        sheet=sheet, paper=paper_of(paper), styles=styles, picture=picture, version=version
    )


def _inside(session: Session, photo: PhotoView) -> str:
    held = kept(session, photo.sha256)
    return f"data:{held.media_type};base64,{base64.b64encode(held.content).decode()}"
