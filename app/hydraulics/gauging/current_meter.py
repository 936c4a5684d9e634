"""Velocity of one vertical: points in the depth, and counts of a meter.

Public functions:

    mean_velocity(row, field="v") -> (velocity_ms, points); row: v | v06 | v02 v08 | v02 v06 v08
    meter_velocity(counts, seconds, pieces) -> velocity; pieces [[revs_per_s_from, slope, offset]]
"""

from collections.abc import Mapping, Sequence

from app.errors import BadInput
from app.hydraulics.base.units import BELOW_THOUSAND, number

Table = Sequence[Sequence[float]]


def mean_velocity(row: Mapping[str, object], field: str = "v") -> tuple[float, int]:
    """Return the mean velocity of a vertical and the number of points it rests on.

    One point at 0.6 of the depth; two points 0.5 (v02 + v08); three 0.25 (v02 + 2 v06 + v08),
    depths from the surface (ISO 748, from memory).
    """
    given = {
        key: number(f"{field} {key}", row[key], high=BELOW_THOUSAND)  # type: ignore[arg-type]
        for key in ("v", "v02", "v06", "v08")
        if row.get(key) is not None and row.get(key) != ""
    }
    match sorted(given):
        case ["v"]:
            points = number(f"{field} points", row.get("points") or 1)  # type: ignore[arg-type]
            if points < 1.0:
                raise BadInput(f"{field} points", points, "is one or more", "Leave it out for one.")
            return given["v"], int(points)
        case ["v06"]:
            return given["v06"], 1
        case ["v02", "v08"]:
            return (given["v02"] + given["v08"]) / 2.0, 2
        case ["v02", "v06", "v08"]:
            return (given["v02"] + 2.0 * given["v06"] + given["v08"]) / 4.0, 3
    raise BadInput(
        field, ", ".join(given) or "none", "a vertical has one, two or three points",
        "Give v, or v06, or v02 with v08, or all three.",
    )  # fmt: skip


def meter_velocity(counts: float, seconds: float, pieces: Table) -> float:
    """Return the velocity by a meter's own equation, slope x revs per second + offset.

    Parameters
    ----------
    counts, seconds : revolutions counted and the time they took
    pieces : rows [revolutions per second from which the piece holds, slope m, offset m/s]
    """
    if not seconds > 0.0:
        raise BadInput("seconds", seconds, "must be more than zero", "Time the counts again.")
    if counts < 0.0:
        raise BadInput("counts", counts, "must not be below zero", "Count again.")
    if not pieces:
        raise BadInput(
            "pieces", "none", "a meter has an equation", "Copy it from the meter's card."
        )
    if counts == 0.0:
        return 0.0  # a meter at rest shows no offset: the water is below its threshold
    pace = counts / seconds
    ordered = sorted(pieces, key=lambda piece: piece[0])
    _, slope, offset = [piece for piece in ordered if piece[0] <= pace or piece is ordered[0]][-1]
    return slope * pace + offset
