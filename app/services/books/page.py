"""What the page of old readings begins with: the sheet's boxes as they are likely meant."""

from datetime import datetime

from sqlmodel import Session

from app.language import words
from app.language.clock import iso, uuid7
from app.records.sites import Site
from app.services.sites import accounts


def new_sheet(site: Site, now: datetime) -> dict[str, str]:
    """Return the boxes of a sheet not yet begun, in the unit and on the clock of the site."""
    return {
        "batch": uuid7(now),
        "made_at": iso(now),
        "kind": "paper book",
        "name": "",
        "unit": site.head_unit,
        "utc_offset": words.offset_words(site.utc_offset_min).removeprefix("UTC"),
        "order": "",
        "observer": "",
        "page": "",
    }


def readers(session: Session) -> list[str]:
    """Return the names of the register, the retired too: old books were read by them."""
    return sorted(one.name for one in accounts.people(session))
