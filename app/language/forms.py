"""What people type into office forms, as values; a refusal names field, rule and remedy."""

import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Any

from app.errors import BadInput
from app.language import typed as reader

Form = Mapping[str, str]

_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-]?)(\d{1,2})(?::?([0-5]\d))?", re.IGNORECASE)
_YEARLY = re.compile(r"[0-9]{2}-[0-9]{2}")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


class ChangedMeanwhile(BadInput):
    """Somebody saved the same row while this form was open.

    `now` holds the present values as the form would show them, so that both stand side by side.
    """

    def __init__(self, subject: str, now: dict[str, str], who: str) -> None:
        super().__init__(
            "revision",
            "",
            f"{who} changed this {subject} while you had it open",
            "Your figures are still in the form and the office's present ones stand beside them. "
            "Save again to put yours in place.",
        )
        self.now = now


def text(form: Form, field: str, *, most: int, required: bool = False) -> str:
    """Return a text without control characters and outer blanks.

    Raises
    ------
    BadInput
        When it is too long, or empty where it is required.
    """
    value = _CONTROL.sub("", form.get(field, "")).replace("\r\n", "\n").strip()
    if required and not value:
        raise BadInput(field, "", "this is needed", "Fill it in.")
    if len(value) > most:
        raise BadInput(field, f"{len(value)} characters", f"at most {most}", "Shorten it.")
    return value


def together(**boxes: Callable[[], Any]) -> dict[str, Any]:
    """Return what several boxes hold, by name; whatever is wrong is told at once.

    Raises
    ------
    BadInput
        The first fault, which holds the others as `more`.
    """
    values: dict[str, Any] = {}
    faults: list[BadInput] = []
    for name, read in boxes.items():
        try:
            values[name] = read()
        except BadInput as error:
            faults += error.faults
    if faults:
        first, *others = faults
        first.more = tuple(others)
        raise first
    return values


def number(
    form: Form,
    field: str,
    *,
    low: float,
    high: float,
    unit: str = "",
    required: bool = False,
    thousands: bool = False,
) -> float | None:
    """Return a number, None when the box is empty; comma and point both serve as decimal sign.

    `thousands` says that a figure in metres may reach a thousand.

    Raises
    ------
    BadInput
        When it is no number or outside its bounds; TwoMeanings when it can be two numbers.
    """
    typed = form.get(field, "").strip()
    if not typed:
        if required:
            raise BadInput(field, "", "this is needed", f"Give a figure in {unit or 'digits'}.")
        return None
    value = reader.read(field, typed, unit=unit, low=low, high=high, thousands=thousands)
    if not low <= value <= high:
        raise BadInput(
            field,
            typed,
            f"it must lie between {low:g} and {high:g} {unit}".rstrip(),
            "Check the figure and its unit.",
        )
    return value


def needed(form: Form, field: str, *, low: float, high: float, unit: str = "") -> float:
    """Return a number that must be given; raises BadInput as `number` does."""
    value = number(form, field, low=low, high=high, unit=unit, required=True)
    assert value is not None
    return value


_TICKED = {"yes": True, "true": True, "on": True, "1": True}
_NOT = {"": False, "no": False, "false": False, "off": False, "0": False}


def ticked(form: Form, field: str) -> bool:
    """Return whether a box is ticked; one that is not sent is off.

    Raises
    ------
    BadInput
        When it says neither yes nor no.
    """
    typed = form.get(field, "").strip()
    said = (_TICKED | _NOT).get(typed.lower())
    if said is None:
        raise BadInput(field, typed[:40], "it is either ticked or not", "Send yes or no.")
    return said


def utc_offset_min(form: Form, field: str = "utc_offset") -> int:
    """Return a fixed offset in minutes from text such as +12:00, 12 or UTC-03:30.

    Raises
    ------
    BadInput
        When it is no offset between -14 and +14 hours.
    """
    typed = form.get(field, "").strip().replace("−", "-")
    match = _OFFSET.fullmatch(typed)
    minutes = int(match[2]) * 60 + int(match[3] or 0) if match else 10_000
    if match is None or minutes > 14 * 60:
        raise BadInput(
            field,
            typed,
            "a fixed offset from UTC is needed, between -14:00 and +14:00",
            "Give the site's standard time without daylight saving, such as +12:00.",
        )
    return -minutes if match[1] == "-" else minutes


def site_moment(form: Form, field: str, offset_min: int) -> datetime:
    """Return an instant from a time on the site's fixed clock.

    Raises
    ------
    BadInput
        When it is no time between 1990 and 2100.
    """
    typed = form.get(field, "").strip()
    try:
        moment = datetime.fromisoformat(typed)
    except ValueError:
        moment = None
    if moment is None or not 1990 <= moment.year <= 2100:
        raise BadInput(
            field,
            typed,
            "a date with a time between 1990 and 2100 is needed",
            "Give site time, such as 2026-11-25T09:15.",
        )
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=timezone(timedelta(minutes=offset_min)))
    return moment.astimezone(UTC)


def site_day(typed: str, field: str) -> date | None:
    """Return a day, None for an empty box.

    Raises
    ------
    BadInput
        When it is no day between 1990 and 2100.
    """
    if not typed.strip():
        return None
    try:
        day = date.fromisoformat(typed.strip())
    except ValueError:
        day = None
    if day is None or not 1990 <= day.year <= 2100:
        raise BadInput(
            field, typed[:40], "a day between 1990 and 2100 is needed", "Such as 2026-11-25."
        )
    return day


def day_needed(form: Form, field: str, remedy: str) -> date:
    """Return a day that must be given; raises BadInput as `site_day`."""
    day = site_day(form.get(field, ""), field)
    if day is None:
        raise BadInput(field, "", "this is needed", remedy)
    return day


def site_days(first: str, last: str) -> tuple[date | None, date | None]:
    """Return a range of days from what was typed, both included; an empty box is open.

    Raises
    ------
    BadInput
        When one is no day between 1990 and 2100, or they are the wrong way round.
    """
    begin, end = site_day(first, "from"), site_day(last, "to")
    if begin is not None and end is not None and end < begin:
        raise BadInput("to", last, f"the last day lies before the first, {begin}", "Swap the two.")
    return begin, end


def day_of_year(typed: str, field: str) -> str:
    """Return a day of every year, written MM-DD; raises BadInput."""
    text_ = typed.strip()
    try:
        if not _YEARLY.fullmatch(text_):
            raise ValueError
        date(2001, int(text_[:2]), int(text_[3:]))
    except ValueError:
        raise BadInput(
            field, text_[:20], "a day of every year is written month-day", "Such as 07-01."
        ) from None
    return text_


def whole_days(form: Form, field: str, *, high: int) -> int | None:
    """Return a count of whole days from 1 on, None for an empty box; raises BadInput."""
    value = number(form, field, low=1, high=high, unit="days", thousands=True)
    if value is not None and value != int(value):
        raise BadInput(field, form.get(field, ""), "whole days are counted", "Leave the part out.")
    return None if value is None else int(value)


def day_begins(day: date, offset_min: int) -> datetime:
    """Return the instant at which a day of the site begins."""
    zone = timezone(timedelta(minutes=offset_min))
    return datetime.combine(day, time(0), zone).astimezone(UTC)


def local_text(moment: datetime, offset_min: int) -> str:
    """Return an instant as a form shows it: site time, to the second where there are any."""
    local = moment.astimezone(timezone(timedelta(minutes=offset_min)))
    local = local.replace(tzinfo=None)
    whole = local.second == 0 and local.microsecond == 0
    return local.isoformat(timespec="minutes" if whole else "milliseconds")


def figure_text(value: float | None) -> str:
    """Return a number as a form shows it, empty when there is none; posted back it is the same."""
    return reader.shown(value)


def revision(form: Form) -> int:
    """Return the revision that the form was made from; 0 when it is missing or no number."""
    typed = form.get("revision", "")
    return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 10 else 0
