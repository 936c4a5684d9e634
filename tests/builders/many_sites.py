"""A database of many sites: one is made by the real services, the others are copies of its rows.

Importing half a year of readings three hundred times would take an hour; the copies hold the same
rows under other ids, citations included, so that pages and lists meet what they would meet.
"""

import copy
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, SQLModel

from app.demo.entries import entry, send
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sensors import (
    DailyFlow,
    FoundFault,
    Logger,
    LoggerBlock,
    LoggerImport,
    SeriesBlock,
)
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.records.takes import RaceCapacity, TakeLimit
from app.services.loggers import take_in
from app.services.takes import capacity, limits
from tests.builders.record_files import STEP_S, calm, log_text

STRIDE = 100_000  # between the ids of one copy and the next
DAYS = 180


def template(
    session: Session,
    person: Person,
    now: datetime,
    *,
    days: int = DAYS,
    visits_every: int = 30,
) -> Structure:
    """Make one site with half a year of record, monthly visits, limits, by the services."""
    begin = (now - timedelta(days=days)).replace(hour=12, minute=0, second=0, microsecond=0)
    site = Site(
        code="COPY-1", name="Copied 1 (invented)", utc_offset_min=720, latitude=-43.5,
        longitude=172.5,
    )  # fmt: skip
    session.add(site)
    session.flush()
    assert site.id is not None
    structure = Structure(site_id=site.id, name="Flume", family="parshall", dims={"size": "1ft"})
    session.add(structure)
    session.flush()
    assert structure.id is not None
    levels = {"valid_from": begin, "reason": "invented", "by_id": person.id}
    session.add(
        Rating(structure_id=structure.id, family="parshall", dims={"size": "1ft"}, **levels)
    )
    session.add(GaugeZero(structure_id=structure.id, crest_rl_m=100.0, zero_rl_m=100.0, **levels))
    session.commit()
    rng = np.random.default_rng(11)
    sent = []
    for day in range(1, days, visits_every):
        at = begin + timedelta(days=day)
        for occasion, later in (("as_found", 6), ("as_left", 28)):
            when = at + timedelta(minutes=later)
            head = round(0.2 + float(rng.normal(0.0, 0.001)), 3)
            body = {
                "occasion": occasion,
                "staff_m": [head],
                "tailwater": {"state": "clearly_free", "staff_m": None, "text": None},
            }
            sent.append(
                entry(
                    rng,
                    "head_reading",
                    site=site,
                    structure=structure,
                    by=person,
                    at=when,
                    visit_id=None,
                    body=body,
                )
            )
    send(session, sent, [person])
    first = int(begin.timestamp()) + STEP_S
    t_s = np.arange(first, int(now.timestamp()), STEP_S, dtype=np.int64)
    head_m = calm(t_s)
    head_m[t_s.size // 3] += 0.3  # one spike, so that review holds something
    new = {"structure_id": structure.id, "name": "Logger"}
    take_in.do_import(
        session, site.id, log_text(t_s, head_m), "copy.csv", person, now, new_logger=new
    )
    since = f"{begin:%Y-%m-%d}"
    for what, amount in (("season", "100000"), ("rate", "0.2")):
        form = {"kind": what, "amount": amount, "valid_from": since}
        limits.add_limit(session, structure.id, form, person, now)
    race = {"kind": "flow", "amount": "0.250", "valid_from": since, "reason": "invented"}
    capacity.add_capacity(session, structure.id, race, person, now)
    session.commit()
    return structure


COPIED: tuple[tuple[type[SQLModel], tuple[str, ...]], ...] = (
    (Site, ("id",)),
    (Structure, ("id", "site_id")),
    (Rating, ("id", "structure_id")),
    (GaugeZero, ("id", "structure_id")),
    (Entry, ("site_id", "structure_id")),
    (FlowValue, ("id", "site_id", "structure_id", "rating_id", "gauge_zero_id")),
    (Logger, ("id", "structure_id")),
    (LoggerImport, ("id", "logger_id")),
    (LoggerBlock, ("import_id", "structure_id", "logger_id")),
    (SeriesBlock, ("structure_id",)),
    (DailyFlow, ("structure_id",)),
    (FoundFault, ("id", "structure_id")),
    (TakeLimit, ("id", "structure_id")),
    (RaceCapacity, ("id", "structure_id")),
)


def copies(session: Session, count: int) -> None:
    """Copy every site that there is until there are `count` times as many, with all its rows."""
    connection = session.connection()
    held: dict[str, list[dict[str, Any]]] = {}
    for model, _ in COPIED:
        table: sa.Table = model.__table__  # type: ignore[attr-defined]
        held[table.name] = [dict(row) for row in connection.execute(sa.select(table)).mappings()]
    for number in range(1, count):
        for model, keys in COPIED:
            table = model.__table__  # type: ignore[attr-defined]
            rows = [moved(table.name, row, keys, number) for row in held[table.name]]
            if rows:
                connection.execute(table.insert(), rows)
    session.commit()


def moved(name: str, row: dict[str, Any], keys: tuple[str, ...], number: int) -> dict[str, Any]:
    """Return a row under the ids of a copy."""
    by = number * STRIDE
    row = dict(row)
    for key in keys:
        if row[key] is not None:
            row[key] += by
    if name == "site":
        row["code"] = f"COPY-{number}-{row['id'] - by}"[:20]
        row["name"] = f"Copied {number + 1} of {row['name']}"[:80]
        east, north = number % 20, number // 20
        if row["latitude"] is not None:
            row["latitude"] += 0.004 * north
            row["longitude"] += 0.005 * east
    if name == "entry":
        row["id"] = f"{number:04x}{row['id'][4:]}"
    if name == "flow_value":
        row["entry_id"] = f"{number:04x}{row['entry_id'][4:]}"
    if name == "series_block":
        row["versions"] = cited(row["versions"], by)
    return row


def cited(made: dict[str, Any], by: int) -> dict[str, Any]:
    """Return a citation with the ids of a copy."""
    made = copy.deepcopy(made)
    for part in made["stretches"]:
        for place in (2, 3):
            part[place] = None if part[place] is None else part[place] + by
    made["layers"] = [[key + by, a, b] for key, a, b in made["layers"]]
    made["imports"] = [key + by for key in made["imports"]]
    made["reads_staff"] = [key + by for key in made["reads_staff"]]
    return made
