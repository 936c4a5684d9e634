"""Correction layers: worked rows, the fixed order, and that raw bytes never change."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.series.daily import daily_flow
from app.hydraulics.series.layers import (
    ORDER,
    How,
    Layer,
    Shape,
    added_m,
    apply_layers,
    clock_error_s,
)
from tests.hydraulics.series.test_daily import agrees, rows

T = np.arange(0, 200 * 900, 900, dtype=np.int64)
H = 0.2 + 0.05 * np.sin(T / 20_000.0)


def seconds(text):
    return int(np.datetime64(text.rstrip("Z"), "s").astype(np.int64))


@pytest.mark.parametrize("row", rows("drift"))
def test_drift_of_the_practice_table(row):
    g = row["given"]
    layer = Layer(
        Shape.RAMP, seconds(g["t0"]), seconds(g["t1"]), g["off0_mm"] / 1000, g["off1_mm"] / 1000
    )
    assert agrees(row, 1000.0 * added_m(np.array([seconds(g["t"])]), [layer])[0])


@pytest.mark.parametrize("row", [row for row in rows("clock") if row.id == "shift_to_subtract"])
def test_clock_drift_of_the_practice_table(row):
    g = row["given"]
    begin, end, at = (seconds(g[key]) for key in ("start_true", "end_logger", "t_logger"))
    layer = Layer(Shape.CLOCK_DRIFT, begin, end, 0.0, float(g["logger_fast_s"]))
    assert agrees(row, clock_error_s(np.array([at]), [layer])[0])
    corrected = apply_layers(np.array([begin, at, end]), np.ones(3), [layer])
    assert corrected.t_s.tolist() == [begin, at - 120, end - 240]


AMOUNT = st.floats(-0.05, 0.05)
WHEN = st.integers(-5, 205).map(lambda i: i * 900)


@st.composite
def a_layer(draw):
    shape = draw(st.sampled_from(ORDER))
    begin, end = sorted((draw(WHEN), draw(WHEN)))
    a, b = draw(AMOUNT), draw(AMOUNT)
    if shape in (Shape.CLOCK_SHIFT, Shape.CLOCK_DRIFT):
        a, b = a * 1e5, b * 1e5
    if shape is Shape.ESTIMATED and draw(st.booleans()):
        a = b = float("nan")
    return Layer(shape, begin, end, a, b, at_s=(begin + end) // 2)


@settings(max_examples=80, deadline=None)
@given(st.lists(a_layer(), max_size=6), st.randoms(use_true_random=False))
def test_layers_never_change_raw_nor_depend_on_the_order_written(layers, random):
    raw_t, raw_h = T.tobytes(), H.tobytes()
    locked_t, locked_h = T.copy(), H.copy()
    locked_t.flags.writeable = locked_h.flags.writeable = False
    once = apply_layers(locked_t, locked_h, layers)
    assert (locked_t.tobytes(), locked_h.tobytes()) == (raw_t, raw_h)
    assert np.all(np.diff(once.t_s) >= 0)
    real = once.source[once.source >= 0]
    assert sorted(real.tolist()) == list(range(T.size))  # no point is lost or doubled
    missing = np.isin(once.how, (How.MISSING, How.SPIKE, How.NO_RECORD))
    assert np.array_equal(np.isnan(once.value), missing)
    undone = apply_layers(locked_t, locked_h, [])
    assert (undone.t_s.tobytes(), undone.value.tobytes()) == (raw_t, raw_h)
    shapes = [layer.shape for layer in layers]
    if len(set(shapes)) == len(shapes):  # two of one shape keep the order a person gave them
        shuffled = list(layers)
        random.shuffle(shuffled)
        again = apply_layers(locked_t, locked_h, shuffled)
        assert again.t_s.tobytes() == once.t_s.tobytes()
        assert again.value == pytest.approx(once.value, abs=1e-12, nan_ok=True)


@settings(max_examples=40, deadline=None)
@given(st.lists(a_layer(), max_size=4), a_layer())
def test_taking_a_layer_away_gives_the_bytes_of_before(layers, extra):
    before = apply_layers(T, H, layers)
    apply_layers(T, H, [*layers, extra])
    after = apply_layers(T, H, layers)
    assert before.value.tobytes() == after.value.tobytes()
    assert before.how.tobytes() == after.how.tobytes()


def test_correcting_commutes_with_writing_out_and_reading_back():
    layers = [
        Layer(Shape.CLOCK_DRIFT, 0, 90_000, 0.0, 240.0),
        Layer(Shape.RAMP, 0, 90_000, 0.0, 0.006),
    ]
    text = [f"{int(t)},{float(h)!r}" for t, h in zip(T, H, strict=True)]
    back = [line.split(",") for line in text]
    t = np.array([int(a) for a, _ in back], dtype=np.int64)
    h = np.array([float(b) for _, b in back])
    once, again = apply_layers(T, H, layers), apply_layers(t, h, layers)
    assert once.t_s.tobytes() == again.t_s.tobytes()
    assert once.value.tobytes() == again.value.tobytes()


def test_neighbouring_ramps_do_not_count_twice_at_the_check():
    first = Layer(Shape.RAMP, 0, 9000, 0.0, 0.006)
    second = Layer(Shape.RAMP, 9000, 18_000, 0.001, 0.003)
    added = added_m(np.array([0, 4500, 9000, 13_500, 18_000]), [first, second])
    assert added == pytest.approx([0.0, 0.003, 0.001, 0.002, 0.0])


def test_step_at_a_time():
    layer = Layer(Shape.STEP, 0, 9000, 0.001, 0.010, at_s=4500)
    assert added_m(np.array([3600, 4500, 8100, 9000]), [layer]).tolist() == [0.001, 0.01, 0.01, 0.0]


def test_spike_is_set_aside_not_deleted():
    corrected = apply_layers(T, H, [Layer(Shape.SPIKE, 900, 900)])
    assert corrected.how[1] == How.SPIKE
    assert np.isnan(corrected.value[1])
    assert corrected.t_s.size == T.size


def test_no_record_between_two_readings_breaks_the_line():
    corrected = apply_layers(T, H, [Layer(Shape.NO_RECORD, 1000, 1100)])
    day = daily_flow(corrected.t_s, corrected.value, how=corrected.how, gap_s=3600)
    assert day.missing_s[0] == 900


def test_estimate_fills_a_gap_with_points_of_its_own():
    t, h = np.delete(T, slice(20, 60)), np.delete(H, slice(20, 60))
    layer = Layer(Shape.ESTIMATED, int(T[20]), int(T[59]), 0.2, 0.3)
    corrected = apply_layers(t, h, [layer])
    made = corrected.source == -1
    assert made.sum() == 40
    assert np.all(corrected.how[made] == How.ESTIMATED)
    assert corrected.value[made][[0, -1]].tolist() == [0.2, 0.3]
    day = daily_flow(corrected.t_s, corrected.value, how=corrected.how)
    assert day.missing_s[0] == 0
    assert day.estimated_s[0] == 41 * 900


def test_impossible_layers_are_refused():
    nan = float("nan")
    for wrong in (
        lambda: Layer(Shape.OFFSET, 10, 5),
        lambda: Layer(Shape.OFFSET, 0, 5, nan),
        lambda: Layer(Shape.STEP, 0, 5),
        lambda: Layer(Shape.STEP, 0, 5, at_s=6),
        lambda: Layer(Shape.ESTIMATED, 0, 5, 0.2, nan),
    ):
        with pytest.raises(BadInput) as refused:
            wrong()
        assert refused.value.remedy
    with pytest.raises(BadInput):
        apply_layers(T, H[1:], [])
    with pytest.raises(BadInput):
        apply_layers(T, H, [], step_s=0)
