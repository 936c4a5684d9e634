"""Invented logger series for the demonstration, with faults planted on purpose.

The water follows the staff readings of the demo's visits, so staff and sensor agree wherever
nothing is planted; between two visits it wanders as races do. Everything comes from a seeded
generator. `PLANTED` says what was put where, so that a test can ask whether all of it is found.
"""

from dataclasses import dataclass, field

import numpy as np

from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.base.units import DAY_S

STEP_S = 900
SENSOR_NOISE_M = 0.0006
DRIFT_M = 0.010
SHIFT_M = 0.018
CLOCK_S = 420
SPIKES = 10
DROWNED_RATIO = 0.965


@dataclass(frozen=True)
class Knots:
    """Staff heads of the visits over the staff's zero: time, head, tail ratio; and who was when.

    `found_at` and `left_at` are the times of the as-found and as-left readings of each visit.
    """

    t_s: Ints
    head_m: Floats
    tail_ratio: Floats
    found_at: Ints
    left_at: Ints


@dataclass(frozen=True)
class Planted:
    """One planted fault: where, what, from and to, and how the tool should find it."""

    site: str
    kind: str
    from_s: int
    to_s: int
    found_by: tuple[str, ...]


@dataclass
class Series:
    """What a logger wrote: its own stamps, heads, tailwater heads (None: no second sensor)."""

    t_s: Ints
    head_m: Floats
    tail_m: Floats | None
    planted: list[Planted] = field(default_factory=list)


def water(knots: Knots, t_s: Ints, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return the true staff head and tail ratio: through the visits, wandering between them."""
    base = np.interp(t_s, knots.t_s, knots.head_m)
    ratio = np.interp(t_s, knots.t_s, knots.tail_ratio)
    edges = np.searchsorted(knots.t_s, t_s)
    before = knots.t_s[np.clip(edges - 1, 0, knots.t_s.size - 1)]
    after = knots.t_s[np.clip(edges, 0, knots.t_s.size - 1)]
    span = np.maximum(after - before, 1)
    away = np.clip(np.minimum(t_s - before, after - t_s), 0, DAY_S) / DAY_S
    away = np.where(span > 2 * DAY_S, away, 0.0)  # calm within a day of a visit
    hours = t_s / 3600.0
    day = np.sin(2.0 * np.pi * hours / 24.0)
    slow = _smooth(rng.normal(0.0, 1.0, t_s.size), 96 * 3)
    head = base * (1.0 + away**2 * (0.02 * day + 0.06 * slow))
    return head, ratio


def _smooth(values: Floats, window: int) -> Floats:
    """Return a slow wandering of unit size from white noise."""
    total = np.cumsum(np.concatenate([np.zeros(window), values, np.zeros(window)]))
    mean = (total[window:] - total[:-window]) / np.sqrt(window)
    mean = mean[: values.size]
    twice = np.cumsum(np.concatenate([np.zeros(window), mean]))
    out: Floats = (twice[window:] - twice[: mean.size]) / window
    return out


def invent(
    knots: Knots, site: str, *, tail: bool, begin_s: int, end_s: int, rng: np.random.Generator
) -> Series:
    """Return the series of one site with its planted faults."""
    t = np.arange(begin_s, end_s, STEP_S, dtype=np.int64)
    head, ratio = water(knots, t, rng)
    made = Series(t, head + rng.normal(0.0, SENSOR_NOISE_M, t.size), None)
    made.tail_m = head * ratio if tail else None
    if tail:
        _weed(made, site, knots, ratio)
        _drift(made, site, knots)
        _drowned(made, site, knots, head)
        _clock(made, site, knots)
        _spikes(made, site, knots, rng)
    else:
        _shift(made, site, knots)
        _spikes(made, site, knots, rng)
        _stuck(made, site, knots)
        _gap(made, site, knots)
    if made.tail_m is not None:
        made.tail_m = made.tail_m + rng.normal(0.0, SENSOR_NOISE_M, made.tail_m.size)
        made.tail_m = np.round(made.tail_m, 4)
    made.head_m = np.round(made.head_m, 4)
    return made


def _between(knots: Knots, number: int) -> tuple[int, int]:
    """Return the end of one visit and the beginning of the next."""
    return int(knots.left_at[number]), int(knots.found_at[number + 1])


def _drift(made: Series, site: str, knots: Knots) -> None:
    """Let the sensor sink over four visits; the crew cleans it at the fourth."""
    a, _ = _between(knots, 12)
    b = int(knots.found_at[16])
    inside = (made.t_s >= a) & (made.t_s <= b)
    made.head_m[inside] -= DRIFT_M * (made.t_s[inside] - a) / (b - a)
    made.planted.append(Planted(site, "drift", a, int(knots.left_at[16]), ("offer",)))


def _shift(made: Series, site: str, knots: Knots) -> None:
    """Knock the sensor between two visits; it stays off until the visit after the next."""
    a, b = _between(knots, 5)
    at = a + (b - a) // 3 // STEP_S * STEP_S
    until = int(knots.found_at[7])
    made.head_m[(made.t_s >= at) & (made.t_s <= until)] -= SHIFT_M
    made.planted.append(
        Planted(site, "zero shift", a, int(knots.left_at[7]), ("offer", "step without gate change"))
    )


def _drowned(made: Series, site: str, knots: Knots, head: Floats) -> None:
    """Hold the tail up for a fortnight."""
    a, _ = _between(knots, 22)
    b = a + 14 * DAY_S
    inside = (made.t_s >= a) & (made.t_s <= b)
    assert made.tail_m is not None
    made.tail_m[inside] = DROWNED_RATIO * head[inside]
    made.planted.append(Planted(site, "drowned fortnight", a, b, ("drowned",)))


def _weed(made: Series, site: str, knots: Knots, ratio: Floats) -> None:
    """Name the weed seasons, in which the tail rises between one cut and the next."""
    high = np.flatnonzero(ratio > 0.60)
    runs = np.split(high, np.flatnonzero(np.diff(made.t_s[high]) > 20 * DAY_S) + 1)
    for run in runs:
        if run.size:
            a, b = int(made.t_s[run[0]]), int(made.t_s[run[-1]])
            made.planted.append(Planted(site, "weed", a, b, ("drowned", "offer")))


def _clock(made: Series, site: str, knots: Knots) -> None:
    """Set the clock wrong for a month: its stamps leave the grid and come back."""
    a, _ = _between(knots, 30)
    b = int(knots.found_at[32])
    inside = (made.t_s > a) & (made.t_s <= b)
    made.t_s = made.t_s + np.where(inside, CLOCK_S, 0)
    edges = made.t_s[np.flatnonzero(np.diff(inside.astype(int)) != 0)]
    made.planted.append(
        Planted(site, "clock error", int(edges[0]), int(edges[-1]) + STEP_S, ("clock jump",))
    )


def _spikes(made: Series, site: str, knots: Knots, rng: np.random.Generator) -> None:
    """Put in single echoes, never next to a visit or to another planted fault."""
    taken = [(p.from_s - DAY_S, p.to_s + DAY_S) for p in made.planted]
    taken += [(int(t) - 6 * 3600, int(t) + 6 * 3600) for t in knots.t_s]
    count = 0
    while count < SPIKES:
        k = int(rng.integers(200, made.t_s.size - 200))
        t = int(made.t_s[k])
        if any(a <= t <= b for a, b in taken):
            continue
        made.head_m[k] += float(rng.choice([-1.0, 1.0]) * rng.uniform(0.05, 0.15))
        made.planted.append(Planted(site, "spike", t, t, ("spike",)))
        taken.append((t - 2 * DAY_S, t + 2 * DAY_S))
        count += 1


def _stuck(made: Series, site: str, knots: Knots) -> None:
    """Let the sensor stand still for four days between two visits."""
    a, b = _between(knots, 10)
    begin = a + (b - a) // 2
    inside = np.flatnonzero((made.t_s >= begin) & (made.t_s <= begin + 4 * DAY_S))
    made.head_m[inside] = made.head_m[inside[0]]
    t0, t1 = int(made.t_s[inside[0]]), int(made.t_s[inside[-1]])
    made.planted.append(
        Planted(site, "stuck sensor", t0, t1, ("stuck sensor", "step without gate change"))
    )


def _gap(made: Series, site: str, knots: Knots) -> None:
    """Lose three days."""
    a, b = _between(knots, 14)
    begin = a + (b - a) // 2
    lost = (made.t_s >= begin) & (made.t_s <= begin + 3 * DAY_S)
    k = np.flatnonzero(lost)
    made.planted.append(
        Planted(site, "gap", int(made.t_s[k[0] - 1]), int(made.t_s[k[-1] + 1]), ("gap",))
    )
    keep = ~lost
    made.t_s, made.head_m = made.t_s[keep], made.head_m[keep]


def logger_file(
    made: Series, part: slice, *, offset_min: int, serial: str, continental: bool
) -> bytes:
    """Return a part of a series as a logger's file, in one of two invented layouts."""
    stamps = (made.t_s[part] + offset_min * 60).astype("M8[s]")
    heads = made.head_m[part]
    if continental:
        tails = made.tail_m[part] if made.tail_m is not None else np.full(heads.shape, np.nan)
        rows = [
            f"{d[8:10]}.{d[5:7]}.{d[:4]};{d[11:16]}:{d[17:]};{h};{w}"
            for d, h, w in zip(
                np.datetime_as_string(stamps).tolist(),
                [f"{x:.1f}".replace(".", ",") for x in (1000.0 * heads).tolist()],
                [f"{x:.1f}".replace(".", ",") for x in (1000.0 * tails).tolist()],
                strict=True,
            )
        ]
        head = [
            "Invented data of an invented logger",
            f"Serial no: {serial}",
            "Date;Time;Head (mm);Tailwater (mm)",
        ]
        return ("\r\n".join([*head, *rows]) + "\r\n").encode()
    rows = [
        f"{d.replace('T', ' ')},{h:.4f}"
        for d, h in zip(np.datetime_as_string(stamps).tolist(), heads.tolist(), strict=True)
    ]
    head = ["# Invented data", f"# Serial number: {serial}", "time,head (m)"]
    return ("\n".join([*head, *rows]) + "\n").encode()
