"""The invented demonstration: the Quillbeck Water Cooperative, two seasons of field readings.

Everything goes through the same services as real work, from a fixed seed, so that the demo shows
what the tool does and nothing else.
"""

import json
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from sqlmodel import Session, select

from app.demo import gaugings as demo_gaugings
from app.demo import install as demo_install
from app.demo import record as demo_record
from app.demo import rounds as demo_rounds
from app.demo.entries import entry, send
from app.errors import BadInput
from app.language.clock import iso
from app.records import holding
from app.records.database import utc_now
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.sites import accounts
from app.settings import Settings

SCENARIO = json.loads(Path(__file__).with_name("scenario.json").read_text("utf-8"))
PEOPLE = [(p["name"], p["role"], p["password"]) for p in SCENARIO["people"]]
SEED = 20_260_701
SEASONS_BACK = 2


def throw_away(settings: Settings) -> None:
    """Remove a demo folder; refuses a folder that holds anything but a demo."""
    folder = settings.data_dir
    if not folder.exists():
        return
    if not (folder / "sillbook.sqlite3").exists() and any(folder.iterdir()):
        raise BadInput("data", folder, "this folder holds no demo", "Name another folder.")
    database = folder / "sillbook.sqlite3"
    with holding.alone(database):
        shutil.rmtree(folder)


def build(session: Session, now: datetime | None = None) -> bool:
    """Fill an empty database with the scenario; return False when it is there already."""
    if session.exec(select(Site.id)).first() is not None:
        return False
    if session.exec(select(Person.id)).first() is not None:
        raise BadInput("data", "", "the database holds people", "Name an empty folder.")
    now = now or utc_now()
    people = [accounts.add_person(session, *entry) for entry in PEOPLE]
    crew = [p for p in people if p.role == "crew"]
    begin = (now - timedelta(days=365 * SEASONS_BACK)).replace(
        hour=12, minute=0, second=0, microsecond=0
    )
    rng = np.random.default_rng(SEED)
    for plan in SCENARIO["sites"]:
        site, structure = add_site(session, plan, begin, people[-1])
        session.commit()
        if plan["visit_days"]:
            entries = visits(plan, site, structure, crew, begin=begin, end=now, rng=rng)
            send(session, entries, crew)
        drowns = plan["drowns_in"]
        checks = demo_gaugings.gauging_entries(session, structure, drowns, crew, begin, now)
        send(session, checks, crew)
    demo_record.build(session, now, people)
    office = next(p for p in people if p.role == "office")
    demo_install.build(session, crew, office, now)
    demo_rounds.build(session, crew, office, now)
    return True


def add_site(
    session: Session, plan: dict[str, Any], begin: datetime, by: Person
) -> tuple[Site, Structure]:
    fields = ("code", "name", "latitude", "longitude", "utc_offset_min", "head_unit")
    site = Site(**{k: plan[k] for k in (*fields, "hazards", "notes")}, demo=True)
    session.add(site)
    session.flush()
    assert site.id is not None
    drawn = plan["structure"]
    kept = ("name", "family", "dims", "tailwater_gauge", "pond_area_m2")
    structure = Structure(site_id=site.id, **{k: drawn[k] for k in kept})
    session.add(structure)
    session.flush()
    assert structure.id is not None
    session.add(
        Rating(
            structure_id=structure.id,
            valid_from=begin,
            family=structure.family,
            dims=structure.dims,
            reason=plan["rating_reason"],
            by_id=by.id,
        )
    )
    for run in drawn["levels"]:
        session.add(
            GaugeZero(
                structure_id=structure.id,
                valid_from=begin + timedelta(days=run["day"]),
                crest_rl_m=run["crest_rl_m"],
                zero_rl_m=run["zero_rl_m"],
                reason=run["reason"],
                by_id=by.id,
            )
        )
    return site, structure


def visits(
    plan: dict[str, Any],
    site: Site,
    structure: Structure,
    crew: list[Person],
    *,
    begin: datetime,
    end: datetime,
    rng: np.random.Generator,
) -> list[dict[str, Any]]:
    """Return the entries of all visits to one site: a visit, as found, as left."""
    entries: list[dict[str, Any]] = []
    day = begin + timedelta(days=5)
    while day < end - timedelta(days=1):
        at = day + timedelta(hours=9, minutes=int(rng.integers(0, 180)))  # morning at the site
        by = crew[int(rng.integers(0, len(crew)))]
        local = at + timedelta(minutes=site.utc_offset_min)
        season = np.cos((local.timetuple().tm_yday - 15) / 365.0 * 2.0 * np.pi)
        head = plan["typical_head_m"] * float(1.0 + 0.35 * season + rng.normal(0.0, 0.06))
        weedy = local.month in plan["drowns_in"]
        visit = entry(
            rng,
            "visit",
            site=site,
            structure=None,
            by=by,
            at=at,
            visit_id=None,
            body=visit_body(by, weedy),
        )
        entries.append(visit)
        lift = 0.012 if weedy else 0.0
        for occasion, minutes, extra in (("as_found", 6, lift), ("as_left", 28, 0.0)):
            tail = None
            if structure.tailwater_gauge:
                low, high = (0.70, 0.93) if weedy and occasion == "as_found" else (0.35, 0.58)
                tail = (head + extra) * float(rng.uniform(low, high))
            body = reading_body(rng, occasion, at + timedelta(minutes=minutes), head + extra, tail)
            body["conditions"] = ["weed"] if weedy and occasion == "as_found" else []
            entries.append(
                entry(
                    rng,
                    "head_reading",
                    site=site,
                    structure=structure,
                    by=by,
                    at=at + timedelta(minutes=minutes),
                    visit_id=visit["id"],
                    body=body,
                )
            )
        day += timedelta(days=plan["visit_days"])
    return entries


def visit_body(by: Person, weedy: bool) -> dict[str, Any]:
    return {
        "purpose": "routine",
        "observers": [by.name],
        "conditions": ["weed"] if weedy else [],
        "note": "Cut weed below the tail (invented)" if weedy else "Clean (invented)",
        "cautions_read": True,
    }


def reading_body(
    rng: np.random.Generator, occasion: str, at: datetime, staff_m: float, tail_m: float | None
) -> dict[str, Any]:
    repeats = [round(staff_m + float(rng.normal(0.0, 0.0008)), 3) for _ in range(3)]
    tail: dict[str, Any] = {"state": "clearly_free", "staff_m": None, "text": None}
    if tail_m is not None:
        tail = {"state": "read", "staff_m": round(tail_m, 3), "text": f"{tail_m * 1000:.0f}"}
    return {
        "occasion": occasion,
        "staff_m": repeats,
        "read_at": [iso(at + timedelta(seconds=60 * k)) for k in range(3)],
        "entered": {"unit": "mm", "text": [f"{m * 1000:.0f}" for m in repeats]},
        "tailwater": tail,
        "gate_opened_at": None,
        "conditions": [],
        "sensor_head_m": None,
        "note": "",
        "time_reason": None,
        "preview": None,
    }
