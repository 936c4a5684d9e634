"""The visits of a site, and what lies within one, as tables."""

from collections.abc import Sequence
from typing import Any

from sqlmodel import Session

from app.language import words
from app.language.tables import Column, Table
from app.language.trade import OCCASIONS
from app.services.entries.bodies.gauging import METHODS
from app.services.sites.register import get_site
from app.services.sync.page import address_of, kind_words
from app.services.visits.due_list import DueLine
from app.services.visits.plans import plan_lines
from app.services.visits.view import VisitView, Within

DUE_COLUMNS = (
    Column("site_id", "Site id"),
    Column("code", "Site code"),
    Column("name", "Site"),
    Column("state", "State"),
    Column("due_on", "Next visit due"),
    Column("days", "Days from today, below zero when overdue"),
    Column("words", "In words"),
    Column("last_visit_on", "Last visit"),
    Column("last_visit_id", "Last visit, entry"),
    Column("last_visit_by", "Last visit by"),
    Column("interval_days", "Interval in force, days"),
    Column("plan", "Plan"),
    Column("person", "Looked after by"),
    Column("round", "Round"),
    Column("seen_since_on", "Newest reading or gauging after it, without a visit"),
)
PLAN_COLUMNS = (
    Column("id", "Plan"),
    Column("valid_from", "From"),
    Column("interval_days", "Interval, days"),
    Column("season_begins", "Season begins"),
    Column("season_ends", "Season ends"),
    Column("outside_days", "Interval in the rest of the year, days"),
    Column("person", "Looked after by"),
    Column("round", "Round"),
    Column("to_do", "To do at each visit"),
    Column("access", "Access"),
    Column("reason", "Reason"),
    Column("by", "Entered by"),
    Column("added_at", "Entered, UTC"),
)
VISIT_COLUMNS = (
    Column("visit_id", "Visit"),
    Column("site_id", "Site id"),
    Column("site_code", "Site code"),
    Column("started_at", "Started, UTC"),
    Column("ended_at", "Ended, UTC"),
    Column("ended_from", "The end is"),
    Column("hours", "Hours"),
    Column("by", "By"),
    Column("observers", "Others present"),
    Column("purpose", "Purpose"),
    Column("conditions", "Seen"),
    Column("done", "Work done"),
    Column("as_found_head_m", "Head as found, m over crest, by structure"),
    Column("as_left_head_m", "Head as left, m over crest, by structure"),
    *(
        Column(f"{kind}_count", f"{more[:1].upper()}{more[1:]}")
        for kind, more in (
            ("head_reading", "readings"),
            ("check_gauging", "check gaugings"),
            ("level_run", "level runs"),
            ("photo", "photos"),
            ("logger_file", "logger files"),
            ("opening", "openings"),
        )
    ),
    Column("still_open", "Still open"),
    Column("note", "Note"),
    Column("corrected", "Corrected"),
    Column("rival", "Another correction stands beside it"),
    Column("ahead", "Time that lies ahead"),
)
WITHIN_COLUMNS = (
    Column("entry_id", "Entry"),
    Column("at", "Time, UTC"),
    Column("kind", "What"),
    Column("structure", "Structure"),
    Column("words", "In words"),
    Column("head_m", "Head over crest, m"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty of discharge, %, k=2"),
    Column("flow", "Flow word"),
    Column("by_time", "Belongs here by its time only"),
    Column("address", "Page"),
)


def visit_row(view: VisitView) -> dict[str, Any]:
    """Return a visit as a row; None where nobody said."""
    entry, body = view.entry, view.body
    return {
        "visit_id": entry.id,
        "site_id": view.site.id,
        "site_code": view.site.code,
        "started_at": entry.observed_at,
        "ended_at": view.ended_at,
        "ended_from": view.end_words,
        "hours": view.hours,
        "by": view.by,
        "observers": view.others,
        "purpose": body.get("purpose") or None,
        "conditions": view.conditions,
        "done": view.done or None,
        "as_found_head_m": _heads(view, "found"),
        "as_left_head_m": _heads(view, "left"),
        **{
            f"{kind}_count": len(view.of_kind(kind))
            for kind in (
                "head_reading", "check_gauging", "level_run", "photo", "logger_file", "opening",
            )
        },
        "still_open": view.still_open,
        "note": body.get("note") or None,
        "corrected": view.corrected,
        "rival": view.rival,
        "ahead": view.ahead or None,
    }  # fmt: skip


def _heads(view: VisitView, side: str) -> list[str] | None:
    found = [(pair["structure"], pair[side]) for pair in view.pairs if pair[side] is not None]
    several = len(view.structures) > 1
    said = []
    for name, one in found:
        head = one.value.head_m if one.value else None
        text = "unknown" if head is None else f"{head:.4f}"
        said.append(f"{name} {text}" if several else text)
    return said or None


def visits_table(code: str, found: Sequence[VisitView]) -> Table:
    return Table(f"visits-{code}", VISIT_COLUMNS, [visit_row(view) for view in found])


def within_rows(view: VisitView) -> list[dict[str, Any]]:
    """Return what lies within a visit, oldest first."""
    return [
        {
            "entry_id": one.entry.id,
            "at": one.entry.observed_at,
            "kind": kind_words(one.entry.kind),
            "structure": view.structures.get(one.entry.structure_id),
            "words": described(one),
            "head_m": one.value.head_m if one.value else None,
            "discharge_m3s": one.value.discharge_m3s if one.value else None,
            "uncertainty_pct": one.value.uncertainty_pct if one.value else None,
            "flow": words.flow_word(one.value.flow) if one.value else None,
            "by_time": one.by_time,
            "address": address_of(one.entry),
        }
        for one in view.within
    ]


def within_table(session: Session, view: VisitView) -> Table:
    return Table(f"entries-visit-{view.entry.id[:8]}", WITHIN_COLUMNS, within_rows(view))


def described(one: Within) -> str:
    """Return an entry of a visit in a few words."""
    body = one.entry.body
    if one.entry.kind == "head_reading":
        said = OCCASIONS[body.get("occasion", "during")]
        seen = body.get("conditions") or []
        return f"{said}; {', '.join(seen)}" if seen else said
    if one.entry.kind == "check_gauging":
        return METHODS[body["observed"]["method"]]
    if one.entry.kind == "photo":
        return str(body.get("caption") or body.get("place") or "")
    if one.entry.kind == "logger_file":
        return str(body.get("name") or body.get("serial") or "")
    if one.entry.kind == "opening":
        steps = len(body.get("gate") or [])
        return f"{steps} gate step{'' if steps == 1 else 's'}"
    if one.entry.kind == "install_stop":
        return str(body.get("stop", ""))
    return str(body.get("name") or body.get("note") or "")[:200]


def due_table(found: Sequence[DueLine]) -> Table:
    return Table("visits-due", DUE_COLUMNS, [line.as_row() for line in found])


def plans_table(session: Session, site_id: int) -> Table:
    site = get_site(session, site_id)
    rows = [
        x.row.model_dump() | {"person": x.person, "by": x.by} for x in plan_lines(session, site_id)
    ]
    return Table(f"visit-plans-{site.code}", PLAN_COLUMNS, rows)
