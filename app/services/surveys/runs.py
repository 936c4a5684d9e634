"""Level runs as stored, reduced again on the server: levels, misclosure, what they say."""

from collections.abc import Container, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.hydraulics.levelling.book import mark_name
from app.hydraulics.levelling.reduce import RULES, ReducedRun, reduce_run
from app.hydraulics.levelling.results import CrestResults, TwoPeg, results_of_run, two_peg
from app.language.trade import CORNERS
from app.records.entries import Entry
from app.records.sites import GaugeZero
from app.services.entries.links import what_stands
from app.services.entries.standing import Standing
from app.services.equipment.uses import NO_INSTRUMENT, Used, used_by
from app.services.sites.changes import names_of

PLACES = ("floor", "staff_mark", "sensor", "water", "tail_floor", "tail_water")


@dataclass(frozen=True, kw_only=True)
class RunView:
    """A level run with what it says; `problem` tells why it cannot be reduced or lacks results."""

    entry: Entry
    by: str
    run: ReducedRun | None
    results: CrestResults | None
    peg_test: TwoPeg | None
    tail_zero_rl_m: float | None
    marks_m: dict[str, float]
    corners_m: dict[str, float]
    problem: BadInput | None
    zeros: tuple[GaugeZero, ...]
    corrected_by: str | None
    stands: bool
    rival: bool
    used: Used = NO_INSTRUMENT

    @property
    def rule_words(self) -> str:
        return RULES[str((self.entry.body.get("rule") or {}).get("name", "setups"))]

    @property
    def words(self) -> tuple[str, ...]:
        """Return everything a person should know before trusting the run."""
        said = self.run.words if self.run else ()
        said += self.results.words if self.results else ()
        said += self.used.flags
        return (*said, *([str(self.problem)] if self.problem else []))

    @property
    def book(self) -> list[dict[str, Any]]:
        """Return the book, one line a sight, with reduced levels both ways; empty if unreadable."""
        run = self.run
        if run is None:
            return []
        said: dict[str, Any] = run.as_dict()
        columns = ("setup", "point", "kind", "reading", "collimation", "rise", "fall", "rl",
                   "rl_rise_fall", "correction", "rl_adjusted")  # fmt: skip
        sights = zip(said["row"], *(said[c] for c in columns), strict=True)
        rows = self.entry.body["rows"]
        return [
            dict(zip(columns, values, strict=True))
            | {
                "role": rows[row - 1].get("role", "other"),
                "struck": rows[row - 1].get("struck", []),
            }
            for row, *values in sights
        ]


def reduced(body: dict[str, Any]) -> ReducedRun:
    """Reduce the body of a level run; raises BadInput naming row and column."""
    rule = body.get("rule") or {}
    return reduce_run(
        body["rows"],
        body["start_rl"],
        close_rl=body.get("close_rl"),
        unit=body.get("unit", "m"),
        rule=rule.get("name", "setups"),
        distance_km=rule.get("distance_km"),
        limit_mm=rule.get("limit_mm"),
    )


def points_by_role(body: dict[str, Any]) -> dict[str, str]:
    """Return the point booked for each role; of two the first."""
    found: dict[str, str] = {}
    for row in body["rows"]:
        found.setdefault(row.get("role", "other"), mark_name(row["point"]))
    return found


def results(body: dict[str, Any], run: ReducedRun) -> CrestResults:
    """Return what a run says of its structure; raises BadInput when no corner was levelled."""
    points = points_by_role(body)
    roles: dict[str, str | Sequence[str]] = {p: points[p] for p in PLACES if p in points}
    roles["corners"] = [points[corner] for corner in CORNERS if corner in points]
    return results_of_run(
        run,
        roles,
        adjusted=bool(body.get("adjusted")) and run.within_limit is not None,
        staff_mark_m=body.get("staff_mark_m"),
        corner_tolerance_m=body.get("corner_tolerance_m", 0.002),
        exponent=body.get("exponent", 1.5),
        low_head_m=body.get("low_head_m", 0.1),
    )


def levels_m(body: dict[str, Any], run: ReducedRun, roles: Container[str]) -> dict[str, float]:
    """Return point levels, m, of the rows that play one of the roles, by role or mark name."""
    levels = run.point_levels(bool(body.get("adjusted")) and run.within_limit is not None)
    found: dict[str, float] = {}
    for row in body["rows"]:
        role = row.get("role", "other")
        if role in roles:
            name = mark_name(row["point"])
            found.setdefault(
                name if role == "benchmark" else role, float(run.metres(levels[name].rl))
            )
    return found


def run_view(
    entry: Entry,
    by: str = "",
    zeros: Sequence[GaugeZero] = (),
    links: Standing | None = None,
    used: Used = NO_INSTRUMENT,
) -> RunView:
    """Reduce a stored run; what cannot be reduced is shown with its problem, never dropped."""
    body, links = entry.body, links or Standing([])
    replaced = links.replaced_by(entry.id)
    run = crest = tail = peg = problem = None
    marks: dict[str, float] = {}
    corners: dict[str, float] = {}
    try:
        if body.get("peg_test"):
            peg = two_peg(**body["peg_test"])
        run = reduced(body)
        marks = levels_m(body, run, ("benchmark",))
        corners = levels_m(body, run, CORNERS)
        tail_level = levels_m(body, run, ("tail_mark",)).get("tail_mark")
        if tail_level is not None and body.get("tail_mark_m") is not None:
            tail = tail_level - body["tail_mark_m"]
        if corners:
            crest = results(body, run)
    except BadInput as error:
        problem = error
    return RunView(
        entry=entry,
        by=by,
        run=run,
        results=crest,
        peg_test=peg,
        tail_zero_rl_m=tail,
        marks_m=marks,
        corners_m=corners,
        problem=problem,
        zeros=tuple(zeros),
        corrected_by=replaced[-1] if replaced else None,
        stands=links.stands(entry.id),
        rival=links.rival(entry.id),
        used=used,
    )


def get_run(session: Session, run_entry_id: str) -> RunView:
    """Return one level run; raises NotFound."""
    entry = session.get(Entry, run_entry_id) if "\0" not in run_entry_id else None
    if entry is None or entry.kind != "level_run":
        raise NotFound(f"level run {run_entry_id}")
    return views(session, [entry], what_stands(session, entry.site_id))[0]


def runs(
    session: Session,
    *,
    site_id: int | None = None,
    structure_id: int | None = None,
    links: Standing | None = None,
) -> list[RunView]:
    """Return the level runs of a site or a structure, oldest first, those that stand marked."""
    query = select(Entry).where(Entry.kind == "level_run")
    if site_id is not None:
        query = query.where(Entry.site_id == site_id)
    if structure_id is not None:
        query = query.where(Entry.structure_id == structure_id)
    entries = session.exec(query.order_by(col(Entry.observed_at), col(Entry.id))).all()
    return views(session, entries, links or what_stands(session, site_id))


def views(session: Session, entries: Sequence[Entry], links: Standing) -> list[RunView]:
    ids = [entry.id for entry in entries]
    names = names_of(session)
    zeros: dict[str, list[GaugeZero]] = {}
    for zero in session.exec(select(GaugeZero).where(col(GaugeZero.run_entry_id).in_(ids))):
        zeros.setdefault(str(zero.run_entry_id), []).append(zero)
    used = used_by(session, entries)
    return [
        run_view(e, names.get(e.by_id, ""), zeros.get(e.id, ()), links, used[e.id]) for e in entries
    ]
