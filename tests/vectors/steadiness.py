"""Cases of steadiness_vectors.json.

The words are decided here by hand from the rule's text; the numbers come from the server's code,
which test_steadiness.py proves against scipy and against sums done by hand. The phone's own code
is then run over the same file. All cases are invented data.
"""

from dataclasses import asdict
from typing import Any

import numpy as np

from app.hydraulics.gauging.steadiness import STUDENT_T_95, STUDENT_T_95_LARGE, classify, fill_time
from tests.vectors.harness import answered, case

BY_RULE = ("the word by hand from the text of the rule", "common practice")
FLUME = {"exponent": 1.522, "discharge_m3s": 0.0597}  # a 1 ft Parshall at 0.20 m
POND = FLUME | {"pond_area_m2": 40.0}


def minutes(*heads_mm: float, every_s: float = 60.0, start_s: float = 0.0) -> dict[str, Any]:
    """Give readings at an even step."""
    return {
        "times_s": [start_s + every_s * i for i in range(len(heads_mm))],
        "heads_m": [h / 1000.0 for h in heads_mm],
    }


CASES: list[tuple[str, str, dict[str, Any]]] = [
    ("no reading", "unknown", minutes() | FLUME),
    ("one reading", "unknown", minutes(200) | FLUME),
    ("one reading, pond known", "unknown", minutes(200) | POND),
    ("one reading, gate opened just now", "settling", minutes(200) | POND | {"gate_opened_s": 0.0}),
    (
        "one reading, gate opened just now, no pond area",
        "settling",
        minutes(200) | FLUME | {"gate_opened_s": 0.0},
    ),
    (
        "gate opened after the last reading",
        "settling",
        minutes(200, 200, 200, 200) | POND | {"gate_opened_s": 400.0},
    ),
    ("two equal readings", "unknown", minutes(200, 200, every_s=300) | POND),
    ("two readings inside the uncertainty", "unknown", minutes(200, 202, every_s=300) | POND),
    ("two readings that differ", "unsteady", minutes(200, 206, every_s=300) | POND),
    ("two readings at one moment", "unknown", minutes(200, 201, every_s=0) | POND),
    ("three equal readings", "steady", minutes(200, 200, 200) | FLUME),
    ("three equal readings, pond known", "steady", minutes(200, 200, 200) | POND),
    ("three readings within a millimetre", "steady", minutes(200, 201, 201) | POND),
    ("five readings, staff flicker", "steady", minutes(200, 201, 200, 201, 200) | POND),
    ("three readings too close in time", "unknown", minutes(200, 200, 200, every_s=20) | POND),
    ("three readings at one moment", "unknown", minutes(200, 200, 200, every_s=0) | POND),
    ("large pond needs longer", "unknown", minutes(200, 200, 200) | FLUME | {"pond_area_m2": 400}),
    (
        "large pond, long series",
        "steady",
        minutes(200, 200, 201, 200, 200, every_s=300) | FLUME | {"pond_area_m2": 400},
    ),
    ("rising steadily", "settling", minutes(190, 192, 194, 196, 198) | POND),
    ("rising steadily, no pond area", "settling", minutes(190, 192, 194, 196, 198) | FLUME),
    ("falling steadily", "settling", minutes(210, 208, 206.1, 204, 202) | POND),
    (
        "slow rise, within the scatter limit",
        "settling",
        minutes(200, 200.5, 201, 201.5, 202) | POND,
    ),
    (
        "drift too small to matter",
        "steady",
        minutes(200, 200.1, 200.2, 200.3, 200.4) | FLUME,
    ),
    (
        "drift small in head but large in storage",
        "settling",
        minutes(200, 200.1, 200.2, 200.3, 200.4)
        | {"exponent": 1.522, "discharge_m3s": 0.0597, "pond_area_m2": 1000.0},
    ),
    ("surging", "unsteady", minutes(195, 205, 196, 206, 194, 204) | POND),
    ("three readings, scattered", "unsteady", minutes(200, 208, 203) | POND),
    ("high head: 1 % governs", "steady", minutes(600, 604, 601, 603, 600) | FLUME),
    (
        "coarse staff, wide uncertainty",
        "steady",
        minutes(200, 205, 200, 205, 200) | FLUME | {"reading_uncertainty_m": 0.005},
    ),
    (
        "gate opened an hour ago",
        "steady",
        minutes(200, 200, 200, 200, start_s=3600) | POND | {"gate_opened_s": 0.0},
    ),
    (
        "gate opened four minutes ago, pond 40 m2",
        "settling",
        minutes(199, 200, 200, start_s=120) | POND | {"gate_opened_s": 0.0},
    ),
    (
        "gate opened four minutes ago, still rising",
        "settling",
        minutes(180, 188, 194, start_s=120) | POND | {"gate_opened_s": 0.0},
    ),
    (
        "gate opened eight minutes ago, no pond area",
        "settling",
        minutes(200, 200, 200, start_s=360) | FLUME | {"gate_opened_s": 0.0},
    ),
    (
        "gate opened twelve minutes ago, no pond area",
        "steady",
        minutes(200, 200, 200, start_s=600) | FLUME | {"gate_opened_s": 0.0},
    ),
    (
        "not rated",
        "steady",
        minutes(200, 200, 201, 200) | {"exponent": None, "discharge_m3s": None},
    ),
    (
        "not rated, rising, pond known",
        "settling",
        minutes(190, 193, 196) | {"exponent": None, "discharge_m3s": None, "pond_area_m2": 40.0},
    ),
    ("dry crest", "unknown", minutes(-4, -4, -4) | {"exponent": 1.522, "discharge_m3s": 0.0}),
    (
        "uneven times out of order",
        "settling",
        {"times_s": [120.0, 0.0, 310.0, 45.0], "heads_m": [0.194, 0.19, 0.2, 0.1916]} | POND,
    ),
    (
        "clock of the phone, in seconds since 1970",
        "settling",
        minutes(190, 192, 194, 196, 198, start_s=1_795_600_000.0)
        | POND
        | {"gate_opened_s": 1_795_599_000.0},
    ),
    (
        "forty readings, a slow fall under scatter",
        "settling",
        minutes(*[200.0 + (i * 37 % 5) - 0.4 * i for i in range(40)]) | POND,
    ),
    (
        "forty readings, scatter alone",
        "unsteady",
        minutes(*[200.0 + (i * 37 % 5) for i in range(40)]) | POND,
    ),
]

FILLS: list[dict[str, float]] = [
    {"inflow_m3s": 0.0597, "settled_head_m": 0.20, "pond_area_m2": 40.0, "exponent": 1.522},
    {
        "inflow_m3s": 0.0597,
        "settled_head_m": 0.20,
        "pond_area_m2": 40.0,
        "exponent": 1.522,
        "start_head_m": -0.15,
    },
    {
        "inflow_m3s": 0.12,
        "settled_head_m": 0.25,
        "pond_area_m2": 90.0,
        "exponent": 2.5,
        "start_head_m": 0.1,
    },
]


def answer(case: dict[str, Any]) -> dict[str, Any]:
    """Give what the server says for one case."""
    inputs = dict(case)
    return asdict(classify(inputs.pop("times_s"), inputs.pop("heads_m"), **inputs))


def fill_answer(case: dict[str, float]) -> float:
    """Compute the filling time of a pond behind a power law Q = Q_in (h / h_settled)^n, s."""

    def discharge(head: np.ndarray) -> np.ndarray:
        return case["inflow_m3s"] * (head / case["settled_head_m"]) ** case["exponent"]

    return fill_time(
        case["inflow_m3s"],
        case["settled_head_m"],
        case["pond_area_m2"],
        discharge,
        start_head_m=case.get("start_head_m", 0.0),
    )


def vectors() -> list[dict[str, Any]]:
    points = {"points": [*STUDENT_T_95], "large": STUDENT_T_95_LARGE}
    table = ("two-sided 5 % points of Student's t, statistical tables", "from memory")
    found = [case("Student's t", "student_t_95", {}, {"result": points}, source=table)]
    for name, word, args in CASES:
        said = answered(lambda args=args: answer(args))  # type: ignore[misc]
        found.append(case(name, "classify", args, said, {"word": word}, source=BY_RULE))
    return found
