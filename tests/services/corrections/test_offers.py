"""Staff against sensor at the visits, and the corrections that are offered from it.

Acceptance bands: 2 mm, 5 mm or 3 % of flow, 20 mm (common practice, editable defaults).
"""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime

import numpy as np
import pytest
from sqlmodel import Session

from app.errors import BadInput
from app.records.people import Person
from app.records.sites import Structure
from app.services.corrections import layers as corrections
from app.services.corrections import offers as sensor_offers
from app.services.corrections import visits as sensor_visits
from app.services.review import answers
from app.services.review import queue as review_queue
from app.services.settings import change
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, log_text, times
from tests.conftest import a_reading, iso, send

HEAD = 0.2
VISITS = [JULY + k * 10 * DAY + 36_000 for k in range(1, 6)]


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    return a_bench(session, a_site, a_person)


def at(t_s: int) -> datetime:
    return datetime.fromtimestamp(t_s, UTC)


def visit(bench: Bench, t_s: int, found_m: float, left_m: float, **body: object) -> str:
    """Send a visit with an as-found and an as-left reading."""
    visit_id = str(uuid.uuid4())
    head = {
        "id": visit_id, "kind": "visit", "site_id": bench.site_id, "structure_id": None,
        "visit_id": None, "observed_at": iso(at(t_s)), "utc_offset_min": 720,
        "by": bench.person.id, "saved_at": iso(at(t_s)), "corrects": None, "reason": None,
        "body": {"purpose": "routine"},
    }  # fmt: skip
    extra = {f"body_{key}": value for key, value in body.items()}
    readings = [
        a_reading(
            bench.structure,
            bench.person,
            staff,
            at=at(t_s + minutes * 60),
            visit_id=visit_id,
            body_occasion=occasion,
            **(extra if occasion == "as_found" else {}),
        )
        for occasion, minutes, staff in (("as_found", 5, found_m), ("as_left", 35, left_m))
    ]
    receipts = send(bench.session, bench.person, head, *readings)
    assert all(r.state == "stored" for r in receipts), receipts
    return visit_id


def steady(bench: Bench, error: Callable[[np.ndarray], np.ndarray]) -> None:
    """Import a record of a steady head with a sensor error over time."""
    t = times(60)
    noise = np.random.default_rng(2).normal(0.0, 1e-4, t.size)
    bench.take(log_text(t, np.round(HEAD + error(t) + noise, 5)))


def test_agreement_offers_nothing(bench: Bench) -> None:
    steady(bench, lambda t: np.zeros(t.size))
    for t_s in VISITS:
        visit(bench, t_s, HEAD, HEAD)
    lines = sensor_visits.checks(bench.session, bench.id)
    assert len(lines) == 10
    assert all(abs(line.offset_m) < 5e-4 for line in lines)
    assert [o.shape for o in sensor_offers.offers(bench.session, bench.id)] == ["none"] * 4
    assert review_queue.counts(bench.session) == {}


def test_drift_is_offered_as_a_ramp_and_accepting_it_puts_the_record_right(bench: Bench) -> None:
    a, b = VISITS[1], VISITS[2] + 300
    steady(bench, lambda t: np.where((t > a) & (t <= b), -0.006 * (t - a) / (b - a), 0.0))
    for t_s in VISITS:
        visit(bench, t_s, HEAD, HEAD)
    found = [o for o in sensor_offers.offers(bench.session, bench.id) if o.form]
    assert [(o.shape, o.state) for o in found] == [("ramp", "open")]
    assert found[0].amount_end_m == pytest.approx(0.006, abs=5e-4)
    item = next(i for i in review_queue.queue(bench.session) if i.kind == "offer")
    answers.decide(
        bench.session,
        item.key,
        item.revision,
        answers.Act(action="accept", text="", person=bench.person, now=NOW),
    )
    bench.session.commit()
    lines = sensor_visits.checks(bench.session, bench.id)
    assert all(abs(line.left_offset_m or 0.0) < 7e-4 for line in lines)
    assert [o.state for o in sensor_offers.offers(bench.session, bench.id) if o.form] == [
        "accepted"
    ]
    (layer,) = corrections.layers(bench.session, bench.id)
    with pytest.raises(BadInput, match="accepted already"):
        corrections.add_layer(bench.session, bench.id, found[0].form or {}, bench.person, NOW)
    corrections.withdraw_layer(bench.session, layer.id, "another shape", bench.person, NOW)
    assert any(i.kind == "offer" for i in review_queue.queue(bench.session))


def test_a_knocked_sensor_is_offered_as_a_step_where_the_record_steps(bench: Bench) -> None:
    at_s = VISITS[1] + 4 * DAY - VISITS[1] % 900
    steady(bench, lambda t: np.where((t >= at_s) & (t <= VISITS[2] + 300), -0.018, 0.0))
    for t_s in VISITS:
        visit(bench, t_s, HEAD, HEAD)
    (offer,) = [o for o in sensor_offers.offers(bench.session, bench.id) if o.form]
    assert offer.shape == "step"
    assert offer.form is not None
    assert offer.amount_end_m == pytest.approx(0.018, abs=1e-3)
    assert "ramp" in [shape for shape, _ in offer.alternatives]


def test_a_constant_offset_is_offered_as_an_offset(bench: Bench) -> None:
    steady(bench, lambda t: np.full(t.size, -0.0035))
    for t_s in VISITS[:2]:
        visit(bench, t_s, HEAD, HEAD)
    (offer,) = sensor_offers.offers(bench.session, bench.id)
    assert (offer.shape, offer.band) == ("offset", "correct")


def test_cleaning_that_lowers_the_water_is_offered_as_weed(bench: Bench) -> None:
    weed = 0.012
    clean = VISITS[1] + 1200
    grown = lambda t: np.clip((t - VISITS[0]) / (clean - VISITS[0]), 0, 1) * weed  # noqa: E731
    steady(bench, lambda t: np.where(t <= clean, grown(t), 0.0))
    visit(bench, VISITS[0], HEAD, HEAD)
    visit(bench, VISITS[1], HEAD + weed, HEAD, conditions=["weed"])
    found = [o for o in sensor_offers.offers(bench.session, bench.id) if o.kind == "weed"]
    assert len(found) == 1
    assert found[0].amount_end_m == pytest.approx(-weed, abs=1e-9)


def test_what_the_crew_read_off_the_logger_counts_before_the_series(bench: Bench) -> None:
    steady(bench, lambda t: np.zeros(t.size))
    visit(bench, VISITS[0], HEAD, HEAD, sensor_head_m=HEAD - 0.007)
    lines = sensor_visits.checks(bench.session, bench.id)
    assert lines[0].source == "typed"
    assert lines[0].offset_m == pytest.approx(0.007)
    assert lines[0].band == "find the cause"


def test_a_reading_that_differs_is_work_until_it_is_settled(bench: Bench) -> None:
    steady(bench, lambda t: np.zeros(t.size))
    visit(bench, VISITS[0], HEAD + 0.008, HEAD)
    (item,) = [i for i in review_queue.queue(bench.session) if i.kind == "differs"]
    done = answers.decide(
        bench.session,
        item.key,
        item.revision,
        answers.Act(action="accept", text="staff was misread", person=bench.person, now=NOW),
    )
    assert done.state == "accepted"
    assert [i for i in review_queue.queue(bench.session) if i.kind == "differs"] == []


def test_the_office_sets_its_own_bands(bench: Bench) -> None:
    steady(bench, lambda t: np.full(t.size, -0.004))
    for t_s in VISITS[:2]:
        visit(bench, t_s, HEAD, HEAD)
    wide = [(0.0, 0.0), (0.010, None), (0.020, None), (0.030, None)]
    change.set_bands(bench.session, wide, bench.person)
    assert [o.shape for o in sensor_offers.offers(bench.session, bench.id)] == ["none"]
    chart = sensor_visits.check_chart(bench.session, bench.id)
    assert [b["over_mm"] for b in chart["bands"]] == pytest.approx([0.0, 10.0, 20.0, 30.0])
    assert {b["provenance"] for b in chart["bands"]} == {"common practice"}
    with pytest.raises(BadInput, match="rise"):
        change.set_bands(bench.session, [*wide[:2], (0.005, None), (0.03, None)], bench.person)
