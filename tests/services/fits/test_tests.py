"""How a rating stands: the tests in words against a worked example, seasons, and volumes.

Bias, signs and runs: the worked figures of tests/tables/gaugings_checks.csv, rows rating_bias, in
the form of ISO 1100-2 (from memory); the arithmetic is checked there against its own derivation.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.hydraulics.rating.rate import rate
from app.records.people import Person
from app.records.sites import Rating, Site, Structure
from app.services.fits import sides as rating_sides
from app.services.fits import tables as standing_tables
from app.services.fits import test_charts as standing_charts
from app.services.fits import tests as standing
from app.services.fits.tables import sides_table
from app.services.gaugings.results import gauging_results
from app.services.ratings.volumes import as_if_always, effect, head_record
from app.services.readings.list import span_of
from app.services.sites.dated import device_of
from tests.builders.check_gaugings import FLOAT, a_gauging, gauge
from tests.builders.record_files import DAY, JULY, a_bench, log_text, times
from tests.conftest import BEGIN, a_reading, send
from tests.hydraulics.checks import checks

NOW = BEGIN + timedelta(days=700)
HEADS = [0.10, 0.13, 0.16, 0.19, 0.22, 0.25, 0.28, 0.31]


def rated(structure: Structure, heads: list[float]) -> list[float]:
    rating = Rating(structure_id=1, valid_from=BEGIN, family=structure.family, dims=structure.dims)
    found = rate(device_of(rating), heads, None, 0.003, free_seen=[True] * len(heads))
    return [float(q) for q in found.discharge_m3s]


def off(structure: Structure, heads: list[float], deviations_pct: list[float]) -> list[float]:
    flows = rated(structure, heads)
    return [q * (1 + d / 100) for q, d in zip(flows, deviations_pct, strict=True)]


@pytest.fixture
def structure(a_site: Callable[..., Structure]) -> Structure:
    return a_site()


@pytest.fixture
def ines(a_person: Callable[..., Person]) -> Person:
    return a_person()


def add_rating(session: Session, structure: Structure, days: int, **of: object) -> Rating:
    rating = Rating(
        structure_id=structure.id or 0,
        valid_from=BEGIN + timedelta(days=days),
        family=str(of.get("family", structure.family)),
        dims=dict(of.get("dims", structure.dims)),  # type: ignore[call-overload]
        reason="another",
    )
    session.add(rating)
    session.commit()
    return rating


def test_the_worked_example_of_bias_signs_and_runs(
    session: Session, structure: Structure, ines: Person
) -> None:
    deviations = [3.1, -1.2, 4.0, 2.2, 0.6, 3.7, -0.4, 2.9]
    expected = {
        check.quantity: float(check.expected)
        for check in checks("gaugings_checks")
        if check.device == "rating_bias"
    }
    gauge(session, structure, ines, HEADS, off(structure, HEADS, deviations))
    found = standing.standing(session, structure.id or 0, NOW)
    tests = found.tests
    assert tests is not None
    assert tests.bias.t == pytest.approx(expected["student_t"], rel=1e-6)
    assert tests.bias.limit == pytest.approx(2.365, abs=5e-4)  # Student t, 7 degrees, 5 %: tables
    assert tests.bias.biased
    assert "reads low" in tests.bias.words
    assert tests.signs.z == pytest.approx(expected["sign_test_statistic"], rel=1e-6)
    assert not tests.signs.uneven
    word, advice = standing.conclusion(found)
    assert word == "look"
    assert any("gauge zero" in line for line in advice)


def test_runs_are_seen_apart_from_a_bias(
    session: Session, structure: Structure, ines: Person
) -> None:
    deviations = [6.0, 7.0, 6.2, 7.1, 6.1, 7.2, 6.3, 6.9]
    gauge(session, structure, ines, HEADS, off(structure, HEADS, deviations))
    tests = standing.standing(session, structure.id or 0, NOW).tests
    assert tests is not None
    assert tests.signs.uneven
    assert tests.runs_about_mean
    assert tests.runs.changes == 7  # about nought there would be none, and "bent" a false word
    assert not tests.runs.bent


def test_a_rating_that_agrees_stands(session: Session, structure: Structure, ines: Person) -> None:
    deviations = [1.0, -1.1, 0.8, -0.9, 1.2, -1.0, 0.9, -0.9]
    gauge(session, structure, ines, HEADS, off(structure, HEADS, deviations))
    found = standing.standing(session, structure.id or 0, NOW)
    assert standing.conclusion(found) == ("stands", [])
    for point, deviation in zip(found.points, deviations, strict=True):
        assert point.one.deviation_pct == pytest.approx(deviation, abs=1e-9)
        assert point.one.word == "agrees"


def test_the_verdict_is_that_of_the_gauging_itself(
    session: Session, structure: Structure, ines: Person
) -> None:
    flows = off(structure, HEADS[:3], [0.5, 14.0, -7.0])
    gauge(session, structure, ines, HEADS[:3], flows)
    own = gauging_results(session, structure.site_id)
    found = standing.standing(session, structure.id or 0, NOW)
    assert [point.one for point in found.points] == own


def test_what_cannot_testify_is_shown_and_does_not_count(
    session: Session, structure: Structure, ines: Person
) -> None:
    [q] = rated(structure, [0.2])
    send(
        session,
        ines,
        a_gauging(structure, ines, 0.2, q),
        a_gauging(structure, ines, 0.2, q, at=BEGIN + timedelta(days=40), observed=FLOAT),
        a_gauging(structure, ines, 0.2, q, at=BEGIN + timedelta(days=50), head_end_m=0.24),
        a_gauging(structure, ines, -0.2, q, at=BEGIN + timedelta(days=60)),
        a_gauging(structure, ines, 0.2, q, at=BEGIN + timedelta(days=70), uncertainty_pct=0.0),
    )
    found = standing.standing(session, structure.id or 0, NOW)
    said = [point.why_not for point in found.points]
    assert said[0] == ""
    assert said[1] == "an indication only"
    assert said[2] == "the head moved while it was made"
    assert "head" in said[3]
    assert said[4] == "no discharge could be worked out"
    assert standing.conclusion(found)[0] == "unknown"
    rows = standing_tables.points_table(found).rows
    assert [row["counted"] for row in rows] == [True, False, False, False, False]
    charts = standing_charts.charts(found, log=True)
    assert [p["mark"] for p in charts["curve"]["points"]].count("not counted") == 2


def test_gaugings_made_under_another_rating(
    session: Session, structure: Structure, ines: Person
) -> None:
    flows = off(structure, HEADS[:4], [1.0, 2.0, -1.0, 0.5])
    gauge(session, structure, ines, HEADS[:4], flows)  # on days 10, 20, 30 and 40
    second = add_rating(session, structure, 25, dims={"size": "2ft"})
    first = standing.standing(session, structure.id or 0, NOW, rating_id=1)
    assert first.until == second.valid_from
    found = standing.standing(session, structure.id or 0, NOW)
    assert found.rating is not None
    assert found.rating.id == second.id
    assert (len(found.points), found.elsewhere) == (2, 2)
    every = standing.standing(session, structure.id or 0, NOW, every=True)
    assert (len(every.points), every.elsewhere) == (4, 0)
    assert {p.one.rating.rating_id for p in every.points} == {second.id}
    assert all((p.one.deviation_pct or 0.0) < -40 for p in every.points)  # twice the width


def test_days_and_strangers_are_refused(
    session: Session, structure: Structure, ines: Person
) -> None:
    with pytest.raises(BadInput, match="no such rating"):
        standing.standing(session, structure.id or 0, NOW, rating_id=999)
    with pytest.raises(BadInput, match="a day between"):
        standing.standing(session, structure.id or 0, NOW, first="soon")
    with pytest.raises(NotFound):
        standing.standing(session, 999, NOW)


def test_nothing_to_judge(session: Session, a_site: Callable[..., Structure]) -> None:
    bare = a_site("BARE", rated=False)
    found = standing.standing(session, bare.id or 0, NOW)
    assert found.rating is None
    assert standing.conclusion(found)[0] == "unknown"
    assert standing_charts.charts(found, log=False) == {"utc_offset_min": 720}
    assert rating_sides.side_by_side(session, found).rows == []
    rated_one = a_site("RATED")
    found = standing.standing(session, rated_one.id or 0, NOW)
    assert found.points == []
    assert standing_tables.season_grid(found).rows == []
    assert standing_charts.charts(found, log=True)["curve"]["points"] == []


@pytest.mark.parametrize(
    ("day", "latitude", "season", "year"),
    [
        ("2025-12-05", -43.0, "December to February (summer)", "2025/26"),
        ("2026-02-20", -43.0, "December to February (summer)", "2025/26"),
        ("2026-02-28", 51.0, "December to February (winter)", "2025/26"),
        ("2026-03-01", -43.0, "March to May (autumn)", "2026"),
        ("2026-08-31", None, "June to August", "2026"),
        ("2026-11-30", 51.0, "September to November (autumn)", "2026"),
    ],
)
def test_seasons(day: str, latitude: float | None, season: str, year: str) -> None:
    site = Site(code="X", name="X", utc_offset_min=720, latitude=latitude)
    at = datetime.fromisoformat(day).replace(tzinfo=UTC)
    assert standing.season_of(at, site) == (season, year)


def test_drift_by_season_in_a_grid(session: Session, structure: Structure, ines: Person) -> None:
    [q] = rated(structure, [0.2])
    days = {15: 1.0, 20: 2.0, 380: 5.0, 200: -1.0}  # July twice, July of the next year, January
    send(
        session,
        ines,
        *(
            a_gauging(structure, ines, 0.2, q * (1 + d / 100), at=BEGIN + timedelta(days=day))
            for day, d in days.items()
        ),
    )
    found = standing.standing(session, structure.id or 0, NOW)
    grid = standing_tables.season_grid(found)
    assert grid.years == ["2024", "2025"]
    means = {
        each.season: [part and round(part.mean_pct, 6) for part in years]
        for each, years in grid.rows
    }
    assert means == {"December to February": [-1.0, None], "June to August": [1.5, 5.0]}


POWER = {"family": "user_power", "dims": {"segments": "0.6,1.5,0,0.05,0.6"}}
DOUBLE = {"family": "user_power", "dims": {"segments": "1.2,1.5,0,0.05,0.6"}}


def test_volumes_by_two_ratings_and_a_gap(
    session: Session, a_site: Callable[..., Structure], ines: Person
) -> None:
    structure = a_site(**POWER)
    second = add_rating(session, structure, 5, **DOUBLE)
    days = [1, 11, 80, 85]  # the 69 days between are a gap
    send(
        session,
        ines,
        *(a_reading(structure, ines, 0.25, at=BEGIN + timedelta(days=d)) for d in days),
    )
    record = head_record(session, structure.id or 0)
    assert record is not None
    assert record.basis == "head readings"
    first = session.get(Rating, 1)
    assert first is not None
    found = effect(record, as_if_always(first), as_if_always(second))
    assert found.old_m3 == pytest.approx(0.6 * 0.125 * 15 * 86400)  # plain arithmetic
    assert found.new_m3 == pytest.approx(2 * found.old_m3)
    assert found.gap_s == pytest.approx(69 * 86400)
    dated = effect(record, [first], [first, second])  # day 1 by the first, the others by both
    assert dated.old_m3 == pytest.approx(found.old_m3)
    assert dated.new_m3 == pytest.approx(0.6 * 0.125 * 86400 * (10 * 1.5 + 5 * 2))


def test_volumes_come_from_the_logger_where_there_is_one(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    dims = {"segments": "1,1,0,0,5"}  # discharge is head, for round figures
    bench = a_bench(session, a_site, a_person, family="user_power", dims=dims)
    t = times(6)
    keep = (t <= JULY + 2 * DAY) | (t >= JULY + 4 * DAY)  # two days of gap
    bench.take(log_text(t[keep], np.where(t[keep] >= 0, 0.02, 0.0)))
    double = add_rating(session, bench.structure, 0, family="user_power",
                        dims={"segments": "2,1,0,0,5"})  # fmt: skip
    record = head_record(session, bench.id)
    first = session.get(Rating, 1)
    assert record is not None
    assert first is not None
    assert record.basis == "values of the logger series"
    found = effect(record, as_if_always(first), as_if_always(double))
    assert found.old_m3 == pytest.approx(1728.0 * 4)  # 20 L/s: 1728 m3 a day (arithmetic)
    assert found.change_pct == pytest.approx(100.0)
    assert found.gap_s == pytest.approx(2 * DAY)
    later = span_of("2026-01-01", "", 720)
    assert head_record(session, bench.id, later) is None  # the record ends before


def test_side_by_side(session: Session, a_site: Callable[..., Structure], ines: Person) -> None:
    structure = a_site(**POWER)
    add_rating(session, structure, 90, **DOUBLE)
    heads = [0.2, 0.25, 0.3]
    gauge(session, structure, ines, heads, [0.6 * h**1.5 for h in heads])
    readings = (a_reading(structure, ines, 0.25, at=BEGIN + timedelta(days=d)) for d in (1, 11))
    send(session, ines, *readings)
    found = standing.standing(session, structure.id or 0, NOW, rating_id=1)
    sides = rating_sides.side_by_side(session, found)
    assert sides.heads_m == [0.25]
    newer, older = sides.rows
    assert older.bias is not None
    assert older.bias.mean_pct == pytest.approx(0.0, abs=1e-9)
    assert newer.bias is not None
    assert newer.bias.mean_pct == pytest.approx(-50.0)
    assert newer.differences_pct == [pytest.approx(100.0)]
    assert newer.effect is not None
    assert newer.effect.change_pct == pytest.approx(100.0)
    rows = sides_table(found, sides).rows
    assert rows[0]["change_m3"] == pytest.approx(0.6 * 0.125 * 10 * 86400)


def test_a_rating_that_cannot_be_built_is_no_dead_end(
    session: Session, structure: Structure, ines: Person
) -> None:
    gauge(session, structure, ines, [0.2], rated(structure, [0.2]))
    broken = add_rating(session, structure, 400, family="gone", dims={})
    found = standing.standing(session, structure.id or 0, NOW, every=True)
    assert found.rating is not None
    assert found.rating.id == broken.id
    assert "gone" in found.points[0].why_not
    assert standing_charts.charts(found, log=False) == {"utc_offset_min": 720}
    assert len(rating_sides.side_by_side(session, found).rows) == 2
