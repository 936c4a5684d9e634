"""Cases of gauging_observed_vectors.json: gaugings as typed, and what the server says."""

from typing import Any

from app.services.gaugings.work import worked
from tests.vectors.harness import OWN, answered, case

READ = "read"
DERIVED = "derived: plain arithmetic"

# an invented section of 2 m; its sums checked by hand
TAPE = ["0", "0,2", "0,4", "0,6", "0,8", "1", "1,2", "1,4", "1,6", "1,8", "2"]
DEPTHS = ["0", ".22", ".31", ".36", ".38", ".39", ".38", ".35", ".30", ".20", "0"]
SPEEDS = ["", "0.24", "0.33", "0.39", "0.42", "0.43", "0.42", "0.38", "0.32", "0.22", ""]


def points(**at: Any) -> dict[str, Any]:
    blank = {"velocity_ms": None, "counts": None, "seconds": None}
    return {key: {**blank, **value} for key, value in at.items()}


def section(**changes: Any) -> dict[str, Any]:
    verticals = [
        {
            "distance_m": tape,
            "depth_m": depth,
            "points": points(v06={"velocity_ms": speed}) if speed else {},
        }
        for tape, depth, speed in zip(TAPE, DEPTHS, SPEEDS, strict=True)
    ]
    return {
        "method": "velocity_area",
        "section": "mid",
        "edges": ["bank", "bank"],
        "meter_pieces": [],
        "verticals": verticals,
        "components": None,
    } | changes


def wall() -> dict[str, Any]:
    rows = [
        ("0", "0", ""),
        ("0.4", "0.2", "0.25"),
        ("0.8", "0.3", "0.35"),
        ("1.2", "0.4", "0.38"),
        ("1.6", "0.4", "0.30"),
    ]
    verticals = [
        {"distance_m": b, "depth_m": d, "points": points(v06={"velocity_ms": v}) if v else {}}
        for b, d, v in rows
    ]
    return section(edges=["bank", "wall"], verticals=verticals)


def counted() -> dict[str, Any]:
    rows = [
        {"distance_m": "0", "depth_m": "0", "points": {}},
        {
            "distance_m": "1",
            "depth_m": "0.9",
            "points": points(
                v02={"counts": "100", "seconds": "50"}, v08={"counts": "40", "seconds": "50"}
            ),
        },
        {
            "distance_m": "2",
            "depth_m": "0.5",
            "points": points(
                v02={"counts": "90", "seconds": "45,0"},
                v06={"counts": "60", "seconds": "60"},
                v08={"counts": "0", "seconds": "60"},
            ),
        },
        {"distance_m": "3", "depth_m": "0", "points": {}},
    ]
    pieces = [["0", "0.25", "0.02"], ["1,5", "0.26", "0.005"]]
    return section(verticals=rows, meter_pieces=pieces)


def changed_rows(**by_row: dict[str, Any]) -> dict[str, Any]:
    found = section()
    for name, change in by_row.items():
        found["verticals"][int(name[1:])] |= change
    return found


def calibrated(*readings: str) -> list[dict[str, str]]:
    return [
        {"concentration_mg_l": str(10 * i), "conductivity_us_cm": reading}
        for i, reading in enumerate(readings)
    ]


def gulp(**changes: Any) -> dict[str, Any]:
    trace = [85, 85, 88, 102, 131, 158, 149, 128, 111, 99, 92, 88, 86, 85, 85]
    return {
        "method": "dilution_gulp",
        "mass_g": "200",
        "volume_l": None,
        "concentration_g_l": None,
        "time_s": [4.0 * i for i in range(len(trace))],
        "conductivity_us_cm": [float(each) for each in trace],
        "second_us_cm": None,
        "trace_text": "",
        "trace_from": "typed",
        "file_name": None,
        "background_us_cm": None,
        "background_end_us_cm": None,
        "calibration": [],
        "factor_mg_l_per_us_cm": None,
        "factor_uncertainty_pct": None,
        "dose_uncertainty_pct": None,
    } | changes


def fills(volume: str, *times: str, **changes: Any) -> dict[str, Any]:
    return {
        "method": "volumetric",
        "fills": [{"volume_l": volume, "time_s": time} for time in times],
        "volume_uncertainty_pct": None,
        "timer_uncertainty_s": None,
    } | changes


def constant(**changes: Any) -> dict[str, Any]:
    return {
        "method": "dilution_constant",
        "injection_ml_s": "10",
        "injected": "150000",
        "background": "5",
        "plateau": ["25"],
        "unit": "mg/L",
        "injection_uncertainty_pct": None,
        "concentration_uncertainty_pct": None,
    } | changes


def floats(**changes: Any) -> dict[str, Any]:
    return {
        "method": "float",
        "distance_m": "10",
        "times_s": ["25"],
        "width_m": "1.2",
        "depths_m": ["0.3"],
        "factor": "0.85",
        "uncertainty_pct": None,
    } | changes


def own_table(**changes: Any) -> dict[str, Any]:
    return {
        "method": "portable",
        "device": None,
        "heads_mm": [],
        "head_uncertainty_mm": None,
        "free_seen": False,
        "described": "Borrowed plate (invented)",
        "discharge_l_s": "12,5",
        "uncertainty_pct": "4",
    } | changes


MORGENSCHWEIS = f"Morgenschweis 2010, Hydrometrie (Springer) ({READ})"
RICHARDSON = f"Richardson and others 2017, Confluence: default salt factor 0.486 ({READ})"

CASES: list[tuple[str, dict[str, Any], dict[str, float], float, str]] = [
    (
        "mid-section",
        section(),
        {"discharge_m3s": 0.21108, "largest_share_pct": 15.89},
        1e-4,
        DERIVED,
    ),
    ("mean-section", section(section="mean"), {"discharge_m3s": 0.204935}, 1e-5, DERIVED),
    ("wall at the far side", wall(), {"discharge_m3s": 0.1468}, 1e-6, DERIVED),
    ("counts, two and three points", counted(), {}, 1e-9, ""),
    (
        "changed components",
        section(components={"systematic_pct": "2", "meter": [["0.1", "5"], ["0.5", "1,5"]]}),
        {},
        1e-9,
        "",
    ),
    (
        "tape read backwards",
        section(verticals=section()["verticals"][::-1]),
        {"discharge_m3s": 0.21108},
        1e-4,
        DERIVED,
    ),
    ("verticals out of order", changed_rows(_4={"distance_m": "0.5"}), {}, 1e-9, ""),
    ("a depth is missing", changed_rows(_3={"depth_m": ""}), {}, 1e-9, ""),
    ("a depth below zero", changed_rows(_3={"depth_m": "-0.3"}), {}, 1e-9, ""),
    ("a depth that is no number", changed_rows(_3={"depth_m": "0.3x"}), {}, 1e-9, ""),
    ("no velocity", changed_rows(_3={"points": {}}), {}, 1e-9, ""),
    (
        "counts without seconds",
        changed_rows(_3={"points": points(v06={"counts": "30"})}),
        {},
        1e-9,
        "",
    ),
    (
        "counts in zero time",
        changed_rows(_3={"points": points(v06={"counts": "30", "seconds": "0"})}),
        {},
        1e-9,
        "",
    ),
    (
        "counts without an equation",
        changed_rows(_3={"points": points(v06={"counts": "30", "seconds": "40"})}),
        {},
        1e-9,
        "",
    ),
    ("two verticals", section(verticals=section()["verticals"][:2]), {}, 1e-9, ""),
    (
        "largest tub, least time",
        fills("120", "5", "5", "5", "5", "5"),
        {"discharge_m3s": 0.024},
        1e-9,
        MORGENSCHWEIS,
    ),
    (
        "five fills",
        fills("20", "8,2", "8.4", "8.1", "8.3", "8.25"),
        {"discharge_m3s": 0.0024242424},
        1e-6,
        DERIVED,
    ),
    (
        "one short fill, own uncertainties",
        fills("9", "3", volume_uncertainty_pct="2", timer_uncertainty_s="0,2"),
        {},
        1e-9,
        "",
    ),
    ("a fill in no time", fills("20", "8.2", "0"), {}, 1e-9, ""),
    ("no fill", fills("20"), {}, 1e-9, ""),
    (
        "fills without any uncertainty",
        fills("20", "8", "8", volume_uncertainty_pct="0", timer_uncertainty_s="0"),
        {},
        1e-9,
        "",
    ),
    (
        "gulp, default factor",
        gulp(),
        {"discharge_m3s": 0.3463995, "integral": 1188.0},
        1e-6,
        RICHARDSON,
    ),
    (
        "gulp, calibrated",
        gulp(calibration=calibrated("85", "105,5", "126.1", "146.9")),
        {},
        1e-9,
        "",
    ),
    (
        "gulp, solution and two probes",
        gulp(
            mass_g=None,
            volume_l="2",
            concentration_g_l="100",
            second_us_cm=[
                85.0,
                85.0,
                87.0,
                99.0,
                128.0,
                157.0,
                151.0,
                130.0,
                112.0,
                100.0,
                93.0,
                88.0,
                86.0,
                85.0,
                85.0,
            ],
        ),
        {},
        1e-9,
        "",
    ),
    (
        "gulp, tail cut off",
        gulp(
            time_s=[4.0 * i for i in range(10)],
            conductivity_us_cm=[85.0, 85, 88, 102, 131, 158, 149, 128, 111, 99],
        ),
        {},
        1e-9,
        "",
    ),
    (
        "gulp, background drifts",
        gulp(background_us_cm="85", background_end_us_cm="87"),
        {},
        1e-9,
        "",
    ),
    ("gulp, background after alone", gulp(background_end_us_cm="86,5"), {}, 1e-9, ""),
    ("gulp, background after above the peak", gulp(background_end_us_cm="500"), {}, 1e-9, ""),
    ("gulp, background above the peak", gulp(background_us_cm="160"), {}, 1e-9, ""),
    ("gulp, no dose", gulp(mass_g=None), {}, 1e-9, ""),
    (
        "gulp, times out of order",
        gulp(time_s=[0.0, 4, 8, 12, 16, 20, 24, 20, 32, 36, 40, 44, 48, 52, 56]),
        {},
        1e-9,
        "",
    ),
    ("gulp, calibration falls", gulp(calibration=calibrated("120", "110", "100")), {}, 1e-9, ""),
    ("constant rate", constant(), {"discharge_m3s": 0.0749875}, 1e-7, DERIVED),
    (
        "constant rate, homework figures",
        constant(injection_ml_s="1800", injected="8000", background="58", plateau=["250"]),
        {"discharge_m3s": 0.07265625},
        1e-9,
        f"University homework statement, formula in {MORGENSCHWEIS}",
    ),
    (
        "constant rate, plateau uneven",
        constant(plateau=["24", "25", "26,5"], background=None, injection_uncertainty_pct="2"),
        {},
        1e-9,
        "",
    ),
    (
        "constant rate, both backgrounds",
        constant(background_end="5"),
        {"discharge_m3s": 0.0749875},
        1e-7,
        DERIVED,
    ),
    ("constant rate, background drifts", constant(background_end="7,5"), {}, 1e-9, ""),
    (
        "constant rate, background before empty",
        constant(background="", background_end="4"),
        {},
        1e-9,
        "",
    ),
    ("constant rate, plateau under background", constant(plateau=["4"]), {}, 1e-9, ""),
    ("float", floats(), {"discharge_m3s": 0.1224}, 1e-9, DERIVED),
    (
        "three floats, several depths",
        floats(
            times_s=["22", "23,5", "22.5"],
            width_m="1.8",
            depths_m=["0.2", "0.4", "0.3"],
            factor=None,
        ),
        {},
        1e-9,
        "",
    ),
    ("float without a depth", floats(depths_m=[]), {}, 1e-9, ""),
    ("float with a factor above one", floats(factor="1.2"), {}, 1e-9, ""),
    (
        "portable, its own table",
        own_table(),
        {"discharge_m3s": 0.0125, "uncertainty_pct": 4.0},
        1e-9,
        DERIVED,
    ),
    ("portable, no discharge", own_table(discharge_l_s=None), {}, 1e-9, ""),
]


def vectors() -> list[dict[str, Any]]:
    found = []
    for name, observed, published, tolerance, source in CASES:
        said = answered(lambda observed=observed: worked(observed))  # type: ignore[misc]
        told = source_of(source) if published else OWN
        found.append(case(name, "worked", observed, said, published, tolerance, told))
    return found


def source_of(text: str) -> tuple[str, str]:
    """Return source and provenance: the latter is what stands in the source."""
    if text == DERIVED:
        return "plain arithmetic", "derived"
    return text, READ if f"({READ})" in text else "derived"
