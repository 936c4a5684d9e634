"""What a phone carries into a place without coverage: sites, dated ratings as tables, people."""

import json
from collections import defaultdict
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import SillbookError
from app.hydraulics.families.registry import DEVICES
from app.hydraulics.rating.curve import phone_table
from app.hydraulics.structure.device import Flow, flag_words
from app.language.clock import iso
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sensors import Logger
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.entries.links import links_since, standing_only, what_stands
from app.services.entries.standing import Standing
from app.services.equipment.tables import for_phone as instruments_for_phone
from app.services.equipment.uses import MADE_WITH
from app.services.gaugings.portable import portable_cards
from app.services.gaugings.tables import for_phone
from app.services.plans import make as planning
from app.services.readings.usual import usual_heads
from app.services.sites.dated import device_of, histories
from app.services.sync import thresholds
from app.services.sync.accept import PROTOCOL, server_epoch
from app.services.sync.pack_surveys import survey_pack
from app.services.sync.reviewed import mark_reviewed

RECENT_READINGS = 20  # a site's newest readings, for comparison on the spot
PHONE_HOLDS = timedelta(days=60)  # a phone lets go of its own entries 30 days after their receipt


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
    links = what_stands(session)
    gaugings = for_phone(session)
    recents = recent_readings(session, names, links)
    aside = set_aside(session, names, links, [one["id"] for s in recents.values() for one in s])
    survey = survey_pack(session, sites, structures, links)
    loggers: dict[int, list[str]] = defaultdict(list)
    for logger in session.exec(select(Logger).order_by(Logger.name)):
        loggers[logger.structure_id].append(logger.name)
    answer = []
    for site in sites:
        assert site.id is not None
        recent = recents.get(site.id, [])
        answer.append(
            {
                **site.model_dump(exclude={"created_at", "revision", "demo"}),
                "last_reading_at": recent[0]["observed_at"] if recent else None,
                "structures": [
                    structure_dict(s, ratings[s.id], zeros[s.id], usual.get(s.id))
                    | {"loggers": loggers.get(s.id, [])}
                    for s in structures
                    if s.site_id == site.id and s.id is not None
                ],
                "recent": mark_reviewed(session, recent, site.utc_offset_min),
                "set_aside": aside.get(site.id, []),
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
        "thresholds": thresholds.in_force(session),
        "portable": portable_cards(),
        "instruments": instruments_for_phone(session, now.date()),
        "made_with": {what: sorted(kinds) for what, kinds in MADE_WITH.items()},
        "sites": answer,
        "survey": survey,
        "links": links_for_phone(session, links, recents, gaugings, survey, now),
    }


def structure_dict(
    structure: Structure,
    ratings: list[Rating],
    zeros: list[GaugeZero],
    usual_head_m: tuple[float, float] | None = None,
) -> dict[str, Any]:
    shown = [r for r in (rating_dict(rating) for rating in ratings) if r is not None]
    family = DEVICES.get(structure.family)
    in_order = sorted(shown, key=lambda r: (r["valid_from"], r["id"]))
    newest = in_order[-1]["table"] if in_order else None
    return {
        "id": structure.id,
        "name": structure.name,
        "family": structure.family,
        "family_name": family.name if family else structure.family,
        "described": shown[-1]["described"] if shown else "no rating yet",
        "tailwater_gauge": structure.tailwater_gauge,
        "can_drown": newest["can_drown"] if newest else bool(family and family.can_drown),
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
        "ratings": in_order,
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
    session: Session, names: dict[int | None, str], links: Standing
) -> dict[int, list[dict[str, Any]]]:
    """Return the newest standing readings of every site, newest first, by site."""
    place = sa.func.row_number().over(
        partition_by=col(FlowValue.site_id),
        order_by=(col(FlowValue.at).desc(), col(FlowValue.entry_id).desc()),
    )
    ranked = (
        sa.select(col(FlowValue.id), place.label("place"))
        .where(col(FlowValue.current), standing_only(session, FlowValue.entry_id, links))
        .subquery()
    )
    newest = sa.select(ranked.c.id).where(ranked.c.place <= RECENT_READINGS)
    return _readings(session, names, col(FlowValue.id).in_(newest))


def set_aside(
    session: Session, names: dict[int | None, str], links: Standing, ids: list[str]
) -> dict[int, list[dict[str, Any]]]:
    """Return the readings that stand aside for some, by site.

    The phone shows them when a withdrawal that is still on it brings them back.
    """
    gone = [node.id for node in links.family(ids) if not links.stands(node.id)]
    if not gone:
        return {}
    return _readings(session, names, ~standing_only(session, FlowValue.entry_id, links), set(gone))


def _readings(
    session: Session,
    names: dict[int | None, str],
    where: Any,
    wanted: set[str] | None = None,
) -> dict[int, list[dict[str, Any]]]:
    rows = session.exec(
        select(FlowValue, Entry)
        .join(Entry, col(FlowValue.entry_id) == col(Entry.id))
        .where(col(FlowValue.current), where)
        .order_by(col(FlowValue.at).desc(), col(FlowValue.entry_id).desc())
    )
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for value, entry in rows:
        if wanted is None or entry.id in wanted:
            found[entry.site_id].append(_reading(value, entry, names))
    return found


def _reading(value: FlowValue, entry: Entry, names: dict[int | None, str]) -> dict[str, Any]:
    return {
        "id": entry.id,
        "structure_id": entry.structure_id,
        "observed_at": iso(entry.observed_at),
        "by": entry.by_id,
        "by_name": names.get(entry.by_id, ""),
        "occasion": entry.body.get("occasion", "during"),
        "head_m": value.head_m,
        "tailwater_m": value.tailwater_m,
        "discharge_m3s": value.discharge_m3s,
        "uncertainty_pct": value.uncertainty_pct,
        "flow": Flow(value.flow).word,
        "flags": flag_words(value.flags),
    }


def links_for_phone(
    session: Session,
    links: Standing,
    recents: dict[int, list[dict[str, Any]]],
    gaugings: dict[int, list[dict[str, Any]]],
    survey: dict[str, Any],
    now: datetime,
) -> list[dict[str, Any]]:
    """Return the linked entries that bear on what the phone shows or still holds itself.

    The phone puts its own entries to them and judges by the same rule
    (static/field/keep/standing.js).
    """
    shown = [one for part in (recents, gaugings) for rows in part.values() for one in rows]
    shown += [run for site in survey["sites"].values() for run in site["runs"]]
    shown += [stop for one in survey["structures"].values() for stop in one["stops"]]
    ids = [one["id"] for one in shown] + links_since(session, now - PHONE_HOLDS)
    return [
        {
            "id": node.id,
            "kind": node.kind,
            "site_id": node.site_id,
            "by": node.by_id,
            "any": node.any_author,
            "moves": node.moves,
            "corrects": node.corrects,
        }
        for node in links.family(ids)
    ]
