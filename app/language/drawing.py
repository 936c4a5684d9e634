"""Drawings as plain shapes, so that a page, a phone and a file show the same picture.

A drawing is data: lines and texts with presentation attributes, a title and a description in
words. `templates/_drawing.html` and `static/shared/drawing.js` put it on the page as SVG.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

Point = tuple[float, float]

INK, QUIET, WATER, ACCENT, WARN, EARTH = (
    "#16222b", "#4b5a64", "#0b5c66", "#0b5c66", "#8a3b00", "#6b5a3e",
)  # fmt: skip

STYLES: dict[str, dict[str, str]] = {
    "paper": {"fill": "#ffffff", "stroke": "none"},
    "edge": {"fill": "none", "stroke": INK, "stroke-width": "2.5", "stroke-linejoin": "round"},
    "floor": {"fill": "none", "stroke": EARTH, "stroke-width": "3.5", "stroke-linejoin": "round"},
    "usual": {"fill": "none", "stroke": QUIET, "stroke-width": "1.5", "stroke-dasharray": "5 4"},
    "level": {"fill": "none", "stroke": QUIET, "stroke-width": "1", "stroke-dasharray": "2 4"},
    "crest": {"fill": "#d9dde0", "stroke": INK, "stroke-width": "2"},
    "water": {"fill": "none", "stroke": WATER, "stroke-width": "2.5"},
    "weed": {"fill": "none", "stroke": WARN, "stroke-width": "2", "stroke-dasharray": "7 4"},
    "bank": {"fill": "none", "stroke": EARTH, "stroke-width": "2", "stroke-dasharray": "12 5"},
    "measure": {"fill": "none", "stroke": ACCENT, "stroke-width": "1.5"},
    "leader": {"fill": "none", "stroke": QUIET, "stroke-width": "0.75"},
    "axis": {"fill": "none", "stroke": QUIET, "stroke-width": "1"},
    "flow": {"fill": ACCENT, "stroke": "none"},
    "band": {"fill": "#8fbcbf", "stroke": ACCENT, "stroke-width": "1"},
    "spot": {"fill": INK, "stroke": "none"},
    "corner_0": {"fill": "none", "stroke": "#0b5c66", "stroke-width": "2.5"},
    "corner_1": {
        "fill": "none", "stroke": "#8a3b00", "stroke-width": "2.5", "stroke-dasharray": "8 4",
    },
    "corner_2": {
        "fill": "none", "stroke": "#3a3f8f", "stroke-width": "2.5", "stroke-dasharray": "2 4",
    },
    "corner_3": {
        "fill": "none", "stroke": "#5b2a63", "stroke-width": "2.5", "stroke-dasharray": "11 4 2 4",
    },
}  # fmt: skip


@dataclass(kw_only=True)
class Drawing:
    """Shapes in pixels of a sheet `width` by `height`; `description` says it all in words."""

    key: str
    width: float
    height: float
    title: str
    description: str = ""
    font_px: float = 14.0
    shapes: list[dict[str, Any]] = field(default_factory=list)

    def line(self, points: Sequence[Point], style: str, *, closed: bool = False) -> None:
        """Add a line through the points; closed, it is an area."""
        where = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        kind = "polygon" if closed else "polyline"
        self.shapes.append({"kind": kind, "points": where, "attributes": STYLES[style]})

    def text(
        self, x: float, y: float, words: str, anchor: str = "start", bold: bool = False
    ) -> None:
        """Add words; `anchor` is start, middle or end."""
        self.shapes.append(
            {"kind": "text", "x": round(x, 1), "y": round(y, 1), "words": words, "anchor": anchor,
             "bold": bold}
        )  # fmt: skip

    def measure(self, start: Point, end: Point) -> None:
        """Add a line with a bar across each end, as dimensions are drawn."""
        (x0, y0), (x1, y1) = start, end
        long = max(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5, 1e-9)
        nx, ny = -(y1 - y0) / long * 5.0, (x1 - x0) / long * 5.0
        self.line([start, end], "measure")
        for x, y in (start, end):
            self.line([(x - nx, y - ny), (x + nx, y + ny)], "measure")

    def arrow(self, x: float, y: float, long: float, words: str) -> None:
        """Add an arrow to the right with words before it."""
        self.text(x - 8, y + 5, words, "end", bold=True)
        self.line(
            [(x, y - 2.5), (x + long - 12, y - 2.5), (x + long - 12, y - 8), (x + long, y),
             (x + long - 12, y + 8), (x + long - 12, y + 2.5), (x, y + 2.5)],
            "flow", closed=True,
        )  # fmt: skip

    def as_dict(self) -> dict[str, Any]:
        """Return the drawing as JSON values."""
        return dict(self.__dict__)


def spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return label places in the same order, at least `gap` apart and inside low to high."""
    order = sorted(range(len(places)), key=lambda i: places[i])
    out = [0.0] * len(places)
    before = low - gap
    for i in order:
        before = out[i] = max(places[i], before + gap)
    after = high + gap
    for i in reversed(order):
        after = out[i] = min(out[i], after - gap)
    return out
