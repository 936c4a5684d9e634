"""The picture of a structure from its own dimensions, and the list of what is measured as built.

Lengths in metres. In plan and long section x runs with the flow; across and up are positive. A
front view looks downstream. Lines that rest on usual proportions rather than on a dimension are
dashed, and `note` says so; the picture is for recognising dimensions, not for building from.
"""

from dataclasses import dataclass

import numpy as np

from app.hydraulics.channel.sections import Section
from app.hydraulics.structure.dimension import Source

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Part:
    """One dimension to measure: its letter, its named value, how closely it is to be built.

    `rule` names a tolerance of `app.hydraulics.install.checks`. `rated_as` is the key by which the
    measured value enters the rating; None for one that only shows whether the named size was met.
    """

    key: str
    label: str
    named_m: float
    rule: str
    rated_as: str | None = None
    source: Source | None = None

    @property
    def source_words(self) -> str:
        """Return where the named value comes from, with its provenance; empty when stated."""
        return f"{self.source.text} ({self.source.provenance})" if self.source else ""


@dataclass(frozen=True)
class Line:
    """A line of the picture: floor, edge, water; usual when it rests on proportions only."""

    points: Points
    kind: str = "edge"


@dataclass(frozen=True)
class Measure:
    """Where a dimension is measured in a view: from one point to another."""

    key: str
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True)
class View:
    """One view; `along` tells that x runs with the flow."""

    title: str
    lines: tuple[Line, ...]
    measures: tuple[Measure, ...]
    along: bool = True


@dataclass(frozen=True)
class Outline:
    """Parts, views, and what a person should know of the picture."""

    parts: tuple[Part, ...]
    views: tuple[View, ...]
    note: str


def walls(points: Points, kind: str = "edge") -> tuple[Line, Line]:
    """Return both walls of a plan from stations (x, width between the walls)."""
    left = tuple((x, width / 2.0) for x, width in points)
    right = tuple((x, -width / 2.0) for x, width in points)
    return Line(left, kind), Line(right, kind)


def section_line(section: Section, depth_m: float, base_m: float = 0.0) -> Points:
    """Return a section as seen looking downstream, from rim to rim, its lowest point at `base_m`.

    Straight sides need two depths a side; 24 draw a round one well enough.
    """
    depths = [depth_m * (i / 24.0) ** 2 for i in range(25)]
    half = [float(section.top_width(np.asarray(max(y, 1e-6 * depth_m)))) / 2.0 for y in depths]
    right = [(w, base_m + y) for w, y in zip(half, depths, strict=True)]
    left = [(-x, y) for x, y in reversed(right)]
    return tuple(left + right)
