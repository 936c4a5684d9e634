"""Figures the office sets for everybody: acceptance bands of sensors, start of the water year."""

import json
from datetime import date
from itertools import pairwise
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series.sensor_checks import ACCEPTANCE, Band
from app.records.audit import write_audit
from app.records.people import Person
from app.records.review import Preference

BANDS, WATER_YEAR = "acceptance_bands", "water_year"
JULY = (7, 1)  # common practice in the south; 1 October is usual in the north


def get(session: Session, key: str) -> Any:
    found = session.get(Preference, key)
    return None if found is None else json.loads(found.value)


def put(session: Session, key: str, value: Any, person: Person) -> None:
    """Set a figure in the caller's transaction, with a line in the audit trail."""
    found = session.get(Preference, key)
    before = None if found is None else {key: json.loads(found.value)}
    row = found or Preference(key=key, value="")
    row.value = json.dumps(value)
    session.add(row)
    write_audit(session, person.id, "set", "preference", key, before=before, after={key: value})


def water_year_start(session: Session) -> tuple[int, int]:
    """Return month and day on which water years begin."""
    found = get(session, WATER_YEAR)
    return JULY if found is None else (int(found[0]), int(found[1]))


def set_water_year_start(session: Session, month: int, day: int, person: Person) -> None:
    """Set the day on which water years begin; raises BadInput."""
    try:
        date(2001, month, day)
    except (ValueError, TypeError):
        raise BadInput(
            "water year", f"{day}/{month}", "starts on a date of every year", "Such as 1 July."
        ) from None
    put(session, WATER_YEAR, [month, day], person)


def bands(session: Session) -> tuple[Band, ...]:
    """Return the acceptance bands in force: the office's, or common practice."""
    found = get(session, BANDS)
    if found is None:
        return ACCEPTANCE
    return tuple(
        Band(band.key, over_m, float("inf") if pct is None else pct, band.action)
        for band, (over_m, pct) in zip(ACCEPTANCE, found, strict=True)
    )


def set_bands(session: Session, values: list[tuple[float, float | None]], person: Person) -> None:
    """Set the limits of the bands, metres and per cent of flow (None: not used).

    Raises
    ------
    BadInput
        When there is not one pair a band, or the limits do not rise.
    """
    if len(values) != len(ACCEPTANCE) or values[0][0] != 0.0:
        raise BadInput(
            "bands",
            len(values),
            f"there are {len(ACCEPTANCE)} bands, the first from 0",
            "Give each its limit.",
        )
    metres = [over_m for over_m, _ in values]
    if any(b <= a for a, b in pairwise(metres)) or not metres[-1] < 1.0:
        raise BadInput("bands", metres, "limits rise, and stay below 1 m", "Order them.")
    put(session, BANDS, [list(pair) for pair in values], person)
