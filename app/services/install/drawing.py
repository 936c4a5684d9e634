"""The picture of a structure: each view of its outline, dimensions by letter, the way of flow."""

from collections.abc import Mapping

from app.hydraulics.families.registry import build
from app.hydraulics.structure.outline import Outline, View
from app.language.drawing import Drawing, Point

WIDTH = 460.0
MARGIN = 46.0
LEAST, MOST = 190.0, 430.0


def views(outline: Outline, name: str) -> list[Drawing]:
    """Return one drawing a view, to one scale inside each view."""
    return [view_drawing(view, outline, i, name) for i, view in enumerate(outline.views)]


def pictures(family: str, dims: Mapping[str, str | float], first: int) -> list[Drawing]:
    """Return the views of a structure; `first` numbers them where a page has several structures."""
    device = build(family, dict(dims))
    outline = device.outline()
    if outline is None:
        return []
    name = device.describe()
    return [view_drawing(v, outline, first + i, name) for i, v in enumerate(outline.views)]


def view_drawing(view: View, outline: Outline, number: int, name: str) -> Drawing:
    """Return one view; every dimension that can be seen in it carries its letter."""
    points = [p for line in view.lines for p in line.points]
    points += [p for m in view.measures for p in (m.start, m.end)]
    low_x, high_x = min(x for x, _ in points), max(x for x, _ in points)
    low_y, high_y = min(y for _, y in points), max(y for _, y in points)
    long, tall = max(high_x - low_x, 1e-6), max(high_y - low_y, 1e-6)
    scale = min((WIDTH - 2 * MARGIN) / long, (MOST - 2 * MARGIN - 24) / tall)
    height = max(tall * scale + 2 * MARGIN + 24, LEAST)
    left = 0.5 * (WIDTH - long * scale)
    base = height - 0.5 * (height - 24 - tall * scale)

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return left + (point[0] - low_x) * scale, base - (point[1] - low_y) * scale

    out = Drawing(key=f"view-{number}", width=WIDTH, height=height, title=f"{view.title}: {name}")
    out.line([(0, 0), (WIDTH, 0), (WIDTH, height), (0, height)], "paper", closed=True)
    for line in view.lines:
        out.line([at(p) for p in line.points], line.kind)
    taken: list[tuple[float, float]] = []
    for mark in view.measures:
        start, end = at(mark.start), at(mark.end)
        out.measure(start, end)
        letter(out, mark.key, start, end, taken)
    if view.along:
        out.arrow(62, 18, 44, "flow")
    else:
        out.text(12, 22, "looking downstream")
    labels = {part.key: part for part in outline.parts}
    said = ", ".join(
        f"{m.key} {labels[m.key].label.lower()} {labels[m.key].named_m:.3f} m"
        for m in view.measures
        if m.key in labels
    )
    way = "the flow runs from left to right" if view.along else "seen looking downstream"
    out.description = f"{view.title}; {way}. {said or 'No dimension is marked in this view'}."
    return out


def letter(
    out: Drawing, words: str, start: Point, end: Point, taken: list[tuple[float, float]]
) -> None:
    """Put the letter beside its line, on the first side where no other letter stands."""
    x, y = 0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])
    upright = abs(end[0] - start[0]) < abs(end[1] - start[1])
    beside = [(x + 9, y + 5, "start"), (x - 9, y + 5, "end")]
    over = [(x, y - 8, "middle"), (x, y + 18, "middle")]
    sides = beside + over if upright else over + beside
    free = [p for p in sides if all(abs(p[0] - a) > 22 or abs(p[1] - b) > 14 for a, b in taken)]
    x, y, anchor = (free or sides)[0]
    taken.append((x, y))
    out.text(x, y, words, anchor, bold=True)
