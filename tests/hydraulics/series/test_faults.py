"""Planted faults are all found, and the clean record raises hardly a false alarm.

The records are invented from fixed seeds: a race with gate moves, a daily cycle, rain events
that the pond smooths, 1 mm resolution and 1 mm of scatter.
"""

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.base.findings import Fault, FaultLimits
from app.hydraulics.series.faults import find_faults, pond_rate_m_per_s

STEP = 900
POND = pond_rate_m_per_s(0.30, 900.0)  # 0.30 m3/s into 900 m2
LIMITS = FaultLimits(highest_m=0.9, largest_change_m_per_s=POND)


def clean(seed, days=120, scatter_m=0.001):
    random = np.random.default_rng(seed)
    t = 1_790_000_000 // STEP * STEP + np.arange(days * 96, dtype=np.int64) * STEP
    level = np.full(t.size, 0.20)
    gates = np.sort(random.choice(np.arange(200, t.size - 200, 97), size=days // 6, replace=False))
    for at in gates:
        level[at:] = random.uniform(0.08, 0.40)
    smooth = level.copy()
    for i in range(1, t.size):  # the pond answers over about 20 min
        smooth[i] = smooth[i - 1] + (level[i] - smooth[i - 1]) * 0.55
    smooth += 0.006 * np.sin(2 * np.pi * (t % 86_400) / 86_400)
    for at in random.choice(t.size - 400, size=days // 15, replace=False):
        x = np.arange(t.size - at) / 12.0
        smooth[at:] += random.uniform(0.05, 0.2) * x * np.exp(1.0 - x)
    head = np.round(smooth + random.normal(0.0, scatter_m, t.size), 3)
    return t, head, t[gates], gates


def free_spot(t, gates, random, length, margin=60):
    """Return an index with no gate move within `margin` readings of it."""
    while True:
        at = int(random.integers(300, t.size - length - 300))
        if not gates.size or np.min(np.abs(gates - at)) > margin + length:
            return at


def covers(found, kind, begin, end):
    kinds = kind if isinstance(kind, tuple) else (kind,)
    return any(f.kind in kinds and f.from_s <= end and f.to_s >= begin for f in found)


@pytest.mark.parametrize("seed", range(6))
def test_clean_records_alarm_on_at_most_one_per_cent_of_points(seed):
    t, head, gate_s, _ = clean(seed)
    found = find_faults(t, head, limits=LIMITS, gate_changes_s=gate_s.tolist())
    alarmed = np.zeros(t.size, dtype=bool)
    for f in found:
        alarmed |= (t >= f.from_s) & (t <= f.to_s)
    assert alarmed.mean() <= 0.01, [f.words for f in found]


@pytest.mark.parametrize("seed", range(8))
def test_every_planted_fault_is_found_and_little_else(seed):
    t, head, gate_s, gates = clean(seed)
    random = np.random.default_rng(1000 + seed)
    keep = np.ones(t.size, dtype=bool)
    planted = []
    spots: list[tuple[int, int]] = []

    def spot(length):
        while True:
            at = free_spot(t, gates, random, length)
            if all(at > b + 150 or at + length < a - 150 for a, b in spots):
                spots.append((at, at + length))
                return at

    at = spot(2)
    head[at:] += 0.03 if head[at + 1] < 0.3 else -0.03
    planted.append((Fault.STEP, at - 1, at))
    at = spot(1)
    head[at] += 0.35
    planted.append((Fault.SPIKE, at, at))
    at = spot(2)
    head[at : at + 2] -= 0.12
    planted.append((Fault.SPIKE, at, at + 1))
    at = spot(1)
    head[at] = 1.4
    planted.append((Fault.RANGE, at, at))
    at = spot(130)
    head[at : at + 130] = head[at]
    planted.append((Fault.FLAT, at, at + 129))
    at = spot(320)
    head[at : at + 320] = head[at]
    planted.append((Fault.STUCK, at, at + 319))
    at = spot(60)
    head[at : at + 60] = np.round(head[at : at + 60] + random.normal(0, 0.012, 60), 3)
    planted.append((Fault.NOISE, at, at + 59))
    at = spot(30)
    head[at : at + 30] = -0.02 + np.round(random.normal(0, 0.001, 30), 3)
    planted.append((Fault.NEGATIVE, at, at + 29))
    at = spot(20)
    keep[at : at + 20] = False
    planted.append((Fault.GAP, at, at + 19))
    at = spot(40)
    head[at : at + 40] += 0.45  # far faster than the pond can fill
    planted.append((Fault.RATE, at - 1, at))
    shifted = t.copy()
    late = t.size - 150
    shifted[late:] += 240
    planted.append((Fault.CLOCK, late - 1, late))

    found = find_faults(shifted[keep], head[keep], limits=LIMITS, gate_changes_s=gate_s.tolist())
    for kind, a, b in planted:
        kinds = (kind, Fault.STUCK) if kind is Fault.FLAT else kind
        assert covers(found, kinds, int(shifted[a]), int(shifted[b])), (kind, seed)
    touched = np.zeros(t.size, dtype=bool)
    for _, a, b in planted:
        touched[max(a - 8, 0) : b + 9] = True
    rate_end = planted[-2][1] + 40
    touched[rate_end - 8 : rate_end + 9] = True  # the planted block also ends
    alarmed = np.zeros(t.size, dtype=bool)
    for f in found:
        alarmed |= (shifted >= f.from_s) & (shifted <= f.to_s)
    assert (alarmed & ~touched & keep).sum() <= 0.01 * (~touched & keep).sum()
    for f in found:
        assert f.words
        assert np.isfinite(f.size)


def test_a_step_at_a_gate_move_is_no_finding_and_without_one_it_is():
    t = np.arange(0, 100 * STEP, STEP, dtype=np.int64)
    head = np.where(t < 50 * STEP, 0.2, 0.25)
    assert not [f for f in find_faults(t, head, gate_changes_s=[50 * STEP]) if f.kind == Fault.STEP]
    (step,) = [f for f in find_faults(t, head) if f.kind == Fault.STEP]
    assert step.size == pytest.approx(0.05)
    assert (step.from_s, step.to_s) == (49 * STEP, 50 * STEP)


def test_flat_while_a_gate_moves_is_a_stuck_sensor_and_dry_is_nothing():
    t = np.arange(0, 120 * STEP, STEP, dtype=np.int64)
    wet, dry = np.full(t.size, 0.2), np.zeros(t.size)
    assert [f.kind for f in find_faults(t, wet)] == [Fault.FLAT]
    assert [f.kind for f in find_faults(t, wet, gate_changes_s=[60 * STEP])] == [Fault.STUCK]
    assert find_faults(t, dry) == []


def test_clock_going_back_is_found_in_file_order():
    t = np.arange(0, 100 * STEP, STEP, dtype=np.int64)
    t[50:] -= 3600
    (back,) = [f for f in find_faults(t, np.linspace(0.2, 0.21, 100)) if f.kind == Fault.CLOCK]
    assert back.size == -2700


def test_missing_values_and_short_series_are_no_trouble():
    assert find_faults(np.empty(0, dtype=np.int64), np.empty(0)) == []
    for size in range(1, 16):
        t = np.arange(size, dtype=np.int64) * STEP
        assert find_faults(t, np.full(size, np.nan)) == []
        find_faults(t, np.linspace(0.1, 0.2, size))


def test_unknown_pond_is_refused():
    with pytest.raises(BadInput, match="pond area"):
        pond_rate_m_per_s(0.3, 0.0)
    with pytest.raises(BadInput):
        find_faults(np.zeros(3, dtype=np.int64), np.zeros(2))
