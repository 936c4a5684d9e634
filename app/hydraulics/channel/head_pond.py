"""The head pond of a structure: its length, volume and surface, freeboard, and how long it fills.

The pond is the raised water surface less the one without the structure, both by `backwater`. It
ends where the rise is a hundredth of the depth that was there before (the usual end of a computed
curve, Chow 1959, from memory). Filling is quasi-steady: while the pond rises slowly its surface is
that of the inflow at the level reached (derived; waves on the way are left out).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.channel.backwater import Backwater, backwater, even_step
from app.hydraulics.channel.stations import Station, between
from app.hydraulics.channel.uniform import normal_depth

END_SHARE = 0.01
REMAINING = 0.01
FILL_LEVELS = 97


@dataclass(frozen=True, kw_only=True)
class HeadPond:
    """A pond for each flow: arrays (n,), and (n, k) along the race. NaN is not known.

    `length_m` is NaN where the pond reaches beyond the last section, or the level before is not
    known; volumes and surface then count as far as the survey goes.
    """

    raised: Backwater
    before: Backwater | None
    rise_m: Floats  # (n, k)
    length_m: Floats
    beyond_survey: Floats  # bool (n,): the rise is still felt at the last section
    volume_m3: Floats  # water in the race from the structure to the pond's end
    extra_m3: Floats  # of it, what the structure holds back
    surface_m2: Floats
    freeboard_m: Floats  # (n, k): lowest bank less level
    least_freeboard_m: Floats
    least_freeboard_at_m: Floats  # chainage


def head_pond(
    stations: Sequence[Station],
    discharge_m3s: ArrayLike,
    level_m: ArrayLike,
    *,
    former_level_m: ArrayLike | None = None,
    alpha: float = 1.0,
    closing_loss: float = 0.0,
    opening_loss: float = 0.0,
    step_m: float | None = None,
) -> HeadPond:
    """Return the pond behind a structure that holds the water at a level with each flow.

    Parameters
    ----------
    stations, discharge_m3s, level_m, alpha, closing_loss, opening_loss, step_m
        As `backwater`.
    former_level_m : array_like, optional
        Level at the structure's place before it, m, with each flow, such as the tail level. Left
        out: uniform flow with the bed slope of the first reach, where that falls towards it.

    Raises
    ------
    BadInput
        As `backwater`.
    """
    losses = {"closing_loss": closing_loss, "opening_loss": opening_loss}
    # the same steps with and without it, so that only the structure makes a difference
    step = step_m or even_step(stations, float(np.max(level_m)))
    raised = backwater(stations, discharge_m3s, level_m, alpha=alpha, step_m=step, **losses)
    flows, x = raised.discharge_m3s, raised.chainage_m
    former = former_level(stations, flows) if former_level_m is None else former_level_m
    start = np.broadcast_to(np.asarray(former, float), flows.shape)
    freeboard = raised.bank_m - raised.level_m
    known = np.any(np.isfinite(freeboard), axis=1)
    filled = np.where(np.isfinite(freeboard), freeboard, np.inf)
    worst = np.argmin(filled, axis=1)
    board = np.where(known, filled[np.arange(flows.size), worst], np.nan)
    found = {
        "freeboard_m": freeboard,
        "least_freeboard_m": board,
        "least_freeboard_at_m": np.where(known, x[worst], np.nan),
    }
    shape = raised.level_m.shape
    if not np.all(np.isfinite(start)):
        none = np.full(flows.shape, np.nan)
        return HeadPond(
            raised=raised, before=None, rise_m=np.full(shape, np.nan), length_m=none,
            beyond_survey=np.zeros(flows.shape, bool), volume_m3=_along(x, raised.area_m2, x[-1]),
            extra_m3=none, surface_m2=_along(x, raised.width_m, x[-1]), **found,
        )  # fmt: skip
    before = backwater(stations, flows, start, alpha=alpha, step_m=step, **losses)
    rise = raised.level_m - before.level_m
    felt = rise > END_SHARE * before.depth_m
    length = np.array(
        [_end(x, r / d, f) for r, d, f in zip(rise, before.depth_m, felt, strict=True)]
    )
    beyond = np.isnan(length)
    end = np.where(beyond, x[-1], length)
    volume = np.array([_along(x, a[None], e)[0] for a, e in zip(raised.area_m2, end, strict=True)])
    former_volume = [_along(x, a[None], e)[0] for a, e in zip(before.area_m2, end, strict=True)]
    surface = np.array([_along(x, w[None], e)[0] for w, e in zip(raised.width_m, end, strict=True)])
    return HeadPond(
        raised=raised, before=before, rise_m=rise, length_m=length, beyond_survey=beyond,
        volume_m3=volume, extra_m3=volume - np.array(former_volume), surface_m2=surface, **found,
    )  # fmt: skip


def former_level(stations: Sequence[Station], discharge_m3s: Floats) -> Floats:
    """Return the level of uniform flow at the first station, m; NaN where the bed does not fall."""
    first, second = stations[0], stations[1]
    slope = (second.bed_m - first.bed_m) / (second.chainage_m - first.chainage_m)
    if not slope > 0:
        return np.full(np.shape(discharge_m3s), np.nan)
    return first.bed_m + normal_depth(first.section, discharge_m3s, first.roughness, slope)


def fill_time_s(
    stations: Sequence[Station],
    inflow_m3s: float,
    settled_level_m: float,
    outflow: Callable[[Floats], Floats],
    *,
    former_level_m: float | None = None,
    from_dry: bool = False,
    remaining: float = REMAINING,
    alpha: float = 1.0,
) -> float:
    """Return the seconds until the structure passes all but a share of the inflow.

    Parameters
    ----------
    inflow_m3s : float
    settled_level_m : float
        Level at the structure at which it passes the inflow, m.
    outflow : callable
        Discharge over the structure, m3/s, at levels, m; 0 below its crest.
    former_level_m : float, optional
        Level at the start, m; left out as in `head_pond`.
    from_dry : bool
        The race was dry: the water of the undisturbed flow is added, as far as the pond reaches.
    remaining : float
        Share of the inflow still going into the pond at the end.

    Returns
    -------
    float
        NaN where the level before, or the end of the pond, is not known.

    Raises
    ------
    BadInput
        As `backwater`, and when the share or the levels cannot be used.
    """
    if not 0.0 < remaining < 1.0:
        raise BadInput("remaining", remaining, "lies between 0 and 1", "Use 0.01 for 1 %.")
    flow = np.array([inflow_m3s])
    start = float(former_level(stations, flow)[0]) if former_level_m is None else former_level_m
    if np.isnan(start):
        return float("nan")
    if settled_level_m <= start:
        return 0.0
    whole = head_pond(stations, flow, settled_level_m, former_level_m=start, alpha=alpha)
    if whole.beyond_survey[0] or whole.before is None:
        return float("nan")
    # levels close up towards the settled one as the inflow left for the pond runs out
    last = -np.log(remaining * 1e-2)
    levels = settled_level_m - (settled_level_m - start) * np.exp(
        -np.linspace(0, last, FILL_LEVELS)
    )
    part = _until(stations, float(whole.length_m[0]))
    shapes = backwater(part, np.full(FILL_LEVELS, inflow_m3s), levels, alpha=alpha)
    end = float(shapes.chainage_m[-1])
    volume = _along(shapes.chainage_m, shapes.area_m2, end)
    fine = settled_level_m - (settled_level_m - start) * np.exp(-np.linspace(0, last, 4001))
    left = inflow_m3s - np.asarray(outflow(fine), float)
    done = np.flatnonzero(left <= remaining * inflow_m3s)
    if not done.size or done[0] == 0:
        return 0.0 if done.size else float("nan")
    stop = int(done[0])
    share = (left[stop - 1] - remaining * inflow_m3s) / (left[stop - 1] - left[stop])
    goal = fine[stop - 1] + share * (fine[stop] - fine[stop - 1])
    grid = np.append(fine[:stop], goal)
    rest = np.append(left[:stop], remaining * inflow_m3s)
    held = np.interp(grid, levels, volume)
    seconds = float(np.sum(np.diff(held) * 0.5 * (1.0 / rest[1:] + 1.0 / rest[:-1])))
    if from_dry:
        seconds += float(volume[0]) / inflow_m3s
    return seconds


def _until(stations: Sequence[Station], chainage_m: float) -> list[Station]:
    """Return the stations up to a place, the last one cut there."""
    kept = [s for s in stations if s.chainage_m < chainage_m]
    if not kept:
        return list(stations[:2])
    if len(kept) == len(stations):
        return kept
    upper, lower = stations[len(kept)], kept[-1]
    share = (chainage_m - lower.chainage_m) / (upper.chainage_m - lower.chainage_m)
    return [*kept, between(lower, upper, share)]


def _end(x: Floats, rise: Floats, felt: Floats) -> float:
    """Return where the rise falls to its end share, m; NaN where it is felt at the last place."""
    if felt[-1]:
        return float("nan")
    if not felt.any():
        return 0.0
    last = int(np.flatnonzero(felt)[-1])
    share = (rise[last] - END_SHARE) / (rise[last] - rise[last + 1])
    return float(x[last] + share * (x[last + 1] - x[last]))


def _along(x: Floats, values: Floats, end: float) -> Floats:
    """Return the integral of rows over the chainage from the structure to `end`."""
    inside = x < end
    places = np.append(x[inside], end)
    rows = np.array([np.interp(places, x, row) for row in values])
    total: Floats = np.sum(0.5 * (rows[:, 1:] + rows[:, :-1]) * np.diff(places), axis=1)
    return total
