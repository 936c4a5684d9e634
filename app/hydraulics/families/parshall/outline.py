"""Dimensions of Parshall flumes beside the throat width, and their picture.

The walls of the converging section obey A^2 = B^2 + ((D - W) / 2)^2, and A = W/2 + 4 ft from 1 to
8 ft; a test holds the table to both.
"""

from dataclasses import dataclass

from app.hydraulics.structure.dimension import Provenance, Source
from app.hydraulics.structure.outline import Line, Measure, Outline, Part, View, walls

SOURCE = Source(
    "Bos (ed.) 1989, Discharge Measurement Structures, ILRI Publ. 20, sec. 7.4, table of "
    "dimensions: whole millimetres",
    Provenance.MEMORY,
)
US_NOTE = "throat width, US table"
METRIC = Source("ISO 9826:1992: the size is the throat width", Provenance.MEMORY)


@dataclass(frozen=True, kw_only=True)
class Measures:
    """One size in millimetres, by the letters of `LABELS`; None where not known."""

    A: float | None
    a: float | None
    B: float
    C: float
    D: float
    E: float
    F: float
    G: float
    K: float
    N: float
    X: float | None
    Y: float | None


_Row = tuple[
    float | None, float | None, float, float, float, float,
    float, float, float, float, float | None, float | None,
]  # fmt: skip

# The tap of the 10 to 50 ft flumes is left out: two texts remembered do not agree on its place.
_ROWS: dict[str, _Row] = {
    "1in": (363, 242, 356, 93, 167, 229, 76, 203, 19, 29, 8, 13),
    "2in": (414, 276, 406, 135, 214, 254, 114, 254, 22, 43, 16, 25),
    "3in": (467, 311, 457, 178, 259, 457, 152, 305, 25, 57, 25, 38),
    "6in": (621, 414, 610, 394, 397, 610, 305, 610, 76, 114, 51, 76),
    "9in": (879, 587, 864, 381, 575, 762, 305, 457, 76, 114, 51, 76),
    "1ft": (1372, 914, 1343, 610, 845, 914, 610, 914, 76, 229, 51, 76),
    "1.5ft": (1448, 965, 1419, 762, 1026, 914, 610, 914, 76, 229, 51, 76),
    "2ft": (1524, 1016, 1495, 914, 1206, 914, 610, 914, 76, 229, 51, 76),
    "3ft": (1676, 1118, 1645, 1219, 1572, 914, 610, 914, 76, 229, 51, 76),
    "4ft": (1829, 1219, 1794, 1524, 1937, 914, 610, 914, 76, 229, 51, 76),
    "5ft": (1981, 1321, 1943, 1829, 2302, 914, 610, 914, 76, 229, 51, 76),
    "6ft": (2134, 1422, 2092, 2134, 2667, 914, 610, 914, 76, 229, 51, 76),
    "7ft": (2286, 1524, 2242, 2438, 3032, 914, 610, 914, 76, 229, 51, 76),
    "8ft": (2438, 1626, 2391, 2743, 3397, 914, 610, 914, 76, 229, 51, 76),
    "10ft": (None, None, 4267, 3658, 4756, 1219, 914, 1829, 152, 343, 305, 229),
    "12ft": (None, None, 4877, 4470, 5607, 1524, 914, 2438, 152, 343, 305, 229),
    "15ft": (None, None, 7620, 5588, 7620, 1829, 1219, 3048, 229, 457, 305, 229),
    "20ft": (None, None, 7620, 7315, 9144, 2134, 1829, 3658, 305, 686, 305, 229),
    "25ft": (None, None, 7620, 8941, 10668, 2134, 1829, 3962, 305, 686, 305, 229),
    "30ft": (None, None, 7925, 10566, 12313, 2134, 1829, 4267, 305, 686, 305, 229),
    "40ft": (None, None, 8230, 13818, 15481, 2134, 1829, 4877, 305, 686, 305, 229),
    "50ft": (None, None, 8230, 17272, 18529, 2134, 1829, 6096, 305, 686, 305, 229),
}


def _measures(row: _Row) -> Measures:
    A, a, B, C, D, E, F, G, K, N, X, Y = row
    return Measures(A=A, a=a, B=B, C=C, D=D, E=E, F=F, G=G, K=K, N=N, X=X, Y=Y)


MEASURES = {size: _measures(row) for size, row in _ROWS.items()}

LABELS = {
    "W": "Throat width",
    "A": "Converging wall, along the wall",
    "a": "Head tap, back from the throat along the wall",
    "B": "Converging section, along the axis",
    "C": "Exit width",
    "D": "Entrance width",
    "E": "Wall height over the level floor",
    "F": "Throat length",
    "G": "Diverging section, along the axis",
    "K": "Exit floor below the level floor",
    "N": "Lowest point of the throat below the level floor",
    "X": "Tail tap, back from the end of the throat",
    "Y": "Tail tap, over the lowest point",
}


def parshall_outline(size: str, width_m: float) -> Outline:
    """Return the picture and parts of a size; a metric size has only its throat width by name."""
    known = MEASURES.get(size)
    rule = US_NOTE if known else "throat width, ISO"
    throat = Part("W", LABELS["W"], width_m, rule, "W_built", SOURCE if known else METRIC)
    if known is None:
        near = min(MEASURES, key=lambda key: abs(_width(key) - width_m))
        known = MEASURES[near]
        parts: tuple[Part, ...] = (throat,)
        note = (
            "Only the throat width of a metric size is held here; the rest of the picture has the "
            "proportions of the nearest size in feet. Take the other dimensions from ISO 9826."
        )
        kind = "usual"
    else:
        named = {key: getattr(known, key) for key in LABELS if key != "W"}
        rest = [
            Part(key, LABELS[key], mm / 1000.0, "other, US table", None, SOURCE)
            for key, mm in named.items()
            if mm is not None
        ]
        parts = (throat, *rest)
        note = "The converging floor is level both ways; all heads are measured over it."
        kind = "edge"
    m = {k: (getattr(known, k) or 0.0) / 1000.0 for k in LABELS if k != "W"}
    end, out = m["B"] + m["F"], m["B"] + m["F"] + m["G"]
    plan = ((0.0, m["D"]), (m["B"], width_m), (end, width_m), (out, m["C"]))
    measures = [
        Measure("W", (m["B"] + 0.5 * m["F"], -width_m / 2), (m["B"] + 0.5 * m["F"], width_m / 2)),
        Measure("D", (0.0, -m["D"] / 2), (0.0, m["D"] / 2)),
        Measure("C", (out, -m["C"] / 2), (out, m["C"] / 2)),
    ]
    if m["A"]:
        rise = (m["D"] - width_m) / 2
        measures.append(Measure("A", (0.0, m["D"] / 2), (m["B"], width_m / 2)))
        share = m["a"] / m["A"]
        tap = (m["B"] * (1 - share), -(width_m / 2 + share * rise))
        measures.append(Measure("a", tap, (m["B"], -width_m / 2)))
    floor = ((0.0, 0.0), (m["B"], 0.0), (end, -m["N"]), (out, -m["K"]))
    low = -(m["N"] + 0.3 * m["E"])
    side = [
        Measure("B", (0.0, 0.0), (m["B"], 0.0)),
        Measure("F", (m["B"], low), (end, low)),
        Measure("G", (end, low), (out, low)),
        Measure("E", (0.0, 0.0), (0.0, m["E"])),
        Measure("N", (end, -m["N"]), (end, 0.0)),
        Measure("K", (out, -m["K"]), (out, 0.0)),
        Measure("X", (end - m["X"], m["Y"] - m["N"]), (end, m["Y"] - m["N"])),
        Measure("Y", (end - m["X"], -m["N"]), (end - m["X"], m["Y"] - m["N"])),
    ]
    shown = {part.key for part in parts}
    return Outline(
        parts,
        (
            View(
                "Plan",
                (*walls(plan, kind),),
                tuple(x for x in measures if x.key in shown),
            ),
            View(
                "Long section",
                (
                    Line(floor, "floor" if kind == "edge" else "usual"),
                    Line(((0.0, m["E"]), (out, m["E"])), kind),
                    Line(((0.0, 0.0), (out, 0.0)), "level"),
                ),
                tuple(x for x in side if x.key in shown),
            ),
        ),
        note,
    )


def _width(size: str) -> float:
    number = float(size.removesuffix("ft").removesuffix("in"))
    return number * (0.3048 if size.endswith("ft") else 0.0254)
