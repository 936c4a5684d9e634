"""The sheet for a round: site by site what is due, what was found last, what is in the way.

It is read on paper, at the water, without a phone: so it says when it was made.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlmodel import Session, col, select

from app.records.sites import GaugeZero, Rating, Structure
from app.services.entries.links import what_stands
from app.services.equipment import fitness
from app.services.equipment.tables import RegisterLine, register
from app.services.loggers.waiting import kept_logger_files
from app.services.sites.tables import site_list
from app.services.surveys.history import BenchmarkView, benchmarks_of
from app.services.visits.done import visits
from app.services.visits.due_list import PRESSING, DueLine
from app.services.visits.view import VisitView

ROUND_CAUTIONS = (
    "Moving water takes people off their feet. Do not wade when depth in metres times speed in "
    "metres a second comes near 1, nor deeper than your thigh. If in doubt, stay out.",
    "Alone? Tell somebody where you are and when you will call, and call. Do not work alone near "
    "a gate that others can open: have it locked and tagged.",
    "Covered wells and culverts can hold bad air: stay outside. Local rules and your own safety "
    "plan come before anything on this sheet.",
)


@dataclass(frozen=True, kw_only=True)
class Stop:
    """One site of a round."""

    line: DueLine
    access: str
    to_do: str
    reading: dict[str, Any]
    visit: VisitView | None
    benchmarks: list[BenchmarkView]
    instruments: list[RegisterLine]
    structures: list[Structure]
    still_open: list[str]


def of_round(found: Sequence[DueLine], *, whole: bool) -> list[DueLine]:
    """Return the sites to go to, by name: those due within a week, or with `whole` all."""
    kept = [line for line in found if whole or line.due.state in PRESSING]
    return sorted(kept, key=lambda line: (line.site.name, line.site.code))


def stops(session: Session, lines: Sequence[DueLine], now: datetime) -> list[Stop]:
    """Return the sites of a round with all that the sheet says; in a few statements for all."""
    ids = [line.site.id for line in lines if line.site.id is not None]
    if not ids:
        return []
    links, today = what_stands(session), now.date()
    readings = {row["id"]: row for row in site_list(session).rows}
    seen = visits(session, [line.site for line in lines], newest=1)
    marks = benchmarks_of(session, ids, links)
    instruments = _instruments(session, today)
    structures = _by_site(session, ids)
    lacking = _lacking(session, structures)
    waiting = [file.site_id for file in kept_logger_files(session)]
    found = []
    for line in lines:
        site_id = line.site.id or 0
        visit = next(iter(seen.get(site_id, [])), None)
        held = instruments.get(site_id, [])
        still = [f"last visit: {words}" for words in visit.still_open] if visit else []
        still += lacking.get(site_id, [])
        if count := waiting.count(site_id):
            noun = "file waits" if count == 1 else "files wait"
            still.append(f"{count} logger {noun} at the office to be imported")
        still += [
            f"{one.of.name}: {one.state.words}"
            for one in held
            if one.state.word in (fitness.OVERDUE, fitness.NOT_FIT)
        ]
        if line.seen_since is not None:
            still.append(f"read on {line.seen_since} without a visit: who was there?")
        row = line.plan.row if line.plan else None
        found.append(
            Stop(
                line=line,
                access=row.access if row else "",
                to_do=row.to_do if row else "",
                reading=readings[site_id],
                visit=visit,
                benchmarks=marks.get(site_id, []),
                instruments=held,
                structures=structures.get(site_id, []),
                still_open=still,
            )
        )
    return found


def _instruments(session: Session, today: date) -> dict[int, list[RegisterLine]]:
    found: dict[int, list[RegisterLine]] = {}
    for one in register(session, today):
        if one.of.site_id is not None:
            found.setdefault(one.of.site_id, []).append(one)
    return found


def _by_site(session: Session, ids: Sequence[int]) -> dict[int, list[Structure]]:
    found: dict[int, list[Structure]] = {}
    wanted = col(Structure.site_id).in_(ids)
    for row in session.exec(select(Structure).where(wanted).order_by(col(Structure.id))):
        found.setdefault(row.site_id, []).append(row)
    return found


def _lacking(session: Session, structures: dict[int, list[Structure]]) -> dict[int, list[str]]:
    """Return what of each site a discharge cannot do without and nobody gave yet."""
    rated = set(session.exec(select(Rating.structure_id)))
    zeroed = set(session.exec(select(GaugeZero.structure_id)))
    found: dict[int, list[str]] = {}
    for site_id, rows in structures.items():
        for row in rows:
            if row.id not in rated:
                found.setdefault(site_id, []).append(f"{row.name}: no rating yet")
            if row.id not in zeroed:
                found.setdefault(site_id, []).append(f"{row.name}: no gauge zero yet")
    return found


def until(now: datetime) -> date:
    """Return the last day that the sheet looks ahead to."""
    return now.date() + timedelta(days=7)
