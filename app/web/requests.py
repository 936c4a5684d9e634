"""What office routes read from a request: a form of bounded size, row ids, a range of days."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Annotated, TypeVar

from fastapi import Depends, Path, Query, Request
from starlette.datastructures import UploadFile

from app.errors import BadInput
from app.language import forms
from app.services.readings.list import Span, span_of

MOST_FIELDS = 200
READ, WAS, SURE = "read:", "was:", "sure:"

RowId = Annotated[int, Path(ge=1, le=2**31 - 1)]
EntryId = Annotated[str, Path(pattern=r"^[0-9a-f-]{36}$")]
RowQuery = Annotated[int | None, Query(ge=1, le=2**31 - 1)]
PartQuery = Annotated[int, Query(alias="part", ge=1, le=100_000)]
DayQuery = Annotated[str, Query(max_length=20)]
WordsQuery = Annotated[str, Query(max_length=80)]

Read = TypeVar("Read")


async def form_fields(request: Request) -> dict[str, str]:
    """Return the text fields of a form; of a field sent twice the last.

    Raises
    ------
    BadInput
        When the form holds more than a page of Sillbook ever sends.
    """
    async with request.form(max_files=0, max_fields=MOST_FIELDS, max_part_size=262_144) as form:
        fields = {k: v for k, v in form.multi_items() if not isinstance(v, UploadFile)}
    if any(len(value) > 100_000 for value in fields.values()):
        raise BadInput("form", "", "a field holds more than 100 000 characters", "Shorten it.")
    return answered(fields)


def answered(fields: dict[str, str]) -> dict[str, str]:
    """Put the chosen reading of a figure in its box, where the box still holds what was asked.

    A figure of two meanings comes back with a choice `read:NAME` beside its box and the text that
    was asked about in `was:NAME`; what was chosen stands in `sure:NAME` too, so that it is not
    asked about again.
    """
    for key in [key for key in fields if key.startswith(READ)]:
        name = key.removeprefix(READ)
        chosen, was = fields.pop(key), fields.pop(WAS + name, None)
        if was is not None and fields.get(name) == was:
            fields[name] = fields[SURE + name] = chosen
    return {key: value for key, value in fields.items() if not key.startswith(WAS)}


def query_fields(request: Request) -> dict[str, str]:
    """Return the fields of an address; what a form typed so far travels in them."""
    return answered(dict(request.query_params))


FormDep = Annotated[dict[str, str], Depends(form_fields)]
QueryDep = Annotated[dict[str, str], Depends(query_fields)]


@dataclass(frozen=True)
class DayRange:
    """The range of days, both included, that a list or a page is asked for, as typed."""

    first: str = ""
    last: str = ""

    def days(self) -> tuple[date | None, date | None]:
        """Return the two days, None where it is open; raises BadInput as `forms.site_days`."""
        return forms.site_days(self.first, self.last)

    def span(self, utc_offset_min: int) -> Span:
        """Return the days with their instants on a site's clock; raises BadInput as `days`."""
        return span_of(self.first, self.last, utc_offset_min)


def day_range(
    first: Annotated[str, Query(alias="from", max_length=40)] = "",
    last: Annotated[str, Query(alias="to", max_length=40)] = "",
) -> DayRange:
    return DayRange(first, last)


def as_of_day(as_of: DayQuery = "") -> date | None:
    """Return the day up to which a list is asked for, None for the last on record."""
    return forms.site_day(as_of, "as_of")


def site_asked(
    site: Annotated[str, Query(max_length=10, pattern=r"^\d{0,9}$")] = "",
) -> int | None:
    """Return the site that a list is narrowed to, None for all."""
    return int(site) if site else None


RangeDep = Annotated[DayRange, Depends(day_range)]
AsOfDep = Annotated[date | None, Depends(as_of_day)]
SiteDep = Annotated[int | None, Depends(site_asked)]


def else_usual(read: Callable[[], Read], usual: Callable[[], Read]) -> tuple[Read, BadInput | None]:
    """Return what a page was asked to show; what cannot be read gives the usual, and the fault."""
    try:
        return read(), None
    except BadInput as error:
        return usual(), error
