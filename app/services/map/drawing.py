"""The map as shapes: a plain grid to scale, north up, the race as a line, a mark for each site.

The state of a site is told by the shape of its mark, the same shapes as everywhere in the office;
a ring around it says that its news is old. Names are written where they have room; the list beside
the map holds all of them.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from app.hydraulics.structure.device import Flow
from app.language.drawing import Point
from app.language.words import counted
from app.services.map.places import Placed, Places
from app.services.today.board import SiteRow

WIDTH, HEIGHT, EDGE = 900.0, 620.0, 46.0
LEAST_M = 200.0  # a single site lies on a map of this size
LETTER, ROW = 10.0, 15.0  # room of a capital and of a line of writing
At = Callable[[Point], Point]
NOTHING = 6  # the mark of a site of which nothing is known, beside those of the flow states


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A site on the sheet: its place, shape (`code`), name and what to say of it."""

    x: float
    y: float
    code: int
    old: bool
    name: str
    title: str
    label: Point | None


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Everything on the sheet, in its own units; `scale` is metres a unit."""

    width: float
    height: float
    scale: float
    grid_m: float
    grid: Sequence[tuple[Point, Point]]
    lines: Sequence[tuple[str, str]]
    marks: Sequence[Mark]
    bar: tuple[Point, Point]
    bar_words: str
    between: tuple[Point, Point] | None = field(default=None)
    title: str


def words_of(length_m: float) -> str:
    """Return a length as a map says it."""
    if length_m >= 1000.0:
        return f"{length_m / 1000.0:.4g} km"
    return f"{length_m:.3g} m" if length_m < 999.5 else "1 km"


def code_of(row: SiteRow) -> int:
    """Return the number of the mark of a site's state."""
    return NOTHING if row.news is None else row.news.flow_code


def step_of(span_m: float) -> float:
    """Return the grid: 1, 2 or 5 times a power of ten, four to ten of them on the span."""
    power = 10.0 ** math.floor(math.log10(span_m / 4.0))
    return next(x * power for x in (5.0, 2.0, 1.0) if x * power <= span_m / 4.0)


def sheet(places: Places, pair: tuple[int, int] | None = None) -> Sheet | None:
    """Draw what has a place; None where nothing has one."""
    points = [one.at for one in places.sites]
    points += [p for _, parts in places.lines for part in parts for p in part]
    if not points:
        return None
    west, east = min(p[0] for p in points), max(p[0] for p in points)
    south, north = min(p[1] for p in points), max(p[1] for p in points)
    room_x, room_y = WIDTH - 2 * EDGE, HEIGHT - 2 * EDGE - 24.0  # the scale bar lies below
    scale = max((east - west) / room_x, (north - south) / room_y, LEAST_M / room_y)
    middle_x, middle_y = (west + east) / 2.0, (south + north) / 2.0

    def at(point: Point) -> Point:
        x = WIDTH / 2.0 + (point[0] - middle_x) / scale
        y = (HEIGHT - 24.0) / 2.0 - (point[1] - middle_y) / scale
        return round(x, 1), round(y, 1)

    grid_m = step_of(room_y * scale)
    ends = {one.row.id: at(one.at) for one in places.sites}
    between = None
    if pair and all(key in ends for key in pair):
        between = (ends[pair[0]], ends[pair[1]])
    count = len(places.sites)
    return Sheet(
        width=WIDTH,
        height=HEIGHT,
        scale=scale,
        grid_m=grid_m,
        grid=_grid(grid_m, scale, (middle_x, middle_y), at),
        lines=[
            (line.name, " ".join(f"{x},{y}" for x, y in map(at, part)))
            for line, parts in places.lines
            for part in parts
        ],
        marks=_marks(places.sites, at),
        bar=((EDGE, HEIGHT - 22.0), (round(EDGE + grid_m / scale, 1), HEIGHT - 22.0)),
        bar_words=words_of(grid_m),
        between=between,
        title=f"Map of {counted(count, 'site')}, north up, a grid of "
        f"{words_of(grid_m)}; the list beside it holds every site",
    )


def _grid(grid_m: float, scale: float, centre: Point, at: At) -> list[tuple[Point, Point]]:
    """Return the lines of the grid, east and north by whole steps from the origin."""
    lines: list[tuple[Point, Point]] = []
    half_x, half_y = WIDTH / 2.0 * scale, HEIGHT / 2.0 * scale
    low = math.ceil((centre[0] - half_x) / grid_m)
    for k in range(low, math.floor((centre[0] + half_x) / grid_m) + 1):
        x = at((k * grid_m, 0.0))[0]
        lines.append(((x, 0.0), (x, HEIGHT)))
    low = math.ceil((centre[1] - half_y) / grid_m) - 1
    for k in range(low, math.floor((centre[1] + half_y) / grid_m) + 2):
        y = at((0.0, k * grid_m))[1]
        if 0.0 <= y <= HEIGHT:
            lines.append(((0.0, y), (WIDTH, y)))
    return lines


def _marks(sites: Sequence[Placed], at: At) -> list[Mark]:
    """Return the marks, each with its name written beside it where that covers nothing."""
    places = [at(one.at) for one in sites]
    taken = [(x - 9.0, y - 9.0, x + 9.0, y + 9.0) for x, y in places]
    marks = []
    for one, (x, y) in zip(sites, places, strict=True):
        row = one.row
        wide = LETTER * len(row.site.code)
        label = None
        for left, base in ((x + 11, y + 5), (x - 11 - wide, y + 5), (x - wide / 2, y - 13),
                           (x - wide / 2, y + 24)):  # fmt: skip
            box = (left, base - ROW + 3, left + wide, base + 3)
            inside = box[0] > 2 and box[2] < WIDTH - 2 and box[1] > 2 and box[3] < HEIGHT - 30
            if inside and not any(_meet(box, other) for other in taken):
                label = (round(left, 1), round(base, 1))
                taken.append(box)
                break
        marks.append(
            Mark(
                x=x,
                y=y,
                code=code_of(row),
                old=row.old,
                name=row.site.code,
                title=f"{row.site.name}: {state_words(row)}",
                label=label,
            )
        )
    return marks


def state_words(row: SiteRow) -> str:
    """Return the state of a site in words; what is not known says so."""
    if row.news is None:
        return "nothing on record"
    return row.flow + (", no news for long" if row.old else "")


Box = tuple[float, float, float, float]


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]


LEGEND: tuple[tuple[int, str], ...] = (
    *((int(flow), flow.word) for flow in Flow),
    (NOTHING, "nothing on record"),
)
