"""Staff readings and check gaugings of a view as marks, as they stand."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from sqlmodel import Session

from app.language import words
from app.records.sites import Site, Structure
from app.services.entries.links import LINK
from app.services.entries.written import observer_of, source_words
from app.services.gaugings.results import GaugingResult, gauging_results
from app.services.readings.list import Span, standing
from app.services.record.kinds import EARLIEST_S, GAUGING, LATEST_S, READING, Mark
from app.services.series.months import instant
from app.services.sites.changes import names_of


def read_points(
    session: Session, site: Site, structure: Structure, begin_s: int, end_s: int
) -> list[dict[str, Any]]:
    """Return the staff readings of a view that stand, oldest first."""
    assert site.id is not None
    begin_s, end_s = max(begin_s, EARLIEST_S), min(end_s, LATEST_S)
    if end_s < begin_s:
        return []
    span = Span(None, None, instant(begin_s), instant(end_s) + timedelta(seconds=1))
    return list(standing(session, site.id, span, structure.id))


def _known(discharge_m3s: float | None, pct: float | None) -> float | None:
    """Return a discharge only where its uncertainty is known; no flow needs none."""
    return discharge_m3s if pct is not None or discharge_m3s == 0.0 else None


def readings(
    session: Session, site: Site, structure: Structure, begin_s: int, end_s: int
) -> Iterator[Mark]:
    """Yield the staff readings that stand."""
    names = names_of(session)
    for row in read_points(session, site, structure, begin_s, end_s):
        at = int(row["observed_at"].timestamp())
        shown = _known(row["discharge_m3s"], row["uncertainty_pct"])
        said = [
            f"head {words.millimetres(row['head_m'])}",
            words.discharge(shown, row["uncertainty_pct"]),
            row["flow"],
            *row["flags"],
        ]
        said += [source] if (source := source_words(row["body"])) else []
        said += ["a correction"] if row[LINK] else []
        said += ["another correction stands beside it"] if row["rival"] else []
        yield Mark(
            kind=READING,
            from_s=at,
            to_s=at,
            title=READING,
            words=" · ".join(said),
            href=f"/readings/{row['id']}",
            by=observer_of(row["body"], names.get(row["by_id"], "")),
            discharge_m3s=shown,
            uncertainty_pct=row["uncertainty_pct"],
            head_m=row["head_m"],
            tailwater_m=row["tailwater_m"],
            flow_code=row["flow_code"],
            flow=row["flow"],
            flags=row["flags"],
        )


def gaugings(
    session: Session, site: Site, structure: Structure, begin_s: int, end_s: int
) -> Iterator[Mark]:
    """Yield the check gaugings that stand, at the instant each was begun."""
    since, until = instant(begin_s), instant(end_s) + timedelta(seconds=1)
    assert site.id is not None
    for one in gauging_results(session, site.id, since, until, structure.id):
        yield _gauging(one)


def _gauging(one: GaugingResult) -> Mark:
    at = int(one.entry.observed_at.timestamp())
    shown = _known(one.discharge_m3s, one.uncertainty_pct)
    said = [one.method, words.discharge(one.discharge_m3s, one.uncertainty_pct), one.word]
    said += [source] if (source := source_words(one.entry.body)) else []
    return Mark(
        kind=GAUGING,
        from_s=at,
        to_s=max(at, int(one.ended_at.timestamp())),
        title=GAUGING,
        words=" · ".join(said),
        href=f"/gaugings/{one.entry.id}",
        by=one.by,
        discharge_m3s=shown,
        uncertainty_pct=one.uncertainty_pct,
        head_m=one.head_mean_m,
        tailwater_m=one.tailwater_m,
        flags=one.flags,
    )
