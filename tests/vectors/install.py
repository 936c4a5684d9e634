"""Cases of install_vectors.json: sums of an install, for the phone's own to be held against."""

from collections.abc import Callable
from typing import Any

from app.hydraulics.install import checks as install
from app.hydraulics.install import groundwork
from app.hydraulics.levelling import benchmarks as marks
from app.language.trade import CORNERS
from app.services.install import stops as install_stops
from tests.vectors.harness import OWN, answered, case

CALLS: dict[str, Callable[[dict[str, Any]], object]] = {
    "concreteVolume": lambda a: groundwork.concrete_volume_m3(**a),
    "uplift": lambda a: groundwork.uplift(**a),
    "concreteToHold": lambda a: groundwork.concrete_to_hold_m3(**a),
    "ballastToHold": lambda a: groundwork.ballast_to_hold_kg(**a),
    "liftPressure": lambda a: groundwork.lift_pressure(**a),
    "weightedCreep": lambda a: groundwork.weighted_creep(**a),
    "widthStop": lambda a: install.width_stop(numbers(a["widths_m"]), **rest(a, "widths_m")),
    "cornerStop": lambda a: install.corner_stop(numbers(a["corners_m"]), **rest(a, "corners_m")),
    "practiceNotes": lambda a: install.practice_notes(**a),
    "sinceSet": lambda a: install_stops.since_set(a["bodies"], a["part"]),
    "cornerLevels": lambda a: install_stops.corner_levels(a),
    "movedMarks": lambda a: marks.moved_marks(**a),
}


def rest(args: dict[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in args.items() if name != key}


def numbers(rows: list[list[float | None]]) -> list[list[float]]:
    return [[float("nan") if value is None else value for value in row] for row in rows]


LEVEL = [99.224, 99.223, 99.225, 99.223]
WIDE = [0.4, 0.4, 0.4]
BOX = {"length_m": 2.4, "width_m": 0.9, "depth_m": 0.5, "mass_kg": 120.0}
STATICS = ("statics (Archimedes), invented box", "derived")
FLUID = ("hydrostatics of a fluid of 2400 kg/m3, invented lift", "derived")
LANE = ("Lane 1935, Trans. ASCE 100; invented path", "from memory")


def corners(stop: str, backsight: float, *readings: float) -> dict[str, Any]:
    return {
        "stop": stop,
        "corners": {
            "reference": "BM1",
            "reference_rl_m": 100.0,
            "backsight_m": backsight,
            "readings_m": dict(zip(CORNERS, readings, strict=False)),
        },
    }


STOPS = [
    corners("S1", 1.3, 2.1, 2.2, 2.1, 2.1),
    {"stop": "S2", "widths": {"top_m": 0.4, "middle_m": 0.4, "bottom_m": 0.4}}
    | corners("S2", 1.342, 2.118, 2.119, 2.117, 2.118),
    {"stop": "S3", "widths": {"top_m": 0.4005, "middle_m": 0.4, "bottom_m": None}},
    corners("S5", 1.402, 2.178, 2.179, 2.177),
]
Case = tuple[str, dict[str, Any], dict[str, float], tuple[str, str] | None]
CASES: list[Case] = [
    ("uplift", BOX, {"uplift_kn": 10.591182, "factor": 0.11111111, "weight_kn": 1.176798}, STATICS),
    ("uplift", BOX | {"hold_down_kn": 12.062}, {}, None),
    ("uplift", BOX | {"hold_down_kn": 10.0}, {}, None),
    ("uplift", BOX | {"depth_m": 0.15, "density_kg_m3": 2400.0}, {"net_kn": 6.44885304}, STATICS),
    ("concreteToHold", BOX | {"target": 1.25}, {"": 1.0695652}, STATICS),
    ("ballastToHold", BOX | {"target": 1.25}, {"": 1230.0}, STATICS),
    ("ballastToHold", BOX | {"mass_kg": 5000.0}, {}, None),
    ("liftPressure", {"lift_m": 0.6},
     {"pressure_kpa": 14.121576, "force_kn_per_m": 4.2364728}, FLUID),
    ("liftPressure", {"lift_m": 0.3}, {"force_kn_per_m": 1.0591182}, FLUID),
    ("weightedCreep", {"verticals_m": [0.6] * 4, "horizontals_m": [2.4], "head_m": 0.45,
                       "soil": "fine sand"}, {"ratio": 7.11111111, "needed": 7.0}, LANE),
    ("weightedCreep", {"verticals_m": [0.6] * 4, "horizontals_m": [2.4], "head_m": 0.45,
                       "soil": "very fine sand or silt"}, {"needed": 8.5}, LANE),
    ("weightedCreep", {"verticals_m": [0.3], "horizontals_m": [], "head_m": 0.45}, {}, None),
    ("concreteVolume", {"parts_m3": {"slab": 0.4, "walls": 0.55, "wings": 0.2}, "void_m3": 0.05},
     {"volume_m3": 1.1, "order_m3": 1.21}, ("plain arithmetic by hand", "derived")),
    ("concreteVolume", {"parts_m3": {"slab": 0.0115}, "allowance": 0.0}, {"bags": 1},
     ("a bag of 0.011 to 0.012 m3", "common practice")),
    ("widthStop", {"widths_m": [WIDE]}, {}, None),
    ("widthStop", {"widths_m": [WIDE, [0.4, 0.401, 0.4]]}, {}, None),
    ("widthStop", {"widths_m": [WIDE, [0.4, 0.3993, 0.4], [0.4, 0.3986, 0.4]]}, {}, None),
    ("widthStop", {"widths_m": [WIDE, [0.4, None, 0.4]]}, {}, None),
    ("widthStop", {"widths_m": [WIDE, WIDE], "limit_m": 0.002}, {}, None),
    ("cornerStop", {"corners_m": [[99.224, 99.223, 99.225, 99.222]]}, {}, None),
    ("cornerStop", {"corners_m": [LEVEL] * 2}, {}, None),
    ("cornerStop", {"corners_m": [LEVEL, [99.227, 99.226, 99.228, 99.226]]},
     {}, None),
    ("cornerStop", {"corners_m": [LEVEL, [99.224, None, 99.225, 99.223]]},
     {}, None),
    ("practiceNotes", {"tail_fall_m": 0.1, "lift_fraction": 1 / 3, "crest_above_floor_m": 0.1525,
                       "fill_time_min": 12.0}, {}, None),
    ("practiceNotes", {}, {}, None),
    ("sinceSet", {"bodies": STOPS, "part": "corners"}, {"0.0": 99.224, "1.0": 99.224},
     ("plain arithmetic by hand", "derived")),
    ("sinceSet", {"bodies": STOPS, "part": "widths"}, {"1.0": 0.4005}, ("by hand", "derived")),
    ("sinceSet", {"bodies": STOPS[2:], "part": "corners"}, {}, None),
    ("cornerLevels", STOPS[1], {"corner_ul": 99.224}, ("plain arithmetic by hand", "derived")),
    ("cornerLevels", STOPS[2], {}, None),
    ("movedMarks", {"history": [{"BM1": 100.0, "BM2": 100.302, "BM3": 98.5},
                                {"BM1": 100.0, "BM2": 100.302, "BM3": 98.493}]}, {}, None),
    ("movedMarks", {"history": [{"BM1": 100.0, "BM2": 100.302}, {"BM1": 100.0, "BM2": 100.312},
                                {"BM1": 100.0, "BM2": 100.312}]}, {}, None),
    ("movedMarks", {"history": [{"A": 1.0, "B": 2.0}, {"B": 12.0, "A": 11.0, "C": 5.0},
                                {"C": 5.01, "A": 11.0, "B": 12.0}]}, {}, None),
    ("movedMarks", {"history": [{"BM1": 100.0, "BM2": 100.302}, {"BM1": 100.0, "BM2": 100.304}],
                    "tolerance_m": 0.001}, {}, None),
    # refused
    ("uplift", BOX | {"length_m": 0.0}, {}, None),
    ("uplift", BOX | {"mass_kg": -1.0}, {}, None),
    ("liftPressure", {"lift_m": 0.0}, {}, None),
    ("weightedCreep", {"verticals_m": [1.0], "horizontals_m": [], "head_m": 0.0}, {}, None),
    ("weightedCreep", {"verticals_m": [1.0], "horizontals_m": [], "head_m": 1.0, "soil": "peat"},
     {}, None),
    ("concreteVolume", {"parts_m3": {"slab": 0.1}, "void_m3": 0.2}, {}, None),
    ("concreteVolume", {"parts_m3": {"slab": 0.5, "walls": -0.1}}, {}, None),
    ("widthStop", {"widths_m": []}, {}, None),
]  # fmt: skip


def vectors() -> list[dict[str, Any]]:
    found = []
    for place, (call, args, published, source) in enumerate(CASES):
        said = answered(lambda call=call, args=args: CALLS[call](args))  # type: ignore[misc]
        name = f"{call} {place}"
        found.append(case(name, call, args, said, published, 1e-6, source or OWN))
    return found
