"""Latitude and longitude as people write them: decimal degrees, minutes or seconds, N S E W.

    read("latitude", "41 17 11.4 S") -> -41.286500     also 41°17'11,4"S, S41:17.19, -41.2865
    shown("latitude", -41.2865) -> 41°17'11.4"S        for a person; read back it is the same

Of the figures only the last may have decimals, after a point or a comma. A letter says the side,
or a minus (south and west), never both. A minus belongs to the whole, not to the degrees alone.
"""

import re
from collections.abc import Mapping
from typing import Any

from app.errors import BadInput
from app.language import typed

SIDES = {"latitude": "NS", "longitude": "EW"}
LIMIT = {"latitude": 90.0, "longitude": 180.0}
DECIMALS = 9  # of a degree: a tenth of a millimetre, far below what any receiver knows
EXAMPLE = {"latitude": "41 17 11.4 S, or -41.2865", "longitude": "174 46 34.2 E, or 174.7762"}

_WORDS = {"NORTH": "N", "SOUTH": "S", "EAST": "E", "WEST": "W"}
_DEGREE, _MINUTE = "°º˚", "'′’‘´`"
_SECOND = '"″”“„'
_FIGURE = r"(\d+(?:[.,]\d+)?)"
_MARKED = re.compile(
    rf"{_FIGURE}\s*(?:[{_DEGREE}]|deg\b)"
    rf"(?:\s*{_FIGURE}\s*[{_MINUTE}])?"
    rf"(?:\s*{_FIGURE}\s*(?:[{_SECOND}]|[{_MINUTE}]{{2}}))?",
    re.IGNORECASE,
)
_BARE = re.compile(rf"{_FIGURE}(?:\s*[:\s]\s*{_FIGURE}){{1,2}}")


def read(field: str, text: str) -> float:
    """Return degrees, north and east positive.

    Parameters
    ----------
    field : "latitude" or "longitude"
    text : what was typed

    Raises
    ------
    BadInput
        When it is no position on this axis; TwoMeanings when decimal degrees can be two.
    """
    side, minus, rest = _side(field, text)
    parts = _parts(field, text, rest)
    if parts is None:
        if rest.startswith(("+", "-")):
            raise _no(field, text, "it has two signs")
        value = _one(field, rest)
    else:
        value = sum(part / 60.0**place for place, part in enumerate(parts))
    if not 0.0 <= value <= LIMIT[field]:
        raise _no(
            field, text, f"it must lie between {-LIMIT[field]:g} and {LIMIT[field]:g} degrees"
        )
    value = round(value, DECIMALS)
    return -value if value and (minus or side in "SW") else value


def typed_in(form: Mapping[str, str], field: str) -> float | None:
    """Return what a box of a form says, None when it is empty; raises as `read`."""
    text = form.get(field, "").strip()
    return read(field, text) if text else None


def _side(field: str, text: str) -> tuple[str, bool, str]:
    """Return the letter of the side (a blank without one), whether a minus stands, and the rest."""
    said = text.strip().replace("−", "-").replace("–", "-")
    said = re.sub("|".join(_WORDS), lambda word: _WORDS[word[0].upper()], said, flags=re.I)
    letters = re.findall(r"(?<![A-Za-z])[NSEWnsew](?![A-Za-z])", said)
    if len(letters) > 1:
        raise _no(field, text, "it names two sides; each coordinate has a box of its own")
    side = letters[0].upper() if letters else " "
    if side != " ":
        if side not in SIDES[field]:
            raise _no(field, text, f"{side} is no side of a {field}")
        at = re.search(r"(?<![A-Za-z])[NSEWnsew](?![A-Za-z])", said)
        assert at is not None
        if said[: at.start()].strip() and said[at.end() :].strip():
            raise _no(field, text, "the letter stands inside the figures")
        said = (said[: at.start()] + said[at.end() :]).strip(" ,;")
    minus = said.startswith("-")
    if minus and side != " ":
        raise _no(field, text, "it has both a minus and a letter")
    return side, minus, said.removeprefix("-").removeprefix("+").strip()


def _parts(field: str, text: str, rest: str) -> list[float] | None:
    """Return degrees, minutes, seconds; None when it is one plain figure."""
    marked = _MARKED.fullmatch(rest)
    if marked:
        found = [part for part in marked.groups() if part is not None]
        if marked[2] is None and marked[3] is not None:
            raise _no(field, text, "it has seconds and no minutes")
        if len(found) == 1:
            return [_one(field, found[0])]
    elif _BARE.fullmatch(rest):
        found = re.split(r"\s*[:\s]\s*", rest)
    else:
        return None
    for name, part in zip(("degrees", "minutes"), found[:-1], strict=False):
        if not part.isdigit():
            raise _no(field, text, f"only the last figure may have decimals, not the {name}")
    values = [float(part.replace(",", ".")) for part in found]
    for name, value in zip(("minutes", "seconds"), values[1:], strict=False):
        if value >= 60.0:
            raise _no(field, text, f"{name} are less than 60")
    return values


def _one(field: str, part: str) -> float:
    return typed.read(field, part, low=0.0, high=LIMIT[field])


def _no(field: str, text: str, rule: str) -> BadInput:
    return BadInput(field, text.strip()[:80], rule, f"Write {EXAMPLE[field]}.")


def shown(field: str, degrees: float, places: int = 1) -> str:
    """Return degrees, minutes and seconds with the letter of the side, to so many places."""
    side = SIDES[field][degrees < 0.0]
    whole = round(abs(degrees) * 3600.0 * 10**places)
    minutes, part = divmod(whole, 60 * 10**places)
    hours, minutes = divmod(minutes, 60)
    seconds = f"{part / 10**places:.{places}f}"
    return f"{hours}°{minutes:02d}'{seconds.zfill(3 + places if places else 2)}\"{side}"


def of(place: Any) -> str:
    """Return where a site is, for a person; "not given" without a position."""
    if place.latitude is None or place.longitude is None:
        return "not given"
    return f"{shown('latitude', place.latitude)} {shown('longitude', place.longitude)}"
