"""Re-levelling over the years: corners that creep, benchmarks that moved, marks as they stand."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.hydraulics.levelling.benchmarks import CornerTrends, MarkMove, corner_trends, moved_marks
from app.language import trade
from app.records.entries import Entry
from app.services.entries.links import what_stands
from app.services.entries.standing import Standing
from app.services.sites.changes import names_of
from app.services.surveys.runs import RunView, runs, views

YEAR_S = 365.25 * 86400.0


@dataclass(frozen=True)
class MoveView:
    """A benchmark found moved, and the run that showed it."""

    at: datetime
    entry_id: str
    move: MarkMove


@dataclass(frozen=True)
class LevelHistory:
    """All runs of a structure, oldest first; trends come from runs with all four corners."""

    runs: list[RunView]
    trends: CornerTrends | None
    moves: list[MoveView]

    @property
    def trend_rows(self) -> list[tuple[str, float]]:
        """Return each corner's word and its movement in mm a year (NaN from one run)."""
        if self.trends is None:
            return []
        return list(
            zip(trade.CORNERS.values(), self.trends.slope_mm_per_year.tolist(), strict=True)
        )


@dataclass(frozen=True, kw_only=True)
class BenchmarkView:
    """A benchmark as last described; `moves` tells what runs found of it since."""

    entry: Entry
    by: str
    name: str
    mark: str
    stability: str
    rl_m: float | None
    datum: str
    place: str
    note: str
    earlier: tuple[Entry, ...]
    moves: tuple[MoveView, ...]


def level_history(session: Session, structure_id: int, site_id: int) -> LevelHistory:
    """Return the runs of a structure with corner trends, and benchmarks of its site that moved."""
    links = what_stands(session, site_id)
    mine = runs(session, structure_id=structure_id, links=links)
    whole = [v for v in mine if standing(v) and all(c in v.corners_m for c in trade.CORNERS)]
    trends = None
    if whole:
        last = whole[-1].results
        assert last is not None
        trends = corner_trends(
            [view.entry.observed_at.timestamp() / YEAR_S for view in whole],
            [[view.corners_m[corner] for corner in trade.CORNERS] for view in whole],
            tolerance_m=last.corner_tolerance_m,
        )
    return LevelHistory(mine, trends, moved(runs(session, site_id=site_id, links=links)))


def standing(view: RunView) -> bool:
    """Tell whether a run counts: readable, and its entry stands."""
    return view.run is not None and view.stands


def moved(site_runs: Sequence[RunView]) -> list[MoveView]:
    """Return the benchmarks that moved between the runs of a site."""
    counted = [view for view in site_runs if standing(view) and view.marks_m]
    return [
        MoveView(counted[m.run].entry.observed_at, counted[m.run].entry.id, m)
        for m in moved_marks([view.marks_m for view in counted])
    ]


def benchmarks(
    session: Session, site_id: int, links: Standing | None = None
) -> list[BenchmarkView]:
    """Return the benchmarks of a site by name, each as its newest standing entry describes it."""
    links = links or what_stands(session, site_id)
    return benchmarks_of(session, [site_id], links).get(site_id, [])


def benchmarks_of(
    session: Session, site_ids: Sequence[int], links: Standing
) -> dict[int, list[BenchmarkView]]:
    """Return the benchmarks of some sites, by site; in a few statements for all."""
    order = (col(Entry.observed_at), col(Entry.id))
    query = select(Entry).where(Entry.kind == "benchmark", col(Entry.site_id).in_(site_ids))
    by_name: dict[tuple[int, str], list[Entry]] = {}
    for entry in session.exec(query.order_by(*order)):
        if links.stands(entry.id):
            by_name.setdefault((entry.site_id, entry.body["name"]), []).append(entry)
    marked = sorted({site for site, _ in by_name})
    query = select(Entry).where(Entry.kind == "level_run", col(Entry.site_id).in_(marked))
    levelled: dict[int, list[RunView]] = {}
    for view in views(session, session.exec(query.order_by(*order)).all(), links) if marked else []:
        levelled.setdefault(view.entry.site_id, []).append(view)
    moves = {site: moved(levelled.get(site, [])) for site in marked}
    names = names_of(session)
    found: dict[int, list[BenchmarkView]] = {}
    for (site, _), entries in by_name.items():
        mark = benchmark_view(entries, names.get(entries[-1].by_id, ""), moves[site])
        found.setdefault(site, []).append(mark)
    return found


def benchmark_view(entries: Sequence[Entry], by: str, moves: Sequence[MoveView]) -> BenchmarkView:
    body = entries[-1].body
    name = body["name"]
    return BenchmarkView(
        entry=entries[-1],
        by=by,
        name=name,
        mark=body.get("mark", "other"),
        stability=body.get("stability", "doubtful"),
        rl_m=body.get("rl_m"),
        datum=body.get("datum", ""),
        place=body.get("place", ""),
        note=body.get("note", ""),
        earlier=tuple(entries[:-1]),
        moves=tuple(m for m in moves if name in m.move.marks),
    )
