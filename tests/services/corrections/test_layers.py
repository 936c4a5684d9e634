"""Correction layers through the service: order, preview, taking back, and raw data untouched.

Drift between two checks, 0 to 6 mm over 60 days = 3.0 mm at day 30: derived (linear in time).
"""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import DatabaseError
from sqlmodel import Session, select

from app.errors import BadInput, NotFound
from app.hydraulics.series.layers import apply_layers
from app.records.people import Person
from app.records.sensors import CorrectionLayer, LoggerBlock
from app.records.sites import Structure
from app.services.corrections import layers as corrections
from app.services.corrections import preview as layer_preview
from app.services.record import export as record_exports
from app.services.series import raw as raw_series
from app.services.series import read as series_read
from app.services.series.flow import inputs_of
from app.services.series.layering import layer_of
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, calm, log_text, times
from tests.services.loggers.test_take_in import derived

DAYS = 70


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    made = a_bench(session, a_site, a_person)
    t = times(DAYS)
    made.take(log_text(t, calm(t)))
    return made


def heads(bench: Bench) -> tuple[np.ndarray, np.ndarray]:
    found = series_read.load(bench.session, bench.id, names=("head_m",))
    return found["t_s"], found["head_m"]


def add(bench: Bench, form: dict[str, str]) -> CorrectionLayer:
    row = corrections.add_layer(bench.session, bench.id, form, bench.person, NOW)
    bench.session.commit()
    return row


def test_drift_of_six_millimetres_is_three_half_way(bench: Bench) -> None:
    t, before = heads(bench)
    add(bench, bench.layer("ramp", JULY, JULY + 60 * DAY, amount="0", amount_end="0.006"))
    _, after = heads(bench)
    middle = int(np.searchsorted(t, JULY + 30 * DAY))
    assert after[middle] - before[middle] == pytest.approx(0.003, abs=1e-12)
    assert after[-1] == before[-1]


def test_taking_a_layer_back_gives_the_same_bytes(bench: Bench) -> None:
    before = derived(bench.session)
    raw = {b.from_s: (b.times, b.values) for b in bench.session.exec(select(LoggerBlock))}
    rows = [
        add(bench, form)
        for form in (
            bench.layer("offset", JULY + DAY, JULY + 40 * DAY, amount="0.004"),
            bench.layer("clock drift", JULY, JULY + 50 * DAY, amount="0", amount_end="300"),
            bench.layer("spike", JULY + 5 * DAY, JULY + 6 * DAY),
            bench.layer(
                "estimated", JULY + 20 * DAY, JULY + 22 * DAY, amount="0.2", amount_end="0.22"
            ),
            bench.layer("no record", JULY + 30 * DAY, JULY + 31 * DAY),
        )
    ]
    assert derived(bench.session) != before
    for row in rows[::-1]:
        corrections.withdraw_layer(bench.session, row.id or 0, "test", bench.person, NOW)
    bench.session.commit()
    assert derived(bench.session) == before
    after = {b.from_s: (b.times, b.values) for b in bench.session.exec(select(LoggerBlock))}
    assert after == raw
    assert corrections.layers(bench.session, bench.id) == []
    gone = corrections.layers(bench.session, bench.id, with_withdrawn=True)
    assert [line.withdraw_reason for line in gone] == ["test"] * len(rows)


SHAPES = ("offset", "ramp", "spike", "no record", "clock shift")


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_corrections_commute_with_export(bench: Bench, data: st.DataObject) -> None:
    """Exporting the corrected series is correcting the exported raw series."""
    for line in corrections.layers(bench.session, bench.id):
        corrections.withdraw_layer(bench.session, line.id, "next example", bench.person, NOW)
    for _ in range(data.draw(st.integers(1, 4))):
        shape = data.draw(st.sampled_from(SHAPES))
        a = JULY + data.draw(st.integers(0, DAYS - 2)) * DAY + data.draw(st.integers(0, DAY))
        b = a + data.draw(st.integers(1, 20 * DAY))
        size = data.draw(st.integers(-300, 300))
        amount = str(size) if shape.startswith("clock") else f"{size / 1e4:.4f}"
        add(bench, bench.layer(shape, a, b, amount=amount, amount_end="0.001"))
    raw = raw_series.raw_series(bench.session, bench.id)
    layers = [layer_of(row) for row in inputs_of(bench.session, bench.id).layers]
    expected = apply_layers(raw.t_s, raw.value_m, layers)
    rows = list(record_exports.series_rows(bench.session, bench.id))
    assert [int(r["time_utc"].timestamp()) for r in rows] == expected.t_s.tolist()
    got = np.array([r["head_m"] for r in rows], dtype=float)
    assert np.array_equal(got, expected.value, equal_nan=True)


def test_layers_are_listed_in_the_order_they_are_applied(bench: Bench) -> None:
    add(bench, bench.layer("no record", JULY, JULY + DAY))
    add(bench, bench.layer("ramp", JULY, JULY + DAY, amount="0", amount_end="0.001"))
    add(bench, bench.layer("clock shift", JULY, JULY + DAY, amount="60"))
    found = corrections.layers(bench.session, bench.id)
    assert [(line.place, line.shape) for line in found] == [
        (1, "clock shift"),
        (2, "ramp"),
        (3, "no record"),
    ]
    assert list(corrections.SHAPES) == [
        "clock shift", "clock drift", "offset", "ramp", "step", "spike", "estimated", "no record"
    ]  # fmt: skip


def test_an_estimate_is_kept_apart_and_less_certain(bench: Bench) -> None:
    a, b = JULY + 10 * DAY, JULY + 12 * DAY
    t, _ = heads(bench)
    before = series_read.load(bench.session, bench.id, names=("uncertainty_pct",))
    add(bench, bench.layer("estimated", a, b, amount="0.2", amount_end="0.2"))
    found = series_read.load(bench.session, bench.id, names=("how", "uncertainty_pct"))
    inside = (t >= a) & (t <= b)
    assert set(found["how"][inside].tolist()) == {1}
    assert np.all(found["uncertainty_pct"][inside] > 2 * before["uncertainty_pct"][inside])


def test_a_preview_writes_nothing_and_shows_both_lines(bench: Bench) -> None:
    before = derived(bench.session)
    form = bench.layer("offset", JULY + DAY, JULY + 3 * DAY, amount="0.010")
    look = layer_preview.preview_layer(bench.session, bench.id, form, bench.person, NOW)
    assert look.largest_change_m == pytest.approx(0.010)
    assert look.mean_change_m == pytest.approx(0.010, rel=0.01)  # the last reading is excluded
    assert look.volume_after_m3 > look.volume_before_m3
    assert look.blocked is None
    assert len(look.before["t"]) == len(look.after["t"])
    assert derived(bench.session) == before


@pytest.mark.parametrize(
    ("form", "field"),
    [
        ({"shape": "bend"}, "shape"),
        ({"shape": "ramp", "amount": "0.001", "amount_end": ""}, "amount_end"),
        ({"shape": "offset", "amount": "x"}, "amount"),
        ({"shape": "offset", "amount": "0.01", "reason": ""}, "reason"),
        ({"shape": "step", "amount": "0", "amount_end": "0.01", "at": "2020-01-01"}, "at"),
        ({"shape": "estimated", "amount": "0.2", "amount_end": ""}, "amount_end"),
        ({"shape": "offset", "amount": "0.01", "quantity": "rain"}, "quantity"),
    ],
)
def test_what_cannot_be_is_refused_by_field(bench: Bench, form: dict[str, str], field: str) -> None:
    whole = {**bench.layer("offset", JULY, JULY + DAY), **form}
    with pytest.raises(BadInput) as refused:
        corrections.add_layer(bench.session, bench.id, whole, bench.person, NOW)
    assert refused.value.field == field
    assert refused.value.remedy


def test_a_period_that_ends_before_it_begins_is_refused(bench: Bench) -> None:
    with pytest.raises(BadInput, match="Swap"):
        add(bench, bench.layer("offset", JULY + DAY, JULY, amount="0.01"))


def test_layers_are_append_only(bench: Bench) -> None:
    row = add(bench, bench.layer("offset", JULY, JULY + DAY, amount="0.01"))
    row.amount = 0.02
    bench.session.add(row)
    with pytest.raises(DatabaseError, match="append-only"):
        bench.session.flush()
    bench.session.rollback()
    with pytest.raises(NotFound):
        corrections.withdraw_layer(bench.session, 999, "x", bench.person, NOW)


@pytest.mark.parametrize(
    ("unit", "amount", "spread"),
    [
        ("mm", "4", "2"),
        ("cm", "0.4", "0.2"),
        ("m", "0.004", "0.002"),
        ("ft", "0.0131234", "0.00656"),
    ],
)
def test_amounts_are_typed_in_a_head_unit_and_kept_in_metres(
    bench: Bench, unit: str, amount: str, spread: str
) -> None:
    t = times(3)
    bench.take(log_text(t, calm(t)))
    form = bench.layer(
        "offset", JULY + DAY, JULY + 2 * DAY, amount=amount, unit=unit, uncertainty=spread
    )
    row = corrections.row_of(bench.session, bench.id, form, bench.person, NOW)
    assert row.amount == pytest.approx(0.004, abs=1e-7)
    assert row.uncertainty_m == pytest.approx(0.002, abs=1e-6)
    said = layer_preview.preview_layer(bench.session, bench.id, form, bench.person, NOW).words
    assert said.startswith("4 mm added")  # the site reads heads in mm
    clock = bench.layer("clock_shift".replace("_", " "), JULY, JULY + DAY, amount="90", unit=unit)
    assert corrections.row_of(bench.session, bench.id, clock, bench.person, NOW).amount == 90.0


def test_a_head_unit_nobody_knows_is_refused(bench: Bench) -> None:
    form = bench.layer("offset", JULY, JULY + DAY, amount="4", unit="furlong")
    with pytest.raises(BadInput) as refused:
        corrections.row_of(bench.session, bench.id, form, bench.person, NOW)
    assert refused.value.field == "unit"
    too_far = bench.layer("offset", JULY, JULY + DAY, amount="5001", unit="mm")
    with pytest.raises(BadInput, match="mm"):
        corrections.row_of(bench.session, bench.id, too_far, bench.person, NOW)
