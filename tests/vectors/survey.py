"""Cases of levels_vectors.json and gaugings_vectors.json.

`result` and `error` are the server's own answers, which the phone must give to 1e-9. `published`
holds what was worked outside this code, by hand or in print, with its tolerance, source and
provenance; server and phone are both held to it. Runs, sections and traces are invented data.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.hydraulics.gauging import dilution, dilution_constant, tracer
from app.hydraulics.gauging import verdict as gaugings
from app.hydraulics.gauging.current_meter import mean_velocity, meter_velocity
from app.hydraulics.gauging.velocity_area import velocity_area
from app.hydraulics.levelling.reduce import misclosure_limit_mm, reduce_run
from app.hydraulics.levelling.results import crest_results, results_of_run, two_peg
from tests.vectors.harness import answered, case

BY_HAND = ("plain arithmetic by hand", "derived")

CALLS: dict[str, Callable[[dict[str, Any]], object]] = {
    "reduce_run": lambda a: reduce_run(**a),
    "point_levels": lambda a: {
        name: level.as_dict() for name, level in reduce_run(**a["run"]).point_levels().items()
    },
    "results_of_run": lambda a: results_of_run(reduce_run(**a["run"]), **without(a, "run")),
    "crest_results": lambda a: crest_results(**a),
    "two_peg": lambda a: two_peg(**a),
    "misclosure_limit_mm": lambda a: misclosure_limit_mm(**a),
    "volumetric": lambda a: gaugings.volumetric(**a),
    "float_gauging": lambda a: gaugings.float_gauging(**a),
    "known_gauging": lambda a: gaugings.known_gauging(**a),
    "mean_head": lambda a: gaugings.mean_head(**a),
    "mean_and_error": lambda a: gaugings.mean_and_error(a["values"]),
    "verdict": lambda a: gaugings.verdict(**a),
    "velocity_area": lambda a: velocity_area(**a),
    "mean_velocity": lambda a: mean_velocity(a["row"]),
    "meter_velocity": lambda a: meter_velocity(**a),
    "gulp": lambda a: dilution.gulp(**a),
    "constant_rate": lambda a: dilution_constant.constant_rate(**a),
    "calibration_factor": lambda a: tracer.calibration_factor(**a),
    "salt_mass_kg": lambda a: tracer.salt_mass_kg(**a),
}


def without(values: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in values.items() if name != key}


@dataclass
class Case:
    """One call with what was worked outside this code, by path such as `rl.3`."""

    name: str
    call: str
    args: dict[str, Any]
    published: dict[str, Any] = field(default_factory=dict)
    source: str = "the server's own answer"
    provenance: str = "derived"
    tolerance: float = 1e-9
    refused: str = ""


def row(setup: object, point: str, kind: str, reading: object) -> dict[str, object]:
    return {"setup": setup, "point": point, kind: reading}


RUN = [
    row(1, "BM1", "bs", 1.342),
    row(1, "race floor", "is", 2.271),
    row(1, "crest upstream left", "is", 2.118),
    row(1, "crest upstream right", "is", 2.119),
    row(1, "crest downstream left", "is", 2.117),
    row(1, "crest downstream right", "is", 2.120),
    row(1, "staff gauge, 0.500 mark", "is", 1.619),
    row(1, "sensor face", "is", 2.139),
    row(1, "water in well", "is", 1.868),
    row(1, "TP1", "fs", 1.507),
    row(2, "TP1", "bs", 1.455),
    row(2, "tail race floor", "is", 2.402),
    row(2, "tail water", "is", 2.055),
    row(2, "BM2", "is", 0.988),
    row(2, "TP2", "fs", 1.633),
    row(3, "TP2", "bs", 1.721),
    row(3, "BM2 (again)", "is", 1.075),
    row(3, "BM1 (close)", "fs", 1.377),
]
ROLES = {
    "corners": [
        "crest upstream left",
        "crest upstream right",
        "crest downstream left",
        "crest downstream right",
    ],
    "floor": "race floor",
    "staff_mark": "staff gauge, 0.500 mark",
    "sensor": "sensor face",
    "water": "water in well",
    "tail_floor": "tail race floor",
    "tail_water": "tail water",
}
WORKED: dict[str, Any] = {"rows": RUN, "start_rl": 100.0}
WORKED_RL = {
    f"rl.{i}": rl
    for i, rl in enumerate(
        [100.0, 99.071, 99.224, 99.223, 99.225, 99.222, 99.723, 99.203, 99.474, 99.835, 99.835,
         98.888, 99.235, 100.302, 99.657, 99.657, 100.303, 100.001]
    )
}  # fmt: skip


def changed(place: int, **values: object) -> list[dict[str, object]]:
    """Return the worked run with one row changed."""
    return [{**each, **values} if i == place else dict(each) for i, each in enumerate(RUN, start=1)]


# three legs of 40, 60 and 100 m; invented readings
LEGS: list[dict[str, object]] = [
    {"point": "A", "bs": 1.5, "distance_m": 15},
    {"point": "crest", "is": 1.0, "distance_m": 12},
    {"point": "T1", "fs": 0.5, "distance_m": 25},
    {"point": "T1", "bs": 1.2, "distance_m": 30},
    {"point": "T2", "fs": 2.2, "distance_m": 30},
    {"point": "T2", "bs": 1.6, "distance_m": 50},
    {"point": "B", "fs": 1.0, "distance_m": 50},
]


def level_cases() -> list[Case]:
    hand, derived = BY_HAND
    crest = {
        "crest_rl_m": 99.2235, "corner_range_m": 0.003, "corner_word": "outside 2 mm",
        "crest_above_floor_m": 0.1525, "zero_rl_m": 99.223, "zero_minus_crest_m": -0.0005,
        "head_by_level_m": 0.2505, "staff_should_read_m": 0.251, "sensor_below_crest_m": 0.0205,
        "crest_above_tail_floor_m": 0.3355, "tailwater_above_crest_m": 0.0115,
    }  # fmt: skip
    short = [row("", "A", "bs", "1,685"), {"point": "T1", "fs": 1.204, "bs": 1.377},
             {"point": "T2", "fs": 1.862, "bs": "1.52"}, row("", "A", "fs", 1.514)]  # fmt: skip
    in_feet = [
        row(1, "RM1", "bs", 4.212), row(1, "gauge", "is", 6.55), row(1, "TP", "fs", 5.004),
        row(2, "TP", "bs", 5.116), row(2, "gauge (again)", "is", 6.664),
        row(2, "RM1", "fs", 4.331),
    ]  # fmt: skip
    cases = [
        Case("worked run", "reduce_run", WORKED,
             {**WORKED_RL, "sum_bs": 4.518, "sum_fs": 4.517, "sum_rises": 3.348,
              "sum_falls": 3.347, "misclosure": 0.001, "within_limit": True,
              "arithmetic_agrees": True, "rl_adjusted.11": 98.8873333333333,
              "rl_adjusted.13": 100.301333333333, "rl_adjusted.16": 100.302,
              "rl_adjusted.17": 100.0}, hand, derived, 1e-9),
        Case("limit of the worked run", "reduce_run", WORKED, {"limit_mm": 1.5837873},
             "Kenney 2010, USGS TM 3-A19, 0.003 sqrt(n) ft", "read", 1e-6),
        Case("worked run, points", "point_levels", {"run": WORKED},
             {"BM2.spread": 0.001, "BM2.count": 2, "BM1.rl": 100.0}, hand, derived, 1e-9),
        Case("worked run, results", "results_of_run",
             {"run": WORKED, "roles": ROLES, "staff_mark_m": 0.5, "exponent": 1.55}, crest, hand,
             derived, 1e-9),
        Case("worked run, tailwater ratio", "results_of_run",
             {"run": WORKED, "roles": ROLES, "staff_mark_m": 0.5}, {"tailwater_ratio": 0.046},
             hand + ", printed to two figures", derived, 5e-3),
        Case("worked run, adjusted results", "results_of_run",
             {"run": WORKED, "roles": ROLES, "staff_mark_m": 0.5, "adjusted": True},
             {"zero_minus_crest_m": -0.0005, "head_by_level_m": 0.2505}, hand, derived, 1e-9),
        Case("corners alone", "results_of_run",
             {"run": WORKED, "roles": {"corners": ROLES["corners"]}}),
        Case("three set-ups, shared rows, decimal comma, no set-up numbers", "reduce_run",
             {"rows": short, "start_rl": 50.0},
             {"misclosure": 0.002, "rl.1": 50.481, "correction.1": -0.000666666666666667,
              "setups": 3}, hand, derived, 1e-9),
        Case("closes on another mark", "reduce_run",
             {"rows": RUN[:10], "start_rl": 100.0, "close_rl": 99.834}, {"misclosure": 0.001},
             hand, derived, 1e-9),
        Case("not closed", "reduce_run", {"rows": RUN[:15], "start_rl": 100.0}),
        Case("still open", "reduce_run", {"rows": RUN[:6], "start_rl": "100"}),
        Case("one sight", "reduce_run", {"rows": RUN[:1], "start_rl": 10}),
        Case("in feet", "reduce_run", {"rows": in_feet, "start_rl": 20.0, "unit": "ft"},
             {"rl.1": 17.662, "rl.2": 19.208, "misclosure": -0.007, "limit_mm": 1.293156},
             hand, derived, 1e-6),
        Case("a misread foresight shows as misclosure", "reduce_run",
             {**WORKED, "rows": changed(10, fs=1.517)},
             {"misclosure": -0.009, "within_limit": False}, hand, derived, 1e-9),
        Case("a mark that differs between its sights", "reduce_run",
             {**WORKED, "rows": changed(17, **{"is": 1.085})}),
        Case("fixed limit", "reduce_run", {**WORKED, "rule": "fixed", "limit_mm": 0.5},
             {"within_limit": False}, hand, derived),
        Case("distance rule", "reduce_run", {**WORKED, "rule": "distance", "distance_km": 0.09},
             {"limit_mm": 3.6}, "12 sqrt(K) mm, third order, textbooks", "from memory"),
        Case("shared by distance", "reduce_run",
             {"rows": LEGS, "start_rl": 100.0, "close_rl": 100.59, "rule": "distance"},
             {"misclosure": 0.01, "shared_by": "distance", "rl_adjusted.2": 100.998,
              "rl_adjusted.4": 99.995, "rl_adjusted.6": 100.59, "limit_mm": 12 * 0.2**0.5},
             "legs of 40, 60 and 100 m: -0.01 x 40/200, 100/200, 200/200; in proportion to "
             "distance, surveying texts", "from memory", 1e-9),
        Case("shared by distance, turning points in one row", "reduce_run",
             {"rows": [
                 {"point": "A", "bs": 1.5, "distance_m": 15},
                 {"point": "T1", "fs": 0.5, "bs": 1.2, "fs_distance_m": 25, "bs_distance_m": 30},
                 {"point": "T2", "fs": 2.2, "bs": 1.6, "fs_distance_m": 30, "bs_distance_m": 50},
                 {"point": "B", "fs": 1.0, "distance_m": 50}],
              "start_rl": 100.0, "close_rl": 100.59, "rule": "distance", "distance_km": 0.3},
             {"rl_adjusted.1": 100.998, "rl_adjusted.3": 99.995}, "as above", "from memory", 1e-9),
        Case("shared by distance, one length missing", "reduce_run",
             {"rows": [{**LEGS[0], "distance_m": ""}, *LEGS[1:]], "start_rl": 100.0,
              "close_rl": 100.59, "rule": "distance", "distance_km": 0.2},
             {"shared_by": "set-up"}, hand, derived),
        Case("shared by distance, still open", "reduce_run",
             {"rows": LEGS[:-1], "start_rl": 100.0, "rule": "distance"}),
        Case("ordinary rule", "misclosure_limit_mm", {"rule": "ordinary", "setups": 4}, {},
             "5 sqrt(n) mm, ordinary works, textbooks", "from memory"),
        Case("cap of the limit", "misclosure_limit_mm", {"rule": "setups", "setups": 36},
             {"": 4.572}, "Kenney 2010, USGS TM 3-A19, never over 0.015 ft", "read", 1e-6),
        Case("four corners only", "crest_results", {"corners_m": [49.445, 49.442, 49.444, 49.441]},
             {"crest_rl_m": 49.443, "corner_range_m": 0.004}, hand, derived, 1e-9),
        Case("one corner", "crest_results", {"corners_m": [10.0], "water_rl_m": 9.9}),
        Case("gauge reads low", "crest_results",
             {"corners_m": [49.443], "staff_mark_rl_m": 49.746, "staff_mark_m": 0.3},
             {"zero_minus_crest_m": 0.003}, hand, derived, 1e-6),
        Case("two pegs, level true", "two_peg",
             {"middle_a_m": 1.5, "middle_b_m": 1.3, "end_a_m": 1.2, "end_b_m": 1.0,
              "end_distance_a_m": 40, "end_distance_b_m": 5},
             {"collimation_mm_per_m": 0.0, "passes": True}, hand, derived, 1e-9),
        Case("two pegs, line of sight climbs 0.1 mm/m", "two_peg",
             {"middle_a_m": 1.502, "middle_b_m": 1.302, "end_a_m": 1.204, "end_b_m": 1.0005,
              "end_distance_a_m": 40, "end_distance_b_m": 5},
             {"collimation_mm_per_m": 0.1, "passes": False, "end_a_should_read_m": 1.2}, hand,
             derived, 1e-9),
    ]  # fmt: skip
    refused: list[tuple[str, str, dict[str, Any]]] = [
        ("rows", "reduce_run", {"rows": [], "start_rl": 1}),
        ("row 1 is", "reduce_run", {"rows": RUN[1:], "start_rl": 1}),
        ("row 5 point", "reduce_run", {**WORKED, "rows": changed(5, point=" ")}),
        ("row 7", "reduce_run", {**WORKED, "rows": changed(7, **{"is": ""})}),
        ("row 7", "reduce_run", {**WORKED, "rows": changed(7, fs=1.0)}),
        ("row 7 is", "reduce_run", {**WORKED, "rows": changed(7, **{"is": 1619})}),
        ("row 7 is", "reduce_run", {**WORKED, "rows": changed(7, **{"is": "1.6l9"})}),
        ("row 11 point", "reduce_run", {**WORKED, "rows": changed(11, point="TP7")}),
        ("row 11 bs", "reduce_run", {**WORKED, "rows": changed(11, setup=1)}),
        ("row 12 setup", "reduce_run", {**WORKED, "rows": changed(12, setup=3)}),
        ("row 10 bs", "reduce_run", {"rows": RUN[:9] + RUN[10:], "start_rl": 100.0}),
        ("row 10 is", "reduce_run",
         {"rows": [*RUN[:9], {"point": "late", "is": "x"}], "start_rl": 100.0}),
        ("unit", "reduce_run", {**WORKED, "unit": "yd"}),
        ("rule", "reduce_run", {**WORKED, "rule": "guess"}),
        ("distance_km", "reduce_run", {**WORKED, "rule": "distance"}),
        ("row 2 distance_m", "reduce_run",
         {"rows": [LEGS[0], {**LEGS[1], "distance_m": 700}], "start_rl": 1, "rule": "distance"}),
        ("row 1 distance_m", "reduce_run",
         {"rows": [{**LEGS[0], "distance_m": "far"}, LEGS[1]], "start_rl": 1, "rule": "distance"}),
        ("limit_mm", "reduce_run", {**WORKED, "rule": "fixed", "limit_mm": 0}),
        ("start_rl", "reduce_run", {**WORKED, "start_rl": "high"}),
        ("floor", "results_of_run",
         {"run": WORKED, "roles": {"corners": ROLES["corners"], "floor": "moon"}}),
        ("roles", "results_of_run",
         {"run": WORKED, "roles": {"corners": ROLES["corners"], "roof": "TP1"}}),
        ("adjusted", "results_of_run",
         {"run": {"rows": RUN[:6], "start_rl": 1}, "roles": {}, "adjusted": True}),
        ("corners", "crest_results", {"corners_m": []}),
        ("low_head_m", "crest_results", {"corners_m": [1.0], "low_head_m": 0}),
        ("end_distance_a_m", "two_peg",
         {"middle_a_m": 1, "middle_b_m": 1, "end_a_m": 1, "end_b_m": 1, "end_distance_a_m": 20,
          "end_distance_b_m": 20}),
    ]  # fmt: skip
    return cases + [
        Case(f"refused {i}: {name}", call, args, refused=name)
        for i, (name, call, args) in enumerate(refused, start=1)
    ]


def section(b: list[float], d: list[float], v: list[float]) -> list[dict[str, object]]:
    return [{"distance_m": x, "depth_m": y, "v": z} for x, y, z in zip(b, d, v, strict=True)]


SECTION = section(
    [0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0],
    [0, 0.22, 0.31, 0.36, 0.38, 0.39, 0.38, 0.35, 0.3, 0.2, 0],
    [0, 0.24, 0.33, 0.39, 0.42, 0.43, 0.42, 0.38, 0.32, 0.22, 0],
)
WALL = section([0, 0.4, 0.8, 1.2, 1.6], [0, 0.2, 0.3, 0.4, 0.4], [0, 0.25, 0.35, 0.38, 0.3])
POINTED: list[dict[str, object]] = [
    {"distance_m": "3,0", "depth_m": "0"},
    {"distance_m": 2.4, "depth_m": 0.5, "v06": "0,42"},
    {"distance_m": 1.6, "depth_m": 0.9, "v02": 0.61, "v08": 0.37},
    {"distance_m": 0.9, "depth_m": 0.8, "v02": 0.52, "v06": 0.45, "v08": 0.34},
    {"distance_m": 0.5, "depth_m": 0.8, "v": 0.3, "points": 5},
    {"distance_m": 0.0, "depth_m": 0.4},
]
TRACE: dict[str, Any] = {
    "time_s": [5.0 * i for i in range(13)],
    "trace": [120, 120, 135, 210, 320, 290, 220, 170, 142, 128, 122, 120, 120],
    "mass_g": 500,
    "factor": 0.5,
}
FAST: dict[str, Any] = {
    "time_s": [4.0 * i for i in range(15)],
    "trace": [85, 85, 88, 102, 131, 158, 149, 128, 111, 99, 92, 88, 86, 85, 85],
    "mass_g": 200,
}
# a longer trace with the readings before and after; invented, salt in whole uS/cm
_LONG = [120] * 8 + [135, 210, 320, 290, 220, 170, 142, 128, 123, 121] + [120] * 10
LONG: dict[str, Any] = {
    **TRACE, "time_s": [5.0 * i for i in range(len(_LONG))], "trace": _LONG,
    "factor_uncertainty_pct": 1,
}  # fmt: skip
# readings jitter by a fixed pattern, so that scatter and drift both show
JITTER = [0.3, -0.2, 0.1, -0.4, 0.2, 0.0, -0.1, 0.4, -0.3]


def drifting(by: float, jitter: float = 0.0, cut: int | None = None) -> dict[str, Any]:
    """Return the long trace with a background that drifts straight by so many uS/cm."""
    top = len(_LONG) - 1
    trace = [
        round(x + by * i / top + jitter * JITTER[i % len(JITTER)], 4) for i, x in enumerate(_LONG)
    ]
    return {**LONG, "trace": trace[:cut], "time_s": LONG["time_s"][:cut]}


CUT = {**TRACE, "time_s": TRACE["time_s"][:9], "trace": TRACE["trace"][:9]}
VERDICT = {"rating_m3s": 0.045, "rating_uncertainty_pct": 5, "uncertainty_pct": 8}


def moved(place: int, **values: object) -> list[dict[str, object]]:
    return [{**each, **values} if i == place else each for i, each in enumerate(SECTION, start=1)]


def gauging_cases() -> list[Case]:
    hand, derived = BY_HAND
    iso = "ISO 748 arithmetic on an invented section"
    richardson = "mass balance with the salt factor of Richardson and others 2017, Confluence"
    eurolab = "EUROLAB Cook Book no. 4 (2018), the ISO 13528 form; invented values"
    cases = [
        Case("eleven verticals, mid", "velocity_area", {"verticals": SECTION},
             {"discharge_m3s": 0.21108, "largest_share_pct": 15.88971}, iso, derived, 1e-6),
        Case("eleven verticals, mean", "velocity_area", {"verticals": SECTION, "method": "mean"},
             {"discharge_m3s": 0.204935}, iso, derived, 1e-7),
        Case("far wall as bank", "velocity_area", {"verticals": WALL}, {"discharge_m3s": 0.1228},
             iso, derived, 1e-6),
        Case("far wall as wall", "velocity_area", {"verticals": WALL, "edges": ["bank", "wall"]},
             {"discharge_m3s": 0.1468}, "half width at a vertical wall, field practice", derived,
             1e-6),
        Case("both walls, mean", "velocity_area",
             {"verticals": WALL, "edges": "wall", "method": "mean"}, {"discharge_m3s": 0.1405},
             iso, derived, 1e-6),
        Case("one, two, three and five points, tape from the far bank", "velocity_area",
             {"verticals": POINTED}),
        Case("own components", "velocity_area",
             {"verticals": SECTION, "components": {"systematic_pct": 2, "exposure": [[0.1, 6]]}}),
        Case("water runs back", "velocity_area", {"verticals": moved(2, v=-0.1)}),
        Case("two points", "mean_velocity", {"row": {"v02": 0.61, "v08": 0.37}}, {"0": 0.49},
             "two-point rule, ISO 748", "from memory", 1e-9),
        Case("three points", "mean_velocity", {"row": {"v02": 0.52, "v06": 0.45, "v08": "0,34"}},
             {"0": 0.44}, "three-point rule, ISO 748", "from memory", 1e-9),
        Case("meter, first piece", "meter_velocity",
             {"counts": 20, "seconds": 40, "pieces": [[0, 0.25, 0.02], [1.0, 0.26, 0.01]]},
             {"": 0.145}, hand, derived, 1e-9),
        Case("meter, second piece", "meter_velocity",
             {"counts": 120, "seconds": 60, "pieces": [[1.0, 0.26, 0.01], [0, 0.25, 0.02]]},
             {"": 0.53}, hand, derived, 1e-9),
        Case("meter at rest", "meter_velocity",
             {"counts": 0, "seconds": 60, "pieces": [[0, 0.25, 0.02]]}, {"": 0.0}, hand, derived),
        Case("five fills", "volumetric",
             {"volume_m3": 0.020, "times_s": [8.2, 8.4, 8.1, 8.3, 8.25]},
             {"discharge_m3s": 0.0024242424242}, hand, derived, 1e-9),
        Case("five fills of 60 L", "volumetric",
             {"volume_m3": 0.060, "times_s": [9.6, 9.4, 9.7, 9.5, 9.8]},
             {"discharge_m3s": 0.00625}, hand, derived, 1e-6),
        Case("the largest flow for a tub", "volumetric", {"volume_m3": 0.120, "times_s": [5.0]},
             {"discharge_m3s": 0.024}, "Morgenschweis 2010, Hydrometrie", "read", 1e-9),
        Case("different fills", "volumetric",
             {"volume_m3": [0.018, 0.02, 0.019], "times_s": [3.9, 4.4, 4.1]}),
        Case("three floats", "float_gauging",
             {"distance_m": 10, "times_s": [22.0, 23.5, 22.5], "area_m2": 0.54},
             {"discharge_m3s": 0.2025}, "float method, ISO 748, factor 0.85", "from memory", 1e-9),
        Case("one float", "float_gauging",
             {"distance_m": 10, "times_s": [25], "area_m2": 0.36}, {"discharge_m3s": 0.1224},
             hand, derived, 1e-6),
        Case("portable plate", "known_gauging",
             {"method": "portable plate", "discharge_m3s": 0.012, "uncertainty_pct": 4}),
        Case("gulp, invented trace", "gulp", TRACE,
             {"discharge_m3s": 0.304414, "integral": 3285.0}, "mass balance", derived, 1e-6),
        Case("gulp, default factor", "gulp", FAST,
             {"discharge_m3s": 0.3463995, "integral": 1188.0, "factor": 0.486}, richardson,
             derived, 1e-6),
        Case("gulp of solution, concentrations", "gulp",
             {"time_s": [0, 10, 20, 30, 40, 50], "trace": [2, 2, 12, 7, 3, 2],
              "kind": "concentration", "volume_l": 5, "concentration_mg_l": 200000},
             {"discharge_m3s": 6.25, "dose_g": 1000.0}, hand, derived, 1e-9),
        Case("gulp, two probes that agree", "gulp",
             {**TRACE, "second_trace": [118, 118, 131, 205, 316, 290, 222, 170, 140, 126, 120, 118,
                                        118]}),
        Case("gulp, two probes that differ", "gulp",
             {**TRACE, "second_trace": [118, 118, 125, 180, 270, 250, 200, 150, 130, 122, 119, 118,
                                        118]}),
        Case("gulp, tail cut off", "gulp", CUT),
        Case("gulp, cut at the peak", "gulp",
             {**TRACE, "time_s": TRACE["time_s"][:5], "trace": TRACE["trace"][:5]}),
        Case("gulp, background drifts", "gulp",
             {**TRACE, "background": 120, "background_end": 119, "factor_uncertainty_pct": 1}),
        *(Case(f"gulp, drifts by {by:g}, jitter {jitter:g}, cut {cut}", "gulp",
               drifting(by, jitter, cut))
          for by in (0.0, 0.4, 8.0, -8.0) for jitter in (0.0, 1.0) for cut in (None, 22, 19, 15)),
        *(Case(f"gulp, drifts, given {given}", "gulp", {**drifting(6.0, 0.5), **given})
          for given in ({"background": 120}, {"background_end": 126},
                        {"background": 120, "background_end": 126},
                        {"background": 120, "background_end": 150})),
        Case("gulp, both probes drift", "gulp",
             {**drifting(5.0), "second_trace": drifting(9.0, 1.0)["trace"]}),
        Case("gulp, begins in the cloud", "gulp",
             {**LONG, "trace": _LONG[8:], "time_s": LONG["time_s"][:20]}),
        Case("gulp, falls to nothing", "gulp",
             {"time_s": [0, 10, 20, 30, 40, 50], "trace": [2, 2, 12, 7, 3, 0],
              "kind": "concentration", "mass_g": 1000}),
        Case("gulp, little salt", "gulp",
             {**TRACE, "trace": [1000 + x / 100 for x in TRACE["trace"]]}),
        Case("constant rate", "constant_rate",
             {"injection_m3s": 0.00001, "injected": 150000, "plateau": 25, "background": 5},
             {"discharge_m3s": 0.0749875}, "mass balance, ISO 9555-1", "from memory", 1e-9),
        Case("constant rate, three readings", "constant_rate",
             {"injection_m3s": 0.00002, "injected": 200000, "plateau": [21.8, 22.0, 22.2],
              "background": 2}, {"discharge_m3s": 0.199978}, hand, derived, 1e-6),
        Case("constant rate, plateau not flat", "constant_rate",
             {"injection_m3s": 0.00002, "injected": 200000, "plateau": [18, 22], "background": 2}),
        *(Case(f"constant rate, background {given}", "constant_rate",
               {"injection_m3s": 0.00002, "injected": 200000, "plateau": [21.8, 22.0, 22.2],
                **given})
          for given in ({}, {"background": 0, "background_end": 0}, {"background_end": 2},
                        {"background": 2, "background_end": 2.1},
                        {"background": 2, "background_end": 4},
                        {"background": 23, "background_end": 3})),
        Case("calibration", "calibration_factor",
             {"concentration_mg_l": [0, 20, 40, 60], "conductivity_us_cm": [80, 121, 159, 200]}),
        Case("salt to have ready", "salt_mass_kg", {"discharge_m3s": 0.25}, {"": 2.5},
             "Morgenschweis 2010, Hydrometrie, about 10 kg for each m3/s", "read", 1e-9),
        Case("verdict, agrees", "verdict", {**VERDICT, "discharge_m3s": 0.0472},
             {"deviation_pct": 4.8888889, "e_n": 0.50050857, "word": "agrees"}, eurolab, derived,
             1e-6),
        Case("verdict, fails", "verdict", {**VERDICT, "discharge_m3s": 0.052},
             {"e_n": 1.4800742, "word": "fails"}, eurolab, derived, 1e-6),
        Case("verdict, verified by the guarded rule", "verdict",
             {"discharge_m3s": 0.046, "uncertainty_pct": 4, "rating_m3s": 0.045,
              "rating_uncertainty_pct": 3}, {"word": "agrees", "tolerance_word": "verified"}, hand,
             derived),
        Case("verdict, proven outside", "verdict",
             {"discharge_m3s": 0.060, "uncertainty_pct": 4, "rating_m3s": 0.045,
              "rating_uncertainty_pct": 3}, {"word": "fails", "tolerance_word": "fails"}, hand,
             derived),
        Case("verdict, sloppy gauging", "verdict",
             {**VERDICT, "discharge_m3s": 0.0472, "uncertainty_pct": 18}, {"word": "not proven"},
             hand, derived),
        Case("verdict, outside but overlapping", "verdict",
             {"discharge_m3s": 0.0505, "uncertainty_pct": 9.5, "rating_m3s": 0.045,
              "rating_uncertainty_pct": 9}, {"word": "not proven"}, hand, derived),
        Case("verdict, float", "verdict",
             {**VERDICT, "discharge_m3s": 0.09, "uncertainty_pct": 25, "indication_only": True},
             {"word": "not proven"}, hand, derived),
        Case("verdict, no rating", "verdict",
             {"discharge_m3s": 0.09, "uncertainty_pct": 5, "rating_m3s": None,
              "rating_uncertainty_pct": None}),
        Case("head, even", "mean_head", {"heads_m": [0.250, 0.252, 0.254]},
             {"mean_m": 0.252, "steady": True}, hand, derived, 1e-9),
        Case("head, timed", "mean_head", {"heads_m": [0.25, 0.27, 0.27], "times_s": [0, 600, 1800]},
             {"mean_m": 0.26666666666667, "steady": False}, hand, derived, 1e-9),
        Case("head, once", "mean_head", {"heads_m": [0.25]}),
        Case("readings in waves", "mean_and_error",
             {"values": [0.251, 0.254, 0.249, 0.252, 0.256, 0.25, 0.248, 0.253, 0.251, 0.252]},
             {"mean": 0.2516, "standard_error": 0.00074833148}, "s/sqrt(n), GUM type A", derived,
             1e-6),
    ]  # fmt: skip
    refused: list[tuple[str, str, dict[str, Any]]] = [
        ("vertical 5 distance_m", "velocity_area", {"verticals": moved(5, distance_m=0.5)}),
        ("vertical 4 depth_m", "velocity_area", {"verticals": moved(4, depth_m=-0.1)}),
        ("vertical 4 depth_m", "velocity_area", {"verticals": moved(4, depth_m="")}),
        ("vertical 4", "velocity_area", {"verticals": moved(4, v="")}),
        ("vertical 4", "velocity_area", {"verticals": moved(4, v06=0.3)}),
        ("vertical 4 v", "velocity_area", {"verticals": moved(4, v="fast")}),
        ("vertical 5", "velocity_area",
         {"verticals": [*WALL[:4], {"distance_m": 1.6, "depth_m": 0.4}], "edges": "wall"}),
        ("vertical 4 points", "velocity_area", {"verticals": moved(4, points="0")}),
        ("edges", "velocity_area", {"verticals": SECTION, "edges": []}),
        ("verticals", "velocity_area", {"verticals": SECTION[:2]}),
        ("verticals", "velocity_area", {"verticals": [{**x, "v": 0} for x in SECTION]}),
        ("method", "velocity_area", {"verticals": SECTION, "method": "best"}),
        ("edges", "velocity_area", {"verticals": SECTION, "edges": "soft"}),
        ("components", "velocity_area", {"verticals": SECTION, "components": {"luck_pct": 1}}),
        ("seconds", "meter_velocity", {"counts": 20, "seconds": 0, "pieces": [[0, 0.25, 0.02]]}),
        ("counts", "meter_velocity", {"counts": -2, "seconds": 40, "pieces": [[0, 0.25, 0.02]]}),
        ("pieces", "meter_velocity", {"counts": 2, "seconds": 40, "pieces": []}),
        ("times_s", "volumetric", {"volume_m3": 0.02, "times_s": []}),
        ("times_s 2", "volumetric", {"volume_m3": 0.02, "times_s": [8, 0]}),
        ("volume_m3", "volumetric", {"volume_m3": -0.02, "times_s": [8]}),
        ("volume_m3", "volumetric", {"volume_m3": [0.02], "times_s": [8, 9]}),
        ("factor", "float_gauging",
         {"distance_m": 10, "times_s": [20], "area_m2": 1, "factor": 85}),
        ("times_s", "float_gauging", {"distance_m": 10, "times_s": [], "area_m2": 1}),
        ("area_m2", "float_gauging", {"distance_m": 10, "times_s": [20], "area_m2": 0}),
        ("time_s 4", "gulp", {**TRACE, "time_s": [0, 5, 10, 10, *TRACE["time_s"][4:]]}),
        ("trace", "gulp", {**TRACE, "trace": TRACE["trace"][:5]}),
        ("background", "gulp", {**TRACE, "background": 400}),
        ("background", "gulp", {**TRACE, "background": 250}),
        ("background", "gulp", {**LONG, "background": 120, "background_end": 260}),
        ("mass_g", "gulp", {**TRACE, "mass_g": None}),
        ("mass_g", "gulp", {**TRACE, "mass_g": 0}),
        ("factor", "gulp", {**TRACE, "factor": -1}),
        ("kind", "gulp", {**TRACE, "kind": "colour"}),
        ("plateau", "constant_rate",
         {"injection_m3s": 1e-5, "injected": 1000, "plateau": 4, "background": 5}),
        ("injected", "constant_rate", {"injection_m3s": 1e-5, "injected": 20, "plateau": 25}),
        ("calibration", "calibration_factor",
         {"concentration_mg_l": [0, 20], "conductivity_us_cm": [80, 121]}),
        ("calibration", "calibration_factor",
         {"concentration_mg_l": [0, 20, 40], "conductivity_us_cm": [80, 80, 80]}),
        ("heads_m", "mean_head", {"heads_m": []}),
        ("times_s", "mean_head", {"heads_m": [0.1, 0.1], "times_s": [5, 5]}),
        ("discharge_m3s", "verdict", {**VERDICT, "discharge_m3s": 0}),
    ]  # fmt: skip
    return cases + [
        Case(f"refused {i}: {name}", call, args, refused=name)
        for i, (name, call, args) in enumerate(refused, start=1)
    ]


def made(cases: list[Case]) -> list[dict[str, Any]]:
    """Return the cases with the server's answers; one is refused exactly when it says so."""
    found = []
    for one in cases:
        said = answered(lambda one=one: CALLS[one.call](one.args))  # type: ignore[misc]
        assert said.get("error", {}).get("field", "") == one.refused, (one.name, said)
        source = (one.source, one.provenance)
        found.append(case(one.name, one.call, one.args, said, one.published, one.tolerance, source))
    return found
