"""The level book as booked: rows put in order, set-up by set-up, or refused by row.

Public functions:

    sights_in_order(rows, longest) -> list of (row, set-up, point, kind, reading)
    sight_lengths(rows, sights) -> length of every sight, m; NaN where none was booked
    mark_name(name) -> the point without a remark such as (again) or (close)
"""

import math
import re
from collections.abc import Mapping, Sequence

from app.errors import BadInput
from app.hydraulics.base.rounding import fixed
from app.hydraulics.base.units import BELOW_THOUSAND, number

Row = Mapping[str, object]
Sight = tuple[int, int, str, str, float]

LONGEST_READING_M = 10.0
"""No staff is longer (common practice: 3 to 5 m); a greater figure is a unit mistake."""

LONGEST_SIGHT_M = 300.0
"""No staff is read further off (common practice: 60 m and less)."""

_SAME_MARK = re.compile(r"\s*\((?:again|close|closing|check)\)\s*$", re.IGNORECASE)


def mark_name(name: str) -> str:
    """Return a point's name without a remark such as (again) or (close)."""
    return _SAME_MARK.sub("", name).strip()


def sights_in_order(rows: Sequence[Row], longest: float) -> list[Sight]:
    """Return (row, set-up, point, kind, reading) in order, or refuse the first bad row."""
    if not rows:
        raise BadInput("rows", "none", "a run has at least one sight", "Book the first backsight.")
    sights: list[Sight] = []
    setup, label, label_free = 0, "", True
    for place, row in enumerate(rows, start=1):
        point = str(row.get("point") or "").strip()
        if not point:
            raise BadInput(f"row {place} point", "", "every sight has a point", "Name the point.")
        found = [
            (kind, _reading(f"row {place} {kind}", row.get(kind), longest))
            for kind in ("fs", "is", "bs")
            if not _blank(row.get(kind))
        ]
        kinds = [kind for kind, _ in found]
        if not kinds or (len(kinds) > 1 and kinds != ["fs", "bs"]):
            raise BadInput(
                f"row {place}", point, "a row holds one reading, or the two of a turning point",
                "Book one of backsight, intermediate and foresight.",
            )  # fmt: skip
        given = "" if _blank(row.get("setup")) else str(row.get("setup")).strip()
        if given and not label_free and given != label and kinds[0] != "bs":
            raise BadInput(
                f"row {place} setup", given, f"set-up {given} begins without a backsight",
                "Book the backsight on the turning point first.",
            )  # fmt: skip
        if given and not label_free and given == label and kinds[0] == "bs":
            raise BadInput(
                f"row {place} bs", point, f"set-up {given} has a second backsight",
                "Book it as an intermediate, or give the new set-up its number.",
            )  # fmt: skip
        for kind, reading in found:
            _in_order(place, point, kind, sights)
            setup += kind == "bs"
            sights.append((place, setup, point, kind, reading))
        label, label_free = given or label, len(found) > 1 or not (given or label)
    return sights


def sight_lengths(rows: Sequence[Row], sights: Sequence[Sight]) -> list[float]:
    """Return the length of every sight, m, from instrument to staff; NaN where none was booked.

    A row with one reading may say it as `distance_m`; a row with foresight and backsight of a
    turning point needs `fs_distance_m` and `bs_distance_m`, because the two differ.
    """
    alone = [sum(one[0] == sight[0] for one in sights) == 1 for sight in sights]
    found = []
    for (place, _, _, kind, _), single in zip(sights, alone, strict=True):
        row = rows[place - 1]
        key = f"{kind}_distance_m"
        if _blank(row.get(key)) and single:
            key = "distance_m"
        value = row.get(key)
        if _blank(value):
            found.append(math.nan)
            continue
        length = number(f"row {place} {key}", value, high=BELOW_THOUSAND)  # type: ignore[arg-type]
        if not 0.0 < length <= LONGEST_SIGHT_M:
            raise BadInput(
                f"row {place} {key}", value, f"a sight is longer than 0 and at most "
                f"{LONGEST_SIGHT_M:g} m", "Pace or tape it from the instrument to the staff.",
            )  # fmt: skip
        found.append(length)
    return found


def _in_order(place: int, point: str, kind: str, sights: list[Sight]) -> None:
    previous = sights[-1][3] if sights else "fs"
    if kind != "bs" and previous == "fs":
        raise BadInput(
            f"row {place} {kind}", point, "a set-up begins with a backsight",
            "Book the backsight on the mark or turning point first.",
        )  # fmt: skip
    if kind == "bs" and previous != "fs":
        raise BadInput(
            f"row {place} bs", point, "the set-up before has no foresight",
            "Close it with a foresight on the turning point.",
        )  # fmt: skip
    if kind == "bs" and sights and mark_name(sights[-1][2]) != mark_name(point):
        raise BadInput(
            f"row {place} point", point,
            f"a backsight goes to the turning point {sights[-1][2]} just set",
            "Correct the name, or book the sight on that point.",
        )  # fmt: skip


def _blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _reading(field: str, value: object, longest: float) -> float:
    reading = number(field, value, low=-longest, high=longest)  # type: ignore[arg-type]
    if abs(reading) > longest:
        most = fixed(longest, 1)
        raise BadInput(
            field, value, f"a staff reading lies between -{most} and {most}",
            "Check the unit: 1342 mm is written 1.342.",
        )  # fmt: skip
    return reading
