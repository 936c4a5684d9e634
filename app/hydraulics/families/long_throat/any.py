"""The family of long-throated flumes of any section: dimensions, fixed proportions, sources."""

from app.hydraulics.families.long_throat.device import LongThroat
from app.hydraulics.families.long_throat.shared import (
    APPROACH_SLOPE,
    SILL,
    TAIL,
    THROAT_LENGTH,
    length,
)
from app.hydraulics.structure.device import Dimension, Family, Provenance, Source

_KINDS = ("rect", "trap", "tri", "u", "circle", "parab", "compound")
_KIND_ALIASES = {
    "rectangle": "rect",
    "rectangular": "rect",
    "trapezoid": "trap",
    "trapezoidal": "trap",
    "triangle": "tri",
    "triangular": "tri",
    "v": "tri",
    "circ": "circle",
    "circular": "circle",
    "pipe": "circle",
    "parabola": "parab",
    "points": "compound",
}


def _kind(key: str, label: str, default: str | None, aliases: tuple[str, ...]) -> Dimension:
    return Dimension(
        key=key,
        label=label,
        unit="",
        kind="choice",
        required=default is None,
        default=default,
        choices=_KINDS,
        choice_aliases=_KIND_ALIASES,
        aliases=aliases,
        help="rect b; trap b, m; tri m; u, circle D; parab f, or f_T and f_y; compound points.",
    )


def _slope(key: str, label: str, aliases: tuple[str, ...], tolerance: float = 0.0) -> Dimension:
    return Dimension(
        key=key,
        label=label,
        unit="",
        kind="slope",
        required=False,
        low=0.0,
        high=10.0,
        aliases=aliases,
        tolerance=tolerance,
    )


def _parabola(prefix: str, role: str, tolerance: float = 0.0) -> tuple[Dimension, ...]:
    return (
        length(
            f"{prefix}f",
            f"{role} focal distance (parabola x² = 4 f y)",
            tolerance,
            required=False,
            help="x from the middle, y up from the lowest point; or give a width at a height.",
        ),
        length(
            f"{prefix}f_T",
            f"{role} width at a height (parabola)",
            tolerance,
            required=False,
            help="Whole width T measured at the height below; f = T² / (16 y).",
        ),
        length(
            f"{prefix}f_y",
            f"{role} height of that width (parabola)",
            tolerance,
            required=False,
            help="Height y over the lowest point at which the width was measured.",
        ),
    )


def _points(key: str, label: str) -> Dimension:
    return Dimension(
        key=key,
        label=label,
        unit="m",
        kind="text",
        required=False,
        help='offset:level pairs from bank to bank, "0:0.6; 0.2:0; 0.5:0; 0.7:0.6".',
    )


_SIZE_LABELS: dict[str, str] = {}
_PRESETS: dict[str, dict[str, str | float]] = {}
for _mm in (50, 75, 100, 150, 200):
    _bc = _mm / 1000.0
    _SIZE_LABELS[f"RBC {_mm} mm"] = f"Portable sill in a trapezoid (RBC), sill {_mm} mm wide"
    _PRESETS[f"RBC {_mm} mm"] = {
        "throat": "trap",
        "b": _bc,
        "m": 0.5,
        "L": round(1.5 * _bc, 6),
        "p": round(0.5 * _bc, 6),
        "approach": "trap",
        "B": round(0.5 * _bc, 6),
        "B_m": 0.5,
        "modular_limit": 0.85,
        "coefficient_pct": 5.0,
    }
for _mm in (150, 200, 250, 300, 375, 450, 600):
    _D = _mm / 1000.0
    _SIZE_LABELS[f"Palmer-Bowlus {_mm} mm"] = f"Pipe insert (Palmer-Bowlus), pipe {_mm} mm"
    _PRESETS[f"Palmer-Bowlus {_mm} mm"] = {
        "throat": "trap",
        "b": round(_D / 3.0, 6),
        "m": 0.5,
        "L": _D,
        "p": round(_D / 12.0, 6),
        "approach": "circle",
        "B_D": _D,
        "h_max": round(0.8 * _D - _D / 12.0, 6),
        "modular_limit": 0.85,
        "coefficient_pct": 5.0,
    }

FAMILY = Family(
    key="long_throat",
    name="long-throated flume of any section",
    summary="Any throat and approach by critical flow, and sills and pipe inserts by size.",
    dimensions=(
        Dimension(
            key="size",
            label="Fixed proportions",
            unit="",
            kind="choice",
            required=False,
            choices=tuple(_SIZE_LABELS),
            choice_aliases={f"rbc{mm}": f"RBC {mm} mm" for mm in (50, 75, 100, 150, 200)}
            | {f"pb{mm}": f"Palmer-Bowlus {mm} mm" for mm in (150, 200, 250, 300, 375, 450, 600)},
            help="Fills in all the rest; a dimension given beside it replaces its own.",
        ),
        _kind("throat", "Throat section", None, ("kind", "section")),
        length("b", "Throat bottom width", 0.002, required=False, aliases=("W", "width")),
        _slope("m", "Throat side slope, horizontal to 1 vertical", ("z",), 0.01),
        length("D", "Throat diameter", 0.002, required=False, aliases=("d",)),
        *_parabola("", "Throat", 0.002),
        _points("points", "Throat outline"),
        THROAT_LENGTH,
        SILL,
        _kind("approach", "Approach section", "rect", ("approach_kind",)),
        length(
            "B",
            "Approach bottom width",
            0.01,
            required=False,
            aliases=("approach_b",),
            race="width",
        ),
        APPROACH_SLOPE,
        length("B_D", "Approach pipe diameter", 0.005, required=False, aliases=("approach_D",)),
        *_parabola("B_", "Approach"),
        _points("B_points", "Approach outline"),
        length("h_max", "Greatest usable head", required=False),
        Dimension(
            key="modular_limit",
            label="Modular limit stated for the make",
            unit="",
            kind="count",
            required=False,
            low=0.1,
            high=0.99,
            aliases=("ML",),
        ),
        Dimension(
            key="coefficient_pct",
            label="Uncertainty stated for the make",
            unit="%",
            kind="count",
            required=False,
            low=0.5,
            high=50.0,
        ),
        *TAIL,
    ),
    sources=(
        Source(
            "Clemmens, Wahl, Bos & Replogle 2001, ILRI Publ. 58, ch. 6; Bos 1989: Cd, its "
            "uncertainty, limits 0.1 to 1.0 on H1/L",
            Provenance.MEMORY,
        ),
        Source(
            "Critical condition Q^2 T = g A^3 with H = y + A/2T, any section", Provenance.DERIVED
        ),
        Source(
            "San Diego State Univ. CIVE 530 pages: ideal control of a rectangle", Provenance.READ
        ),
        Source(
            "Modular limit: Bos 1989 by ramp and the energy method of Bos, Replogle & Clemmens "
            "1984; the lowest is used",
            Provenance.MEMORY,
        ),
        Source(
            "Clemmens, Bos & Replogle 1984: proportions of the portable sill; limit 0.85",
            Provenance.MEMORY,
        ),
        Source(
            "ASTM D5390: pipe inserts; proportions D/3, 2 to 1, D/12 (makers differ)",
            Provenance.PRACTICE,
        ),
    ),
    limits_text=(
        "Bos: H1/L from 0.1 to 1.0, approach Froude number at most 0.5; limits of ISO 4359 are "
        "flagged apart. Free flow only: above the modular limit the discharge is not determined."
    ),
    tested_tolerance_pct=0.2,
    tested_table=Provenance.DERIVED,
    can_drown=True,
    correction=False,
    make=LongThroat,
    sizes=_SIZE_LABELS,
    presets=_PRESETS,
    example={"throat": "rect", "b": 0.4, "L": 0.8, "p": 0.1, "B": 0.8},
)
