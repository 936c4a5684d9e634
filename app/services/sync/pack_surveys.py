"""What a phone carries of surveys: benchmarks, the last runs, install stops, named dimensions."""

import json
from collections.abc import Sequence
from typing import Any

from sqlmodel import Session, col, select

from app.errors import SillbookError
from app.hydraulics.families.registry import DEVICES
from app.language.clock import iso
from app.records.entries import Entry
from app.records.sites import Site, Structure
from app.services.entries.standing import Standing
from app.services.install.hold_points import CAUTIONS, STOPS
from app.services.surveys.history import benchmarks
from app.services.surveys.runs import runs

LAST_RUNS = 8  # of a site, for what moved since
LAST_STOPS = 60  # of a structure, for the change since the last stop


def survey_pack(
    session: Session,
    sites: Sequence[Site],
    structures: Sequence[Structure],
    links: Standing,
) -> dict[str, Any]:
    """Return the stops of the sequence, and by site and structure what is known so far."""
    return {
        "stops": [
            {
                "key": s.key,
                "title": s.title,
                "check": s.check,
                "passes": s.passes,
                "asks": [{"key": key, "text": text} for key, text in s.asks],
                "parts": list(s.parts),
                "cautions": list(s.cautions),
            }
            for s in STOPS
        ],
        "cautions": CAUTIONS,
        "sites": {str(site.id): site_survey(session, site.id, links) for site in sites if site.id},
        "structures": {str(s.id): structure_survey(session, s, links) for s in structures if s.id},
    }


def site_survey(session: Session, site_id: int, links: Standing) -> dict[str, Any]:
    known = [v for v in runs(session, site_id=site_id, links=links) if v.run and v.stands]
    return {
        "benchmarks": [
            {
                "id": b.entry.id,
                "by": b.entry.by_id,
                "name": b.name,
                "mark": b.mark,
                "stability": b.stability,
                "rl_m": b.rl_m,
                "datum": b.datum,
                "place": b.place,
                "observed_at": iso(b.entry.observed_at),
                "moved": [m.move.words for m in b.moves],
            }
            for b in benchmarks(session, site_id, links)
        ],
        "runs": [
            {
                "id": v.entry.id,
                "structure_id": v.entry.structure_id,
                "observed_at": iso(v.entry.observed_at),
                "by": v.entry.by_id,
                "by_name": v.by,
                "marks_m": v.marks_m,
                "corners_m": v.corners_m,
                "crest_rl_m": v.results.crest_rl_m if v.results else None,
                "within_limit": v.run.within_limit if v.run else None,
            }
            for v in known[-LAST_RUNS:]
        ],
    }


def structure_survey(session: Session, structure: Structure, links: Standing) -> dict[str, Any]:
    """Return the install stops as recorded, and the length dimensions of the named size."""
    query = select(Entry).where(Entry.kind == "install_stop", Entry.structure_id == structure.id)
    entries = session.exec(query.order_by(col(Entry.observed_at), col(Entry.id))).all()
    kept = [e for e in entries if links.stands(e.id)][-LAST_STOPS:]
    return {
        "stops": [
            {"id": e.id, "by": e.by_id, "observed_at": iso(e.observed_at), "body": e.body}
            for e in kept
        ],
        "dimensions": named_dimensions(structure.family, json.dumps(structure.dims)),
    }


def named_dimensions(family_key: str, dims: str) -> list[dict[str, Any]]:
    """Return what is measured of a structure with its named values, m; empty when unknown."""
    family = DEVICES.get(family_key)
    if family is None:
        return []
    try:
        outline = family.build(json.loads(dims)).outline()
    except SillbookError:
        return []
    if outline is None:
        return []
    return [{"key": p.key, "label": p.label, "named_m": p.named_m} for p in outline.parts]
