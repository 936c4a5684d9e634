"""Read lines from GeoJSON (RFC 7946), or refuse the file with the place of the fault in it.

Only lines are taken, and nothing is left out in silence: a file with a point or an area is refused
with its place, so that nobody believes it to be on the map. A third figure of a position, its
height, is passed over as the standard allows (section 3.1.1).
"""

import json
import math
from typing import Any, NoReturn

from app.errors import BadInput

MOST_POSITIONS = 50_000
LARGEST_LINES = 4 * 1024 * 1024
WGS_84 = ("CRS84", "4326")  # the one system of RFC 7946, as older files name it
LINE_TYPES = ("LineString", "MultiLineString")
OTHERS = ("Point", "MultiPoint", "Polygon", "MultiPolygon")
SHOWN = 80

Line = list[list[float]]


def lines_of(content: bytes) -> list[Line]:
    """Return the lines of a GeoJSON text as lists of [longitude, latitude], degrees of WGS 84.

    Raises
    ------
    BadInput
        Naming the place, such as `features[2].geometry.coordinates[14]`, and the rule.
    """
    root = _parsed(content)
    found: list[Line] = []
    _object(root, "", found)
    if not found:
        _refuse("file", "", "it holds no line", "Export a LineString or a MultiLineString.")
    if sum(len(line) for line in found) > MOST_POSITIONS:
        _refuse(
            "file",
            f"{sum(len(line) for line in found)} positions",
            f"at most {MOST_POSITIONS} positions are taken",
            "Simplify the line before the export.",
        )
    return found


def _parsed(content: bytes) -> Any:
    if len(content) > LARGEST_LINES:
        _refuse("file", f"{len(content)} bytes", "at most 4 MB are taken", "Simplify the line.")
    if not content.strip():
        _refuse("file", "", "it is empty", "Export it again.")
    try:
        return json.loads(content.decode("utf-8-sig"), parse_constant=_no_number)
    except UnicodeDecodeError as error:
        _refuse("file", f"byte {error.start}", "GeoJSON is text in UTF-8", "Export it again.")
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        _refuse("file", place, "it is no JSON from there on", "Export it again as GeoJSON.")
    except (ValueError, RecursionError):
        _refuse("file", "", "it is no JSON that can be read", "Export it again as GeoJSON.")


def _no_number(text: str) -> NoReturn:
    raise ValueError(text)


def _refuse(place: str, value: object, rule: str, remedy: str) -> NoReturn:
    raise BadInput(place, str(value)[:SHOWN], rule, remedy)


def _at(place: str, name: str) -> str:
    return f"{place}.{name}" if place else name


def _object(thing: Any, place: str, found: list[Line]) -> None:
    """Take the lines of one GeoJSON object, whatever kind it is of."""
    if not isinstance(thing, dict):
        _refuse(place or "file", shown(thing), "a GeoJSON object is needed", "Export it again.")
    _system(thing, place)
    kind = thing.get("type")
    if kind == "FeatureCollection":
        for k, feature in enumerate(_list(thing, "features", place)):
            where = f"{_at(place, 'features')}[{k}]"
            if not isinstance(feature, dict) or feature.get("type") != "Feature":
                _refuse(where, shown(feature), "a Feature is needed", "Export it again.")
            _object(feature, where, found)
    elif kind == "Feature":
        if "geometry" not in thing:
            _refuse(_at(place, "geometry"), "", "this is needed", "Export it again.")
        if thing["geometry"] is not None:  # a feature without a place (section 3.2)
            _object(thing["geometry"], _at(place, "geometry"), found)
    elif kind == "GeometryCollection":
        for k, one in enumerate(_list(thing, "geometries", place)):
            _object(one, f"{_at(place, 'geometries')}[{k}]", found)
    elif kind == "LineString":
        where = _at(place, "coordinates")
        found.append(_line(_list(thing, "coordinates", place), where))
    elif kind == "MultiLineString":
        for k, part in enumerate(_list(thing, "coordinates", place)):
            where = f"{_at(place, 'coordinates')}[{k}]"
            if not isinstance(part, list):
                _refuse(where, shown(part), "a list of positions is needed", "Export it again.")
            found.append(_line(part, where))
    else:
        rule = "only lines are drawn" if kind in OTHERS else "is no type of GeoJSON"
        remedy = f"Leave it out of the file; {' and '.join(LINE_TYPES)} are taken."
        _refuse(_at(place, "type"), shown(kind), rule, remedy)


def _system(thing: dict[str, Any], place: str) -> None:
    """Refuse another system of coordinates than the one of the standard (section 4)."""
    if thing.get("crs") is not None and not any(x in json.dumps(thing["crs"]) for x in WGS_84):
        _refuse(
            _at(place, "crs"),
            shown(thing["crs"]),
            "GeoJSON has longitude and latitude in degrees of WGS 84",
            "Convert the line to WGS 84 in the export.",
        )


def _list(thing: dict[str, Any], name: str, place: str) -> list[Any]:
    held = thing.get(name)
    if not isinstance(held, list):
        _refuse(_at(place, name), shown(held), "a list is needed", "Export it again.")
    return held


def _line(positions: list[Any], place: str) -> Line:
    if len(positions) < 2:
        _refuse(place, f"{len(positions)} positions", "a line has two or more", "Leave it out.")
    line = [_position(one, f"{place}[{k}]") for k, one in enumerate(positions)]
    for k in range(1, len(line)):
        if abs(line[k][0] - line[k - 1][0]) > 180.0:
            _refuse(
                f"{place}[{k}]",
                shown(line[k]),
                "the line crosses the 180th meridian",
                "Cut it there into two lines (RFC 7946, section 3.1.9).",
            )
    return line


def _position(one: Any, place: str) -> list[float]:
    if not isinstance(one, list) or len(one) < 2 or not all(is_number(x) for x in one):
        rule = "a position is a list of longitude and latitude, as numbers"
        _refuse(place, shown(one), rule, "Export it again.")
    longitude, latitude = float(one[0]), float(one[1])
    if abs(latitude) > 90.0 >= abs(longitude) and abs(latitude) <= 180.0:
        _refuse(place, shown(one), "longitude comes first, then latitude", "Swap the two.")
    if abs(longitude) > 180.0 or abs(latitude) > 90.0:
        rule = "longitude lies within 180 and latitude within 90 degrees"
        _refuse(place, shown(one), rule, "Convert the line to degrees of WGS 84 in the export.")
    return [longitude, latitude]


def is_number(value: object) -> bool:
    """Tell whether a value is a number that a position can have."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(float(value))
    except OverflowError:
        return False


def shown(value: object) -> str:
    """Return a value as a refusal shows it."""
    try:
        return json.dumps(value)[:SHOWN]
    except (ValueError, RecursionError):
        return type(value).__name__
