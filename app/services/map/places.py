"""Where sites and lines lie on one plane: metres east and north of their midst."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.hydraulics.base.plane import ground_distance_m, middle, on_plane
from app.language.drawing import Point
from app.records.sites import Site
from app.services.map.lines import LineView
from app.services.today.board import SiteRow

FAR_M = 100_000.0  # what lies farther from the midst is listed, so that the rest can be seen


@dataclass(frozen=True, kw_only=True)
class Placed:
    """A site on the plane, east and north in metres."""

    row: SiteRow
    at: Point


@dataclass(frozen=True, kw_only=True)
class Places:
    """What can be drawn to scale together, and what cannot, with the reason."""

    origin: tuple[float, float] | None
    sites: Sequence[Placed]
    lines: Sequence[tuple[LineView, Sequence[Sequence[Point]]]]
    without: Sequence[SiteRow]
    far: Sequence[SiteRow]
    far_lines: Sequence[LineView]


def positioned(site: Site) -> bool:
    """Tell whether a site's position is known."""
    return site.latitude is not None and site.longitude is not None


def places(rows: Sequence[SiteRow], lines: Sequence[LineView]) -> Places:
    """Lay sites and lines on the plane that touches the ground in their midst.

    The midst is that of the sites, or of the lines where no site has a position.
    """
    known = [row for row in rows if positioned(row.site)]
    without = [row for row in rows if not positioned(row.site)]
    on = [line for line in lines if line.withdrawn_at is None]
    corners = [(one[1], one[0]) for line in on for part in line.parts for one in part]
    where = [(row.site.latitude or 0.0, row.site.longitude or 0.0) for row in known] or corners
    if not where:
        return Places(origin=None, sites=[], lines=[], without=without, far=[], far_lines=[])
    origin = middle([p[0] for p in where], [p[1] for p in where])
    sites, far = [], []
    for row in known:
        at = _on(origin, [(row.site.latitude or 0.0, row.site.longitude or 0.0)])
        if near(at):
            sites.append(Placed(row=row, at=at[0]))
        else:
            far.append(row)
    drawn, far_lines = [], []
    for line in on:
        parts = [_on(origin, [(one[1], one[0]) for one in part]) for part in line.parts]
        if all(near(part) for part in parts):
            drawn.append((line, parts))
        else:
            far_lines.append(line)
    return Places(
        origin=origin, sites=sites, lines=drawn, without=without, far=far, far_lines=far_lines
    )


def _on(origin: tuple[float, float], positions: Sequence[tuple[float, float]]) -> list[Point]:
    found = on_plane([p[0] for p in positions], [p[1] for p in positions], origin)
    return [(float(x), float(y)) for x, y in found]


def near(points: Sequence[Point]) -> bool:
    """Tell whether all points lie near enough to the midst to be drawn with the others."""
    return bool(np.all(np.hypot(*np.array(points).T) <= FAR_M))  # NaN is not near


def apart_m(one: Site, other: Site) -> float | None:
    """Return how far two sites are apart along the ground, m; None where a position is unknown."""
    if not (positioned(one) and positioned(other)):
        return None
    return ground_distance_m(
        [one.latitude or 0.0, other.latitude or 0.0],
        [one.longitude or 0.0, other.longitude or 0.0],
    )
