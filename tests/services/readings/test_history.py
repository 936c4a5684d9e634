"""History: readings as they stand, days that say what they rest on, charts that keep peaks."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session

from app.errors import BadInput
from app.records.people import Person
from app.records.sites import Structure
from app.services.readings import charts as history_chart
from app.services.readings import history
from app.services.readings.history import History
from app.services.readings.list import span_of
from tests.conftest import BEGIN, a_reading, send

OPEN = span_of("", "", 720)


def shown(session: Session, structure: Structure, span: Any = OPEN) -> History:
    return history.history(session, structure.site_id, span, None)


def test_a_range_is_days_of_the_site(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    # 2026-07-01 00:30 at the site is the day before in UTC.
    for hour, minute in ((11, 30), (12, 30)):
        at = datetime(2026, 6, 30, hour, minute, tzinfo=UTC)
        send(session, ines, a_reading(structure, ines, at=at))
    assert len(shown(session, structure, span_of("2026-07-01", "2026-07-01", 720)).rows) == 1
    assert len(shown(session, structure, span_of("2026-06-30", "2026-07-01", 720)).rows) == 2


@pytest.mark.parametrize(
    ("first", "last"), [("July", ""), ("", "1066-10-14"), ("2026-07-02", "2026-07-01")]
)
def test_an_impossible_range_is_refused(first: str, last: str) -> None:
    with pytest.raises(BadInput):
        span_of(first, last, 720)


def test_a_correction_takes_the_place_of_its_reading(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    first = a_reading(structure, ines, 0.512)
    second = a_reading(structure, ines, 0.215, corrects=first["id"], reason="misread by 0.3 m")
    third = a_reading(structure, ines, 0.214, corrects=second["id"], reason="typed wrongly")
    send(session, ines, first, second, third)
    rows = shown(session, structure).rows
    assert [r["id"] for r in rows] == [third["id"]]
    assert not rows[0]["rival"]


def test_rival_corrections_both_stand_and_are_marked(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    first = a_reading(structure, ines, 0.512)
    one = a_reading(structure, ines, 0.215, corrects=first["id"], reason="misread")
    two = a_reading(structure, ines, 0.216, corrects=first["id"], reason="seen on the photo")
    send(session, ines, first, one, two)
    found = shown(session, structure)
    assert {r["id"] for r in found.rows} == {one["id"], two["id"]}
    assert found.rivals == 2


def test_a_correction_at_another_site_moves_the_reading(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    here, there, ines = a_site("HERE"), a_site("THERE"), a_person()
    wrong = a_reading(here, ines)
    right = a_reading(there, ines, corrects=wrong["id"], reason="wrong site opened", moves=True)
    send(session, ines, wrong, right)
    assert shown(session, here).rows == []
    assert [r["id"] for r in shown(session, there).rows] == [right["id"]]


def test_a_few_readings_are_no_continuous_day(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    at = datetime(2026, 7, 1, 0, 0, tzinfo=UTC)
    for hours, staff in ((0, 0.20), (3, 0.30)):
        send(session, ines, a_reading(structure, ines, staff, at=at + timedelta(hours=hours)))
    send(session, ines, a_reading(structure, ines, 0.25, tail_staff_m=0.40, at=at))
    (day,) = history.daily(shown(session, structure))
    assert (day["day"], day["readings"], day["determined"]) == ("2026-07-01", 3, 2)
    assert day["volume_m3"] is None
    assert "from 2 readings, not a continuous record" in day["basis"]
    assert "1 without a discharge left out" in day["basis"]
    low, high = 0.6909 * 0.20**1.522, 0.6909 * 0.30**1.522  # Bos 1989, sec. 7.4; from memory
    assert day["mean_m3s"] == pytest.approx((low + high) / 2, rel=1e-6)
    assert (day["low_m3s"], day["high_m3s"]) == (pytest.approx(low), pytest.approx(high))
    assert day["mean_uncertainty_pct"] > 3.0


def test_a_covered_day_has_a_volume(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    midnight = datetime(2026, 6, 30, 12, 0, tzinfo=UTC)  # of the site
    half_hours = [
        a_reading(structure, ines, 0.20, at=midnight + timedelta(minutes=30 * k)) for k in range(49)
    ]
    send(session, ines, *half_hours)
    day = history.daily(shown(session, structure))[0]
    flow = 0.6909 * 0.20**1.522  # Bos 1989, sec. 7.4; from memory
    assert day["volume_m3"] == pytest.approx(flow * 86_400, rel=1e-6)  # constant flow, one day
    assert day["covered_h"] == 24.0
    assert "mean over 24.0 h covered" in day["basis"]


def test_groups_by_flow_word_keep_each_its_uncertainty(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    send(
        session,
        ines,
        a_reading(structure, ines, 0.2),
        a_reading(structure, ines, 0.3, tail_state="clearly_free"),
        a_reading(structure, ines, 0.3, tail_staff_m=0.26),
        a_reading(structure, ines, 0.3, tail_staff_m=0.34),
    )
    groups = {g["flow"]: g for g in history.by_flow_word(shown(session, structure).rows)}
    assert set(groups) == {"free", "assumed free", "submerged, corrected", "not rated"}
    assert (
        groups["submerged, corrected"]["low_uncertainty_pct"]
        > groups["free"]["low_uncertainty_pct"]
    )
    assert groups["not rated"]["low_m3s"] is None


def a_history(structure: Structure, count: int, flows: dict[int, float | None]) -> History:
    """Build a long history of computed rows, without a database behind it."""
    rows = [
        {
            "id": f"reading-{k}",
            "observed_at": BEGIN + timedelta(hours=k),
            "head_m": 0.2,
            "discharge_m3s": flows.get(k, 0.05 + 0.001 * (k % 7)),
            "uncertainty_pct": 4.0,
            "flow_code": 3 if flows.get(k, 1.0) is None else 1,
            "flow": "assumed free",
            "flags": ["settling"] if k == 4321 else [],
        }
        for k in range(count)
    ]
    from app.records.sites import Site

    return History(Site(code="T", name="T", utc_offset_min=720), [structure], structure, OPEN, rows)


def test_no_peak_disappears_from_a_thinned_chart(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    chart = history_chart.chart(a_history(a_site(), 9000, {1234: 7.5, 5678: 0.001, 7777: None}))
    marks = chart["marks"]
    assert not marks["all"]
    assert len(marks["t"]) <= 2 * history_chart.POINTS
    assert max(f for f in marks["discharge_m3s"] if f is not None) == 7.5
    assert min(f for f in marks["discharge_m3s"] if f is not None) == 0.001
    assert {"reading-4321", "reading-7777"} <= set(marks["id"])  # flagged; not determined
    assert max(v for v in chart["discharge"]["high"] if v is not None) == 7.5
    assert marks["t"] == sorted(marks["t"])


def test_a_gap_stays_open_in_the_chart(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, ines = a_site(), a_person()
    for days in (30, 60):
        send(session, ines, a_reading(structure, ines, at=BEGIN + timedelta(days=days)))
    columns = history_chart.chart(shown(session, structure))["discharge"]
    assert columns["mean"][1] is None
    assert len(columns["t"]) == 3


def test_an_empty_history_charts_nothing(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    found = shown(session, a_site())
    assert history.daily(found) == []
    assert history_chart.chart(found)["marks"]["t"] == []
    assert history.newest_first(found, 9) == ([], 1)
