"""The flow history in one view: what stands is a mark, what was withdrawn is none, no gap bridged.

The sums are those of the daily table (time-weighted trapezoid: common practice); a coverage of
k = 2 beside every discharge is of the GUM (JCGM 100:2008, 6.2), from memory.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from sqlmodel import Session, select

from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Structure
from app.services.corrections import layers
from app.services.days import daily
from app.services.record import charts, marks, table
from app.services.record.kinds import CORRECTION, GAUGING, LIMIT, RATING, READING, ZERO
from app.services.review import approval
from app.services.series import read as series_read
from app.services.takes import limits
from tests.builders.check_gaugings import a_gauging
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, calm, log_text, times
from tests.conftest import a_reading, send

AT = datetime.fromtimestamp(JULY, UTC)
FAR = 10 * 366 * DAY


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    """Give a record of forty days with two days missing."""
    made = a_bench(session, a_site, a_person)
    t = times(40)
    keep = (t <= JULY + 10 * DAY) | (t >= JULY + 12 * DAY)
    made.take(log_text(t[keep], calm(t)[keep]))
    return made


def kinds(bench: Bench, begin_s: int = JULY - FAR, end_s: int = JULY + FAR) -> list[str]:
    return [one.kind for one in marks.in_view(bench.session, bench.id, begin_s, end_s)]


def test_a_site_with_staff_readings_only_has_marks_and_no_line_between_days(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, ines = a_site(), a_person()
    days = [AT + timedelta(days=k) for k in range(5)]
    send(session, ines, *(a_reading(flume, ines, 0.2, at=at) for at in days))
    assert flume.id
    found = charts.several(session, [flume.id])
    one = found["series"][0]
    assert one["of"] == "staff readings"
    assert (found["from_s"], found["to_s"]) == (JULY, JULY + 4 * DAY)
    assert one["mean"][1::2] == [None] * 4, "a gap lies between any two"
    read = [mark for mark in found["marks"] if mark["kind"] == READING]
    assert [mark["from_s"] for mark in read] == [JULY + k * DAY for k in range(5)]
    assert all(mark["uncertainty_pct"] > 0 for mark in read)
    assert found["below"]["head"]["mean"][0] == read[0]["head_m"]
    assert not any(v is not None for v in found["below"]["tailwater"]["mean"])
    view = table.view(session, flume.id, None, None)
    assert view.summed
    assert view.summed.total is None, "single readings make no volume"
    assert view.summed.readings == 5


def test_one_reading_alone_is_shown_with_the_day_around_it(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, ines = a_site(), a_person()
    assert flume.id
    assert marks.span_on_record(session, flume.id) is None
    assert charts.several(session, [flume.id])["marks"] == []
    send(session, ines, a_reading(flume, ines, 0.2, at=AT))
    assert marks.span_on_record(session, flume.id) == (JULY - DAY // 2, JULY + DAY // 2)
    for edge in (-(2**40), 2**40):  # a view that no calendar holds is empty, not a fault
        assert charts.several(session, [flume.id], edge, edge)["marks"] == []
    whole = charts.several(session, [flume.id], -(2**40), 2**40)
    assert [one["kind"] for one in whole["marks"]] == [RATING, ZERO, READING]


def test_a_withdrawn_reading_and_a_withdrawn_correction_are_no_marks(bench: Bench) -> None:
    ines = bench.person
    right, wrong = (
        a_reading(bench.structure, ines, 0.2, at=AT + timedelta(days=k)) for k in (1, 2)
    )
    gone = wrong | {
        "id": "00000000-0000-4000-8000-000000000001",
        "kind": "withdrawal",
        "corrects": wrong["id"],
        "reason": "another flume",
        "body": {},
    }
    send(bench.session, ines, right, wrong, gone)
    forms = [
        bench.layer("offset", JULY + k * DAY, JULY + (k + 1) * DAY, amount="0.004") for k in (3, 5)
    ]
    held, taken = (layers.add_layer(bench.session, bench.id, form, ines, NOW) for form in forms)
    assert taken.id
    layers.withdraw_layer(bench.session, taken.id, "not so", ines, NOW)
    found = marks.in_view(bench.session, bench.id, JULY, JULY + 40 * DAY)
    assert [one.href for one in found if one.kind == READING] == [f"/readings/{right['id']}"]
    assert [one.from_s for one in found if one.kind == CORRECTION] == [held.from_s]
    drawn = charts.chart(bench.session, bench.id, JULY, JULY + 40 * DAY)["bands"]
    strips = [band for band in drawn if band["kind"] == "correction"]
    assert [(band["from_s"], band["to_s"]) for band in strips] == [(held.from_s, held.to_s)]
    assert strips[0]["href"] == f"/structures/{bench.id}/layers"


def test_a_dated_rating_is_a_line_and_of_two_that_begin_together_only_the_newer(
    bench: Bench,
) -> None:
    session, begins = bench.session, AT + timedelta(days=20)
    rows = [
        Rating(structure_id=bench.id, valid_from=begins, family="parshall", dims={"size": size})
        for size in ("1ft", "2ft")
    ]
    zero = GaugeZero(
        structure_id=bench.id,
        valid_from=begins,
        crest_rl_m=10.0,
        zero_rl_m=10.002,
        reason="knocked",
    )
    session.add_all([*rows, zero])
    session.commit()
    found = marks.in_view(session, bench.id, JULY, JULY + 40 * DAY)
    assert {(one.kind, one.href) for one in found if one.kind in (RATING, ZERO)} == {
        (RATING, f"/structures/{bench.id}/ratings/{rows[1].id}/card"),
        (ZERO, f"/structures/{bench.id}/gauge-zeros"),
    }
    assert all(one.from_s == JULY + 20 * DAY for one in found if one.kind in (RATING, ZERO))
    assert kinds(bench, JULY + 21 * DAY, JULY + 30 * DAY) == []


def test_a_gauging_is_a_mark_with_its_uncertainty_and_opens_its_page(bench: Bench) -> None:
    entry = a_gauging(bench.structure, bench.person, 0.2, 0.05, at=AT + timedelta(days=4))
    send(bench.session, bench.person, entry)
    (one,) = marks.in_view(bench.session, bench.id, JULY, JULY + 9 * DAY)
    assert (one.kind, one.href) == (GAUGING, f"/gaugings/{entry['id']}")
    assert one.discharge_m3s is not None
    assert one.uncertainty_pct
    assert "±" in one.words


@pytest.mark.parametrize(
    ("begins", "ends", "stretches"),
    [
        ("07-01", "06-30", [(date(2025, 7, 1), date(2027, 6, 30))]),
        (
            "10-01",
            "03-31",
            [
                (date(2025, 10, 1), date(2026, 3, 31)),
                (date(2026, 10, 1), date(2027, 3, 31)),
            ],
        ),
    ],
)
def test_a_limit_is_drawn_in_its_season_alone(
    bench: Bench, begins: str, ends: str, stretches: list[tuple[date, date]]
) -> None:
    form = {
        "kind": "rate", "amount": "0.13", "valid_from": "2025-07-01", "valid_to": "2027-06-30",
        "season_begins": begins, "season_ends": ends,
    }  # fmt: skip
    limits.add_limit(bench.session, bench.id, form, bench.person, NOW)
    limits.add_limit(
        bench.session,
        bench.id,
        {"kind": "season", "amount": "2400000", "valid_from": "2025-07-01"},
        bench.person,
        NOW,
    )
    found = marks.in_view(bench.session, bench.id, JULY - DAY, JULY + 900 * DAY)
    rate, season = sorted(
        (one for one in found if one.kind == LIMIT), key=lambda one: -len(one.parts)
    )
    first = (date(2025, 7, 1) - date(1970, 1, 1)).days

    def days(a_s: int, b_s: int) -> tuple[date, date]:
        count = [(s - JULY) // DAY + first for s in (a_s, b_s)]
        return (
            date(1970, 1, 1) + timedelta(days=count[0]),
            date(1970, 1, 1) + timedelta(days=count[1] - 1),
        )

    assert [days(a, b) for a, b in rate.parts] == stretches
    assert rate.amount_m3s == 0.13
    assert season.parts == [], "a volume is no line over flows"
    assert kinds(bench, JULY - 30 * DAY, JULY - 20 * DAY) == []


def test_a_month_says_who_approved_it_and_by_which_rating(bench: Bench) -> None:
    for revision, step in enumerate(("reviewed", "approved")):
        approval.move(
            bench.session, bench.id, "2025-08", step, bench.person, NOW, revision=revision
        )
    found = table.view(bench.session, bench.id, None, None).summed
    assert found
    august, july = found.months
    assert (august.month, august.state, august.by) == ("2025-08", "approved", bench.person.name)
    assert (july.month, july.state, july.by) == ("2025-07", "draft", "")
    assert len(august.ratings) == 1
    bands = charts.chart(bench.session, bench.id)["bands"]
    (state,) = [band for band in bands if band["kind"] == "state"]
    assert state["said"] == f"approved by {bench.person.name} on {NOW:%Y-%m-%d}"


def test_the_sum_is_that_of_the_days_the_view_touches(bench: Bench) -> None:
    view = table.view(bench.session, bench.id, JULY + 5 * DAY + 60, JULY + 9 * DAY)
    days = daily.arrays(bench.session, bench.id)
    assert view.summed
    assert view.summed.total
    assert (view.summed.first, view.summed.last) == (date(2025, 7, 6), date(2025, 7, 9))
    assert view.summed.total["volume_m3"] == pytest.approx(days.volume_m3[5:9].sum(), rel=1e-12)
    assert view.summed.total["volume_uncertainty_m3"] == pytest.approx(
        days.volume_uncertainty_m3[5:9].sum(), rel=1e-12
    )
    assert [row["day"] for row in view.beside.rows][-1] == date(2025, 7, 9)


def test_every_reading_of_a_close_view_has_its_uncertainty(bench: Bench) -> None:
    one = charts.chart(bench.session, bench.id, JULY, JULY + DAY)
    held = series_read.load(
        bench.session, bench.id, JULY, JULY + DAY, ("discharge_m3s", "uncertainty_pct")
    )
    assert one["full"]
    want = held["discharge_m3s"] * held["uncertainty_pct"] / 100.0
    assert np.allclose(one["spread"], want, rtol=1e-12)
    whole = charts.chart(bench.session, bench.id, columns=100)
    assert "spread" not in whole


def test_a_discharge_without_uncertainty_is_not_drawn(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, ines = a_site(), a_person()
    send(session, ines, a_reading(flume, ines, 0.2, at=AT))
    value = session.exec(select(FlowValue)).one()
    value.uncertainty_pct = None
    session.commit()
    assert flume.id
    found = charts.several(session, [flume.id])
    (mark,) = [one for one in found["marks"] if one["kind"] == READING]
    assert mark["discharge_m3s"] is None
    assert "L/s" not in mark["words"]
    assert [v for v in found["series"][0]["mean"] if v is not None] == []
    assert mark["head_m"] is not None


def test_of_many_readings_the_highest_keeps_its_mark(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, ines = a_site(), a_person()
    heads = np.full(1500, 0.2)
    heads[777] = 0.3
    entries = [
        a_reading(flume, ines, float(head), at=AT + timedelta(hours=3 * k))
        for k, head in enumerate(heads)
    ]
    for k in range(0, len(entries), 100):
        send(session, ines, *entries[k : k + 100])
    assert flume.id
    found = charts.several(session, [flume.id], columns=200)
    read = [one for one in found["marks"] if one["kind"] == READING]
    assert found["left_out"] == 1500 - len(read) > 0
    assert max(one["head_m"] for one in read) == pytest.approx(0.3)
    assert max(v for v in found["series"][0]["high"] if v is not None) == max(
        one["discharge_m3s"] for one in read
    )
