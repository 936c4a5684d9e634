"""Builder of check gaugings with a chosen discharge: what the tests of a rating's standing need."""

import uuid
from datetime import datetime, timedelta
from typing import Any

from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import BEGIN, iso, send


def a_gauging(
    structure: Structure,
    person: Person,
    head_m: float,
    discharge_m3s: float,
    *,
    at: datetime = BEGIN + timedelta(days=30),
    uncertainty_pct: float = 4.0,
    tail_m: float | None = None,
    head_end_m: float | None = None,
    observed: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Return a check gauging of a portable plate, the staff read at both ends."""
    heads = [(at, head_m), (at + timedelta(minutes=20), head_end_m or head_m)]
    return {
        "id": str(uuid.uuid4()),
        "kind": "check_gauging",
        "site_id": structure.site_id,
        "structure_id": structure.id,
        "visit_id": None,
        "observed_at": iso(at),
        "utc_offset_min": 720,
        "by": person.id,
        "saved_at": iso(at + timedelta(minutes=30)),
        "corrects": None,
        "reason": None,
        "body": {
            "observed": observed
            or {
                "method": "portable",
                "described": "plate",
                "discharge_l_s": discharge_m3s * 1000.0,
                "uncertainty_pct": uncertainty_pct,
            },
            "started_at": iso(at),
            "ended_at": iso(at + timedelta(minutes=20)),
            "heads": [{"at": iso(moment), "staff_m": staff} for moment, staff in heads],
            "tailwater": {"state": "clearly_free", "staff_m": None, "text": None}
            if tail_m is None
            else {"state": "read", "staff_m": tail_m, "text": None},
        },
    }


FLOAT = {
    "method": "float",
    "distance_m": "10",
    "times_s": ["22", "23"],
    "width_m": "1.2",
    "depths_m": ["0.3"],
}


def gauge(
    session: Session,
    structure: Structure,
    person: Person,
    heads_m: list[float],
    flows_m3s: list[float],
    **changes: Any,
) -> list[str]:
    """Store gaugings ten days apart; return their ids in order."""
    entries = [
        a_gauging(structure, person, head, flow, at=BEGIN + timedelta(days=10 * (k + 1)), **changes)
        for k, (head, flow) in enumerate(zip(heads_m, flows_m3s, strict=True))
    ]
    send(session, person, *entries)
    return [entry["id"] for entry in entries]
