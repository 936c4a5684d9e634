"""What stands over every page of a site: its state now, its structures, and what comes first.

The head is read with the same few statements for a site with one structure and with twelve.
"""

import math
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.language.words import counted
from app.records.flows import FlowValue
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.entries.links import standing_only, what_stands
from app.services.series import read as series_read
from app.services.series.months import instant
from app.services.sites.dated import histories, in_force
from app.services.sites.register import structures_of

SHORT = 110  # characters of the hazards that stand in the head
AGES = (
    (31_557_600, "year", "years"),
    (86_400, "day", "days"),
    (3600, "h", "h"),
    (60, "min", "min"),
)
POINT = ("discharge_m3s", "uncertainty_pct", "flow", "flags")


@dataclass(frozen=True, kw_only=True)
class LastFlow:
    """The newest discharge of a structure, of a staff reading or of its logger."""

    at: datetime
    age: str
    source: str
    discharge_m3s: float | None
    uncertainty_pct: float | None
    flow_code: int
    flow: str
    flags: list[str]


@dataclass(frozen=True)
class FirstStep:
    """What is missing before a discharge can be given, and where a person adds it."""

    missing: str
    words: str
    href: str
    office: bool = True


@dataclass(frozen=True, kw_only=True)
class SiteHead:
    """What every page of a site begins with."""

    site: Site
    structures: list[Structure]
    structure: Structure | None
    rating_id: int | None
    last: LastFlow | None
    step: FirstStep | None
    hazards: str
    hazards_cut: bool


def site_head(session: Session, site: Site, structure_id: int | None, now: datetime) -> SiteHead:
    """Return the head of a site for one of its structures; the first one when none is named."""
    assert site.id is not None
    structures = structures_of(session, site.id)
    named = [s for s in structures if s.id == structure_id]
    structure = next(iter(named or structures), None)
    last, rating, zero = None, None, None
    if structure is not None and structure.id is not None:
        last = _last(session, structure, now)
        rating = in_force(histories(session, Rating, [structure.id])[structure.id], now)
        zero = in_force(histories(session, GaugeZero, [structure.id])[structure.id], now)
    short = _short(site.hazards)
    return SiteHead(
        site=site,
        structures=structures,
        structure=structure,
        rating_id=rating.id if rating else None,
        last=last,
        step=_first_step(site, structure, rating, zero, last),
        hazards=short,
        hazards_cut=short != site.hazards.strip(),
    )


def _last(session: Session, structure: Structure, now: datetime) -> LastFlow | None:
    """Return the newer of the last staff reading that stands and the last logged point."""
    assert structure.id is not None
    links = what_stands(session, structure.site_id)
    read = session.exec(
        select(FlowValue)
        .where(
            FlowValue.structure_id == structure.id,
            col(FlowValue.current),
            standing_only(session, FlowValue.entry_id, links),
        )
        .order_by(col(FlowValue.at).desc(), col(FlowValue.id).desc())
        .limit(1)
    ).first()
    logged = series_read.newest(session, structure.id, POINT)
    if logged is not None and (read is None or instant(logged["t_s"]) > read.at):
        return _flow(instant(logged["t_s"]), now, "logger", logged)
    if read is None:
        return None
    return _flow(read.at, now, "staff reading", {name: getattr(read, name) for name in POINT})


def _flow(at: datetime, now: datetime, source: str, of: dict[str, float | None]) -> LastFlow:
    def figure(name: str) -> float | None:
        value = of[name]
        return None if value is None or math.isnan(value) else value

    return LastFlow(
        at=at,
        age=age(at, now),
        source=source,
        discharge_m3s=figure("discharge_m3s"),
        uncertainty_pct=figure("uncertainty_pct"),
        flow_code=int(of["flow"] or 0),
        flow=Flow(int(of["flow"] or 0)).word,
        flags=flag_words(Flag(int(of["flags"] or 0))),
    )


def age(at: datetime, now: datetime) -> str:
    """Return how long ago something was, in its largest unit; what lies ahead says so."""
    seconds = (now - at).total_seconds()
    if seconds < -60:
        return "ahead of now"
    for size, one, many in AGES:
        if seconds >= size:
            return f"{counted(int(seconds // size), one, many)} ago"
    return "just now"


def _first_step(
    site: Site,
    structure: Structure | None,
    rating: Rating | None,
    zero: GaugeZero | None,
    last: LastFlow | None,
) -> FirstStep | None:
    if structure is None:
        new = f"/sites/{site.id}/structures/new"
        return FirstStep("No structure yet: readings need one.", "Add the structure", new)
    at = f"/structures/{structure.id}"
    if rating is None:
        return FirstStep(
            "No rating in force: readings are kept and not rated.",
            "Enter its rating",
            f"{at}/ratings/new",
        )
    if zero is None:
        return FirstStep(
            "No gauge zero in force: readings are kept and not rated.",
            "Enter its gauge zero",
            f"{at}/gauge-zeros/new",
        )
    if last is None:
        read = f"/field/reading?site={site.id}&structure={structure.id}"
        return FirstStep("No reading yet.", "Take the first reading", read, office=False)
    return None


def _short(hazards: str) -> str:
    """Return the beginning of the hazards: the first line, cut between words."""
    text = hazards.strip()
    line = text.partition("\n")[0].strip()
    if len(line) <= SHORT:
        return line
    return line[:SHORT].rsplit(" ", 1)[0] + " …"
