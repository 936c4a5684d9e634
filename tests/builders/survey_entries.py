"""Survey entries as a phone sends them; all figures invented."""

import uuid
from datetime import datetime, timedelta
from typing import Any

from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import BEGIN, iso

# A closed run over three set-ups; its results are worked by hand in the tests.
SIGHTS = [
    ("BM1", "benchmark", "bs", 1.342),
    ("race floor", "floor", "is", 2.271),
    ("crest UL", "corner_ul", "is", 2.118),
    ("crest UR", "corner_ur", "is", 2.119),
    ("crest DL", "corner_dl", "is", 2.117),
    ("crest DR", "corner_dr", "is", 2.120),
    ("staff mark", "staff_mark", "is", 1.619),
    ("sensor face", "sensor", "is", 2.139),
    ("water", "water", "is", 1.868),
    ("TP1", "turning_point", "fs", 1.507),
    ("TP1", "turning_point", "bs", 1.455),
    ("tail floor", "tail_floor", "is", 2.402),
    ("tail water", "tail_water", "is", 2.055),
    ("BM2", "benchmark", "is", 0.988),
    ("TP2", "turning_point", "fs", 1.633),
    ("TP2", "turning_point", "bs", 1.721),
    ("BM2", "benchmark", "is", 1.075),
    ("BM1", "benchmark", "fs", 1.377),
]


def rows(**changes: float) -> list[dict[str, Any]]:
    """Return the run's rows; a keyword such as `corner_ur=2.13` changes the first such reading."""
    left = dict(changes)
    return [
        {"point": point, "role": role, "bs": None, "is": None, "fs": None, "struck": []}
        | {kind: left.pop(role, reading)}
        for point, role, kind, reading in SIGHTS
    ]


def an_entry(
    kind: str,
    structure: Structure,
    person: Person,
    body: dict[str, Any],
    at: datetime = BEGIN + timedelta(days=60),
    **changes: Any,
) -> dict[str, Any]:
    return {
        "id": str(uuid.uuid4()),
        "kind": kind,
        "site_id": structure.site_id,
        "structure_id": structure.id,
        "visit_id": None,
        "observed_at": iso(at),
        "utc_offset_min": 720,
        "by": person.id,
        "saved_at": iso(at),
        "corrects": None,
        "reason": None,
        "body": body,
        **changes,
    }


def a_run(
    structure: Structure,
    person: Person,
    at: datetime = BEGIN + timedelta(days=60),
    *,
    set_zero: dict[str, Any] | None = None,
    entry: dict[str, Any] | None = None,
    readings: dict[str, float] | None = None,
    **body: Any,
) -> dict[str, Any]:
    content = {
        "unit": "m",
        "start_rl": 100.0,
        "rows": rows(**(readings or {})),
        "staff_mark_m": 0.5,
        "set_zero": set_zero,
        **body,
    }
    return an_entry("level_run", structure, person, content, at, **(entry or {}))
