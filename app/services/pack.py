"""What a phone carries into a place without coverage: sites, dated ratings as tables, people."""

import json
from datetime import datetime
from functools import lru_cache
from typing import Any

from sqlmodel import Session, col, select

from app.errors import SillbookError
from app.hydraulics.curve import phone_table
from app.hydraulics.devices import DEVICES
from app.hydraulics.devices.device import Flow, flag_words
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services import planning
from app.services.gauging_tables import for_phone
from app.services.instants import iso
from app.services.portable import portable_cards
from app.services.rating import device_of, histories
from app.services.readings import corrections
from app.services.reviewed import mark_reviewed
from app.services.survey_pack import survey_pack
from app.services.sync import PROTOCOL, server_epoch
from app.services.usual_heads import usual_heads

RECENT_READINGS = 20  # a site's newest readings, for comparison on the spot


@lru_cache(maxsize=512)
def _table(family: str, dims: str) -> dict[str, Any]:
    return phone_table(device_of(Rating(family=family, dims=json.loads(dims))))  # type: ignore[call-arg]


def table_of(rating: Rating) -> dict[str, Any]:
    """Return the phone's table of a rating; made once, because a rating never changes."""
    return _table(rating.family, json.dumps(rating.dims, sort_keys=True))


def pack(session: Session, person: Person, now: datetime, *, demo: bool) -> dict[str, Any]:
    """Return everything a phone needs to work offline for one person."""
    sites = session.exec(select(Site).order_by(Site.name)).all()
    structures = session.exec(select(Structure).order_by(col(Structure.id))).all()
    ids = [s.id for s in structures if s.id is not None]
    ratings, zeros = histories(session, Rating, ids), histories(session, GaugeZero, ids)
    usual = usual_heads(session, ids, now)
    people = session.exec(select(Person).where(col(Person.active)).order_by(Person.name)).all()
    names = {p.id: p.name for p in session.exec(select(Person))}
    gaugings = for_phone(session)
    answer = []
    for site in sites:
        assert site.id is not None
        recent = recent_readings(session, site.id, names)
        answer.append(
            {
                **site.model_dump(exclude={"created_at", "revision", "demo"}),
                "last_reading_at": recent[0]["observed_at"] if recent else None,
                "structures": [
                    structure_dict(s, ratings[s.id], zeros[s.id], usual.get(s.id))
                    for s in structures
                    if s.site_id == site.id and s.id is not None
                ],
                "recent": mark_reviewed(session, recent, site.utc_offset_min),
                "check_gaugings": gaugings.get(site.id, []),
                "plans": planning.for_phone(session, site.id),
            }
        )
    return {
        "protocol": PROTOCOL,
        "server_epoch": server_epoch(session),
        "made_at": iso(now),
        "person": {"id": person.id, "name": person.name, "role": person.role},
        "people": [{"id": p.id, "name": p.name} for p in people],
        "demo": demo,
        "portable": portable_cards(),
        "sites": answer,
        "survey": survey_pack(session, sites, structures),
    }


def structure_dict(
    structure: Structure,
    ratings: list[Rating],
    zeros: list[GaugeZero],
    usual_head_m: tuple[float, float] | None = None,
) -> dict[str, Any]:
    shown = [r for r in (rating_dict(rating) for rating in ratings) if r is not None]
    family = DEVICES.get(structure.family)
    return {
        "id": structure.id,
        "name": structure.name,
        "family": structure.family,
        "family_name": family.name if family else structure.family,
        "described": shown[-1]["described"] if shown else "no rating yet",
        "tailwater_gauge": structure.tailwater_gauge,
        "can_drown": bool(family and family.can_drown),
        "pond_area_m2": structure.pond_area_m2,
        "head_uncertainty_m": structure.head_uncertainty_m,
        "usual_head_m": None if usual_head_m is None else list(usual_head_m),
        "gauge_zeros": [
            {
                "id": z.id,
                "valid_from": iso(z.valid_from),
                "crest_rl_m": z.crest_rl_m,
                "zero_rl_m": z.zero_rl_m,
                "tail_zero_rl_m": z.tail_zero_rl_m,
                "offset_m": z.offset_m,
                "tail_offset_m": z.tail_offset_m,
            }
            for z in sorted(zeros, key=lambda z: (z.valid_from, z.id or 0))
        ],
        "ratings": sorted(shown, key=lambda r: (r["valid_from"], r["id"])),
    }


def rating_dict(rating: Rating) -> dict[str, Any] | None:
    """Return a rating for the phone; None when this server can no longer build it."""
    try:
        device = device_of(rating)
    except SillbookError:
        return None
    return {
        "id": rating.id,
        "valid_from": iso(rating.valid_from),
        "table": table_of(rating),
        "described": device.describe(),
        "sources": [f"{s.text} ({s.provenance})" for s in device.sources],
    }


def recent_readings(
    session: Session, site_id: int, names: dict[int | None, str]
) -> list[dict[str, Any]]:
    rows = session.exec(
        select(FlowValue, Entry)
        .join(Entry, col(FlowValue.entry_id) == col(Entry.id))
        .where(FlowValue.site_id == site_id, col(FlowValue.current))
        .order_by(col(FlowValue.at).desc())
        .limit(RECENT_READINGS)
    ).all()
    links = corrections(session, site_id)
    return [
        {
            "id": entry.id,
            "structure_id": entry.structure_id,
            "observed_at": iso(entry.observed_at),
            "by_name": names.get(entry.by_id, ""),
            "occasion": entry.body.get("occasion", "during"),
            "head_m": value.head_m,
            "tailwater_m": value.tailwater_m,
            "discharge_m3s": value.discharge_m3s,
            "uncertainty_pct": value.uncertainty_pct,
            "flow": Flow(value.flow).word,
            "flags": flag_words(value.flags),
        }
        for value, entry in rows
        if links.stands(entry.id)
    ]
