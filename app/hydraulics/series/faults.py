"""Automatic checks of a head series: what a person should look at, never a silent repair.

Every limit is a default from common practice and may be changed a site. Spikes are found first
and left out of the later checks, so one bad echo is one finding. Nothing here changes a value.

Public functions
----------------
find_faults(t_s, head_m, *, limits=FaultLimits(), gate_changes_s=()) -> list[Finding]
pond_rate_m_per_s(largest_rate_m3s, pond_area_m2) -> float
"""

from collections.abc import Sequence

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from app.errors import BadInput
from app.hydraulics.base.arrays import Bools, Floats, Ints
from app.hydraulics.base.findings import Fault, FaultLimits, Finding
from app.hydraulics.series.stretches import gap_rule_s, usual_step_s


def pond_rate_m_per_s(largest_rate_m3s: float, pond_area_m2: float) -> float:
    """Return the fastest a pond can rise: all the flow the structure sees over its area.

    Raises
    ------
    BadInput
        If rate or area is not above zero.

    References
    ----------
    Continuity of a level pond: A dh/dt = inflow - outflow, at most the largest rate.
    """
    for field, value in (("largest rate", largest_rate_m3s), ("pond area", pond_area_m2)):
        if not (np.isfinite(value) and value > 0.0):
            raise BadInput(field, value, "is above zero", "Enter it, or leave the check out.")
    return largest_rate_m3s / pond_area_m2


def find_faults(
    t_s: Ints,
    head_m: Floats,
    *,
    limits: FaultLimits | None = None,
    gate_changes_s: Sequence[int] = (),
    steps_by_gates: bool = False,
) -> list[Finding]:
    """Return the findings in order of time.

    Parameters
    ----------
    t_s : int64 array, shape (n,), epoch seconds, in the order of the file
    head_m : float64 array, shape (n,), metres; NaN is missing
    gate_changes_s : sequence of int
        Times at which a gate was moved: a step near one of them is no finding.
    steps_by_gates : bool
        Find such steps all the same, for a caller that leaves them out when it shows them.

    Raises
    ------
    BadInput
        If the arrays differ in length.
    """
    if t_s.ndim != 1 or t_s.shape != head_m.shape:
        raise BadInput("head", head_m.shape, "one head for each time", "Give arrays of one length.")
    use = limits or FaultLimits()
    found = _backwards(t_s)
    order = np.argsort(t_s, kind="stable")
    present = order[np.isfinite(head_m[order])]
    t, h = t_s[present], head_m[present]
    if t.size:
        gates = np.sort(np.asarray(gate_changes_s, dtype=np.int64))
        found += _gaps(t, use)
        found += _phase(t)
        found += _range(t, h, use)
        found += _flat(t, h, gates, use)
        spikes, off = _spikes(h, use)
        found += _runs(t, spikes, Fault.SPIKE, off, "stands {:.0f} mm off its neighbours")
        t, h = t[~spikes], h[~spikes]
        found += _runs(
            t, h < -use.below_zero_m, Fault.NEGATIVE, np.abs(h), "head goes {:.0f} mm below zero"
        )
        found += _changes(t, h, use)
        found += _steps(t, h, gates[:0] if steps_by_gates else gates, use)
        found += _noise(t, h, use)
    return sorted(found, key=lambda finding: (finding.from_s, finding.kind))


def _median(h: Floats, window: int) -> Floats:
    """Return the running median, the ends padded with the end values."""
    half = window // 2
    padded = np.pad(h, half, mode="edge")
    return np.asarray(np.median(sliding_window_view(padded, window), axis=-1))


def _bounds(mask: Bools) -> tuple[Ints, Ints]:
    """Return first and last index of each run of True."""
    edge = np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8))
    return np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1


def _runs(t: Ints, mask: Bools, kind: Fault, size_m: Floats, words: str) -> list[Finding]:
    """Return a finding for each run of True, its size the largest in the run."""
    return [
        Finding(
            kind,
            int(t[a]),
            int(t[b]),
            float(size_m[a : b + 1].max()),
            "m",
            words.format(1000.0 * float(size_m[a : b + 1].max())),
        )
        for a, b in zip(*_bounds(mask), strict=True)
    ]


def _backwards(t: Ints) -> list[Finding]:
    at = np.flatnonzero(np.diff(t) < 0)
    return [
        Finding(
            Fault.CLOCK,
            int(t[i + 1]),
            int(t[i]),
            float(t[i + 1] - t[i]),
            "s",
            f"the clock goes back by {int(t[i] - t[i + 1])} s",
        )
        for i in at.tolist()
    ]


def _gaps(t: Ints, use: FaultLimits) -> list[Finding]:
    rule = gap_rule_s(t) if use.gap_s is None else use.gap_s
    at = np.flatnonzero(np.diff(t) > rule)
    return [
        Finding(
            Fault.GAP,
            int(t[i]),
            int(t[i + 1]),
            float(t[i + 1] - t[i]),
            "s",
            f"no reading for {(t[i + 1] - t[i]) / 3600:.1f} h",
        )
        for i in at.tolist()
    ]


def _phase(t: Ints) -> list[Finding]:
    """Find where the stamps move against the logger's own grid and stay there."""
    step = usual_step_s(t)
    if not step or t.size < 10:
        return []
    phase = t % step
    moved = np.flatnonzero(np.diff(phase) != 0) + 1
    found = []
    for i in moved.tolist():
        before, after = phase[max(i - 4, 0) : i], phase[i : i + 4]
        if before.size == after.size == 4 and np.ptp(before) == 0 and np.ptp(after) == 0:
            shift = (int(after[0]) - int(before[0]) + step // 2) % step - step // 2
            words = f"the stamps move by {shift} s against the {step} s grid"
            found.append(Finding(Fault.CLOCK, int(t[i - 1]), int(t[i]), float(shift), "s", words))
    return found


def _range(t: Ints, h: Floats, use: FaultLimits) -> list[Finding]:
    found = _runs(
        t, h < use.lowest_m, Fault.RANGE, use.lowest_m - h, "lies {:.0f} mm below the range"
    )
    if use.highest_m is not None:
        found += _runs(
            t, h > use.highest_m, Fault.RANGE, h - use.highest_m, "lies {:.0f} mm above the range"
        )
    return found


def _flat(t: Ints, h: Floats, gates: Ints, use: FaultLimits) -> list[Finding]:
    same = np.append(np.diff(h) == 0.0, False)
    found = []
    for a, b in zip(*_bounds(same), strict=True):
        begin, end = int(t[a]), int(t[b + 1])
        if h[a] <= use.dry_m or end - begin < use.flat_s:
            continue  # dry: a flat zero is what it should be
        moved = np.searchsorted(gates, end) - np.searchsorted(gates, begin, "right") > 0
        kind = Fault.STUCK if moved or end - begin >= use.stuck_s else Fault.FLAT
        why = " although a gate was moved" if moved else ""
        words = f"no change at all for {(end - begin) / 3600:.0f} h{why}"
        found.append(Finding(kind, begin, end, float(end - begin), "s", words))
    return found


def _spikes(h: Floats, use: FaultLimits) -> tuple[Bools, Floats]:
    """Mark up to three readings that stand off the line between their neighbours.

    The neighbours must agree with each other and be calm themselves, else it is an event.
    """
    mask, off = np.zeros(h.size, dtype=bool), np.zeros(h.size)
    if h.size < 3:
        return mask, off
    limit = max(use.spike_m, 6.0 * 1.4826 * float(np.median(np.abs(np.diff(h)))))
    for width in (1, 2, 3):
        if h.size < width + 2:
            break
        windows = sliding_window_view(h, width + 2)
        before, after = windows[:, 0], windows[:, -1]
        share = np.arange(1, width + 1) / (width + 1.0)
        stands = windows[:, 1:-1] - (before[:, None] + np.outer(after - before, share))
        least = np.min(np.abs(stands), axis=1)
        one_side = np.abs(np.sum(np.sign(stands), axis=1)) == width
        calm = np.abs(np.diff(h, prepend=h[0], append=h[-1]))  # change before each reading
        quiet = np.maximum(calm[: windows.shape[0]], calm[width + 2 :]) < 0.5 * least
        hit = (least > limit) & one_side & quiet & (np.abs(after - before) < 0.6 * least)
        for i in np.flatnonzero(hit).tolist():
            mask[i + 1 : i + 1 + width] = True
            off[i + 1 : i + 1 + width] = np.abs(stands[i])
    return mask, off


def _changes(t: Ints, h: Floats, use: FaultLimits) -> list[Finding]:
    if use.largest_change_m_per_s is None or t.size < 2:
        return []
    span = np.diff(t).astype(np.float64)
    change = np.abs(np.diff(h))
    allowed = use.largest_change_m_per_s * span + 2.0 * use.below_zero_m  # two readings' error
    mask = np.append(change > allowed, False)
    found = []
    for a, b in zip(*_bounds(mask), strict=True):
        worst = a + int(np.argmax(change[a : b + 1] / np.maximum(span[a : b + 1], 1.0)))
        words = (
            f"head changes {1000 * change[worst]:.0f} mm in {span[worst] / 60:.0f} min, "
            f"the pond allows {1000 * use.largest_change_m_per_s * span[worst]:.0f} mm"
        )
        size = float(change[worst] / max(span[worst], 1.0))
        found.append(Finding(Fault.RATE, int(t[a]), int(t[b + 1]), size, "m/s", words))
    return found


def _steps(t: Ints, h: Floats, gates: Ints, use: FaultLimits) -> list[Finding]:
    """Find a lasting jump between two neighbours that neither side's own slope explains."""
    side = 4
    if h.size < 2 * side:
        return []
    windows = sliding_window_view(h, 2 * side)
    edge = windows[:, side] - windows[:, side - 1]
    way = np.sign(edge)
    slopes, rough = [], []
    for half in (windows[:, :side], windows[:, side:]):
        slope = np.median(np.diff(half, axis=1), axis=1)
        slopes.append(np.maximum(way * slope, 0.0))
        rough.append(np.ptp(half - np.outer(slope, np.arange(side)), axis=1))
    size = np.abs(edge) - np.maximum(slopes[0], slopes[1])
    noise = 1.4826 * float(np.median(np.abs(np.diff(h))))
    mask = (size > max(use.step_m, 6.0 * noise)) & (np.maximum(rough[0], rough[1]) < 0.4 * size)
    found = []
    rule = gap_rule_s(t) if use.gap_s is None else use.gap_s
    for i in (np.flatnonzero(mask) + side).tolist():
        begin, end = int(t[i - 1]), int(t[i])
        near = np.searchsorted(gates, end + use.gate_window_s, "right") - np.searchsorted(
            gates, begin - use.gate_window_s
        )
        if near == 0 and end - begin <= rule:
            d = float(h[i] - h[i - 1])
            words = f"head steps by {1000 * d:+.0f} mm and no gate was moved"
            found.append(Finding(Fault.STEP, begin, end, d, "m", words))
    return found


def _noise(t: Ints, h: Floats, use: FaultLimits) -> list[Finding]:
    """Find where the scatter of neighbours is far above the rest, steps and spikes apart."""
    window = 13
    if h.size < window + 2:
        return []
    # median |second difference| of scatter s is 0.6745 * sqrt(6) * s
    curve = np.abs(h[2:] - 2.0 * h[1:-1] + h[:-2])
    scatter = np.pad(_median(curve, window) / (0.6745 * np.sqrt(6.0)), 1, mode="edge")
    mask = scatter > max(use.noise_m, 3.0 * float(np.median(scatter)))
    return _runs(t, mask, Fault.NOISE, scatter, "readings scatter by {:.0f} mm")
