"""Invented field entries, made and sent as a phone would."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.language.clock import iso, uuid7
from app.records.database import utc_now
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.sync import accept as sync

PHONE = "demo-phone"


def entry(
    rng: np.random.Generator,
    kind: str,
    *,
    site: Site,
    structure: Structure | None,
    by: Person,
    at: datetime,
    visit_id: str | None,
    body: dict[str, Any],
) -> dict[str, Any]:
    return {
        "id": uuid7(at, rng.bytes),
        "kind": kind,
        "site_id": site.id,
        "structure_id": structure.id if structure else None,
        "visit_id": visit_id,
        "observed_at": iso(at),
        "utc_offset_min": site.utc_offset_min,
        "by": by.id,
        "saved_at": iso(at + timedelta(minutes=1)),
        "corrects": None,
        "reason": None,
        "body": body,
    }


def send(session: Session, entries: list[dict[str, Any]], crew: list[Person]) -> None:
    """Send the entries as their authors' phones would, some time after they were saved."""
    for person in crew:
        theirs: list[object] = [e for e in entries if e["by"] == person.id]
        for start in range(0, len(theirs), sync.MOST_ENTRIES):
            part = theirs[start : start + sync.MOST_ENTRIES]
            receipts = sync.accept(session, person, sync.Batch(PHONE, None, part), utc_now())
            refused = [r for r in receipts if r.error]
            if refused:
                raise refused[0].error or BadInput("demo", "", "refused", "Mend the scenario.")
