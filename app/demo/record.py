"""The invented long record of the demonstration: loggers, files, limits, first approvals.

Two years every quarter of an hour for the sites that are visited, in half-yearly files that go
through the same import as real ones. The newest file of the second site is left waiting, as sent
by a phone, so that somebody can try the import.
"""

import hashlib
from collections.abc import Sequence
from datetime import datetime

import numpy as np
from sqlmodel import Session, col, select

from app.demo.entries import entry, send
from app.demo.series import STEP_S, Knots, Series, invent, logger_file
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.entries import kept_files
from app.services.entries.links import standing_only, what_stands
from app.services.loggers import take_in as logger_imports
from app.services.readings.observed import repeats
from app.services.review import approval
from app.services.series.months import day_begins_s, day_of
from app.services.takes import capacity as race_capacity
from app.services.takes import limits as take_limits

RECORD_SEED = 20_260_702
FILES = 4
APPROVE_MONTHS = 2
CAPACITY = {"kind": "flow", "amount": "0.250", "reason": "Invented: the race spills above it"}
LIMITS: dict[bool, tuple[dict[str, str], ...]] = {
    True: (
        {"kind": "rate", "amount": "0.130", "window_min": "60", "note": "Invented limit"},
        {"kind": "daily", "amount": "9000", "note": "Invented limit"},
        {"kind": "season", "amount": "2400000", "note": "Invented limit"},
    ),
    False: (
        {"kind": "monthly", "amount": "160000", "note": "Invented limit"},
        {"kind": "season", "amount": "1800000", "note": "Invented limit"},
        {"kind": "residual", "amount": "0.010", "note": "Invented: least flow to be left"},
    ),
}


def knots_of(session: Session, structure: Structure) -> Knots | None:
    """Return the visits of a structure as the knots the water goes through."""
    entries = session.exec(
        select(Entry)
        .where(
            Entry.structure_id == structure.id,
            Entry.kind == "head_reading",
            standing_only(session, Entry.id, what_stands(session, structure.site_id)),
        )
        .order_by(col(Entry.observed_at))
    ).all()
    kept = [e for e in entries if e.body.get("occasion") in ("as_found", "as_left")]
    if len(kept) < 2:
        return None
    times = [int(e.observed_at.timestamp()) for e in kept]
    heads = [repeats(e.body["staff_m"])[0] for e in kept]
    tails = [(e.body.get("tailwater") or {}).get("staff_m") for e in kept]
    ratios = [0.4 if tail is None else tail / head for tail, head in zip(tails, heads, strict=True)]

    def at(occasion: str) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
        return np.array(
            [t for t, e in zip(times, kept, strict=True) if e.body["occasion"] == occasion],
            dtype=np.int64,
        )

    return Knots(
        np.array(times, dtype=np.int64),
        np.array(heads),
        np.array(ratios),
        at("as_found"),
        at("as_left"),
    )


def invented(session: Session) -> list[tuple[Site, Structure, Series]]:
    """Return the series of every visited site, the same each time it is asked."""
    out = []
    for number, (structure, site) in enumerate(
        session.exec(
            select(Structure, Site)
            .where(Structure.site_id == Site.id, col(Site.demo))
            .order_by(col(Structure.id))
        ).all()
    ):
        knots = knots_of(session, structure)
        if knots is None or knots.found_at.size < 20:
            continue
        first = day_of(int(knots.t_s[0]), site.utc_offset_min)
        begin = day_begins_s(first, site.utc_offset_min)
        end = int(knots.t_s[-1]) // STEP_S * STEP_S + 3600
        rng = np.random.default_rng([RECORD_SEED, number])
        made = invent(
            knots,
            site.code,
            tail=structure.tailwater_gauge and knots.found_at.size > 33,
            begin_s=begin,
            end_s=end,
            rng=rng,
        )
        out.append((site, structure, made))
    return out


def build(session: Session, now: datetime, people: Sequence[Person]) -> None:
    """Add loggers, import their files, set limits, approve the first quiet months."""
    office = next(p for p in people if p.role == "office")
    crew = next(p for p in people if p.role == "crew")
    for number, (site, structure, made) in enumerate(invented(session)):
        continental = made.tail_m is not None
        serial = f"INV-{1041 + 13 * number}"
        edges = np.linspace(0, made.t_s.size, FILES + 1).astype(int).tolist()
        for k in range(FILES):
            part = slice(edges[k], edges[k + 1])
            content = logger_file(
                made,
                part,
                offset_min=site.utc_offset_min,
                serial=serial,
                continental=continental,
            )
            name = f"{site.code.lower()}-{k + 1}.{'txt' if continental else 'csv'}"
            if k == FILES - 1 and not continental:
                bring(
                    session,
                    site,
                    structure,
                    crew=crew,
                    content=content,
                    name=name,
                    serial=serial,
                    now=now,
                )
                continue
            add_file(
                session,
                site,
                structure,
                content=content,
                name=name,
                office=office,
                now=now,
                new=k == 0,
            )
        for limit in LIMITS[continental]:
            form = {**limit, "valid_from": made_day(made, site)}
            assert structure.id is not None
            take_limits.add_limit(session, structure.id, form, office, now)
        if not continental:  # the other site shows what cannot be told without it
            race = CAPACITY | {"valid_from": made_day(made, site)}
            assert structure.id is not None
            race_capacity.add_capacity(session, structure.id, race, office, now)
        session.commit()
        _approve(session, structure, office, now)


def bring(
    session: Session,
    site: Site,
    structure: Structure,
    *,
    crew: Person,
    content: bytes,
    name: str,
    serial: str,
    now: datetime,
) -> None:
    """Send a file as a phone does: the entry that names it, and its bytes."""
    sha256 = hashlib.sha256(content).hexdigest()
    body = {"sha256": sha256, "name": name, "size": len(content), "serial": serial}
    rng = np.random.default_rng(RECORD_SEED)
    send(
        session,
        [
            entry(
                rng,
                "logger_file",
                site=site,
                structure=structure,
                by=crew,
                at=now,
                visit_id=None,
                body=body,
            )
        ],
        [crew],
    )
    kept_files.keep(
        session,
        crew,
        "logger_file",
        name=name,
        sent_sha256=sha256,
        content=content,
        received_at=now,
    )


def made_day(made: Series, site: Site) -> str:
    day = np.datetime64(day_of(int(made.t_s[0]), site.utc_offset_min), "D")
    return str(day)


def add_file(
    session: Session,
    site: Site,
    structure: Structure,
    *,
    content: bytes,
    name: str,
    office: Person,
    now: datetime,
    new: bool,
) -> None:
    assert site.id is not None
    logger = {"structure_id": structure.id, "name": f"Logger at {structure.name.lower()}"}
    # a date such as 03.04. fits both orders: the office said once that the day comes first
    answers = {"date_order": "day first"} if name.endswith(".txt") else {}
    logger_imports.do_import(
        session,
        site.id,
        content,
        name,
        office,
        now,
        new_logger=logger if new else None,
        answers=answers,
    )
    session.commit()


def _approve(session: Session, structure: Structure, office: Person, now: datetime) -> None:
    """Approve the first months in which nothing is open, as an office would."""
    assert structure.id is not None
    quiet = [
        line
        for line in approval.months(session, structure.id)
        if not line.open_items and line.missing_fraction < 0.05
    ][:APPROVE_MONTHS]
    for line in quiet:
        revision = line.revision
        for step in ("reviewed", "approved"):
            done = approval.move(
                session, structure.id, line.month, step, office, now, revision=revision
            )
            revision = done.revision
    session.commit()
