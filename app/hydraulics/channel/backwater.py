"""The water surface upstream of a structure: gradually varied flow through surveyed sections.

Standard step: from each section to the next one upstream the total head grows by the friction of
the reach, with the mean of the friction slopes at both ends, and by an eddy loss where the
section opens or closes (Chow 1959, *Open-Channel Hydraulics*, sec. 10-4, from memory). Reaches
are cut into steps so short that their number no longer matters; between two surveyed sections
area, width and perimeter at a depth change in a straight line. Subcritical flow only: where the
flow cannot stay above critical depth the surface is held there and marked.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Bools, Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.at_flow import critical_at
from app.hydraulics.channel.sections import Section
from app.hydraulics.channel.stations import Between, Station

FALL_SHARE = 0.02
"""The bed falls by no more than this share of the depth at the structure in one step (derived:
halving it again moves levels by less than 0.1 mm in the tests)."""
LEAST_STEPS, MOST_STEPS = 4, 4000  # in one reach
SOLVER_STEPS = 60
SETTLED_SHARE = 1e-12


@dataclass(frozen=True, kw_only=True)
class Backwater:
    """A water surface for each flow. Arrays (k,) along the race, (n, k) flow by place; levels m."""

    discharge_m3s: Floats  # (n,)
    chainage_m: Floats  # (k,) upstream of the structure
    bed_m: Floats
    bank_m: Floats  # lowest bank, straight between stations; NaN where not known
    level_m: Floats  # (n, k)
    area_m2: Floats
    width_m: Floats
    critical: Bools  # held at critical depth: no subcritical surface there
    stations: NDArray[np.intp]  # which of the k places were surveyed
    names: tuple[str, ...]  # of the stations

    @property
    def depth_m(self) -> Floats:
        return self.level_m - self.bed_m

    @property
    def froude(self) -> Floats:
        """Return ``v / sqrt(g A / T)`` at every place."""
        wave = np.sqrt(G * self.area_m2 / self.width_m)
        return self.discharge_m3s[:, None] / (self.area_m2 * wave)

    def level_at(self, chainage_m: ArrayLike) -> Floats:
        """Return levels at places in between, m, shape (n, places); NaN beyond the survey."""
        at = np.atleast_1d(np.asarray(chainage_m, float))
        rows = [np.interp(at, self.chainage_m, z, np.nan, np.nan) for z in self.level_m]
        return np.array(rows)


def backwater(
    stations: Sequence[Station],
    discharge_m3s: ArrayLike,
    level_m: ArrayLike,
    *,
    alpha: float = 1.0,
    closing_loss: float = 0.0,
    opening_loss: float = 0.0,
    step_m: float | None = None,
) -> Backwater:
    """Carry levels at the structure upstream through the surveyed sections.

    Parameters
    ----------
    stations : sequence of Station
        From the structure upstream, at least two.
    discharge_m3s, level_m : array_like
        Flows above 0, m3/s, and the level at the first station with each, m; broadcast.
    alpha : float
        Velocity distribution coefficient.
    closing_loss, opening_loss : float
        Share of the change of velocity head lost where the race narrows or widens downstream;
        0.1 and 0.3 are usual for gradual changes (from memory of Chow 1959), 0 for an even race.
    step_m : float, optional
        Longest step; without it so short that the bed falls 2 % of the depth. A reach is cut in
        four at least.

    Raises
    ------
    BadInput
        For stations out of order, flows or roughness not above 0, a level not over the bed, or a
        closed section that is full.
    """
    flows, levels = np.broadcast_arrays(
        np.atleast_1d(np.asarray(discharge_m3s, float)), np.atleast_1d(np.asarray(level_m, float))
    )
    _check(stations, flows, levels)
    first = stations[0]
    x, beds, banks, at = [first.chainage_m], [first.bed_m], [first.bank_m], [0]
    sections, rough = [first.section], [first.roughness]
    step = step_m or even_step(stations, float(levels.max()))
    for lower, upper in pairwise(stations):
        length = upper.chainage_m - lower.chainage_m
        count = min(max(ceil(length / step - SETTLED_SHARE), LEAST_STEPS), MOST_STEPS)
        for i in range(1, count + 1):
            s = i / count
            last = i == count
            x.append(lower.chainage_m + s * length)
            beds.append(lower.bed_m + s * (upper.bed_m - lower.bed_m))
            banks.append(lower.bank_m + s * (upper.bank_m - lower.bank_m))
            rough.append(lower.roughness + s * (upper.roughness - lower.roughness))
            if lower.section == upper.section:
                sections.append(lower.section)  # the very object: its critical depth is kept
            else:
                sections.append(upper.section if last else Between(lower.section, upper.section, s))
        banks[-1] = upper.bank_m
        at.append(len(x) - 1)

    n, k = flows.size, len(x)
    level, areas, width = np.empty((n, k)), np.empty((n, k)), np.empty((n, k))
    held = np.zeros((n, k), bool)
    shallow = _critical(first.section, flows, alpha)
    held[:, 0] = levels - first.bed_m < shallow * (1.0 - 1e-9)
    depth = np.where(held[:, 0], shallow, levels - first.bed_m)
    area, speed_head, slope = _terms(first.section, first.roughness, flows, depth, alpha)
    for i in range(k):
        if i:
            total = beds[i - 1] + depth + speed_head - beds[i]
            if sections[i] is not sections[i - 1]:
                shallow = _critical(sections[i], flows, alpha)
            losses = (closing_loss, opening_loss)
            depth, held[:, i] = _step(
                sections[i], rough[i], flows, total=total, slope_below=slope,
                speed_head_below=speed_head, length=x[i] - x[i - 1], alpha=alpha,
                losses=losses, least=shallow,
            )  # fmt: skip
            area, speed_head, slope = _terms(sections[i], rough[i], flows, depth, alpha)
        level[:, i], areas[:, i] = beds[i] + depth, area
        width[:, i] = sections[i].top_width(depth)
    return Backwater(
        discharge_m3s=flows.copy(),
        chainage_m=np.array(x),
        bed_m=np.array(beds),
        bank_m=np.array(banks),
        level_m=level,
        area_m2=areas,
        width_m=width,
        critical=held,
        stations=np.array(at),
        names=tuple(s.name for s in stations),
    )


def even_step(stations: Sequence[Station], level_m: float) -> float:
    """Return the longest step for a level at the structure, m."""
    depth = max(level_m - stations[0].bed_m, 1e-3)
    runs = np.diff([s.chainage_m for s in stations])
    falls = np.abs(np.diff([s.bed_m for s in stations]))
    steepest = float(np.max(falls / runs))
    longest = float(np.max(runs)) / LEAST_STEPS
    return min(longest, FALL_SHARE * depth / steepest) if steepest > 0 else longest


def _terms(
    section: Section, roughness: float, flow: Floats, depth: Floats, alpha: float
) -> tuple[Floats, Floats, Floats]:
    """Return area, velocity head and friction slope at a depth."""
    area = section.area(depth)
    speed = flow / area
    radius = area / section.wetted_perimeter(depth)
    slope = (roughness * speed) ** 2 / radius ** (4.0 / 3.0)
    return area, alpha * speed * speed / (2.0 * G), slope


def _step(
    section: Section,
    roughness: float,
    flow: Floats,
    *,
    total: Floats,
    slope_below: Floats,
    speed_head_below: Floats,
    length: float,
    alpha: float,
    losses: tuple[float, float],
    least: Floats,
) -> tuple[Floats, Bools]:
    """Return depth and whether it is held at critical; `total` is the head over this bed.

    The gap grows with depth above critical depth, so a bracketed Newton finds the one root.
    """
    closing, opening = losses

    def gap(y: Floats) -> tuple[Floats, Floats]:
        area, speed_head, slope = _terms(section, roughness, flow, y, alpha)
        width = section.top_width(y)
        change = speed_head_below - speed_head  # above 0: faster downstream, the race closes
        loss = np.where(change > 0, closing * change, -opening * change)
        value = y + speed_head - total - 0.5 * length * (slope + slope_below) - loss
        by_depth = -2.0 * speed_head * width / area
        friction = slope * (
            4.0 / 3.0 * section.perimeter_slope(y) / section.wetted_perimeter(y)
            - 10.0 / 3.0 * width / area
        )
        eddy = np.where(change > 0, -closing, opening) * by_depth
        return value, 1.0 + by_depth - 0.5 * length * friction - eddy

    _, head_c, slope_c = _terms(section, roughness, flow, least, alpha)
    low = least
    high = np.maximum(
        1.001 * least,
        total
        + 0.5 * length * (slope_c + slope_below)
        + max(losses) * np.maximum(head_c, speed_head_below),
    )
    held = gap(low)[0] > 0
    depth = np.where(held, low, np.clip(total, low, high))
    for _ in range(SOLVER_STEPS):
        value, rate = gap(depth)
        over = value > 0
        high, low = np.where(over, depth, high), np.where(over, low, depth)
        step = value / np.where(rate > 1e-3, rate, 1.0)
        trial = np.where(rate > 1e-3, depth - step, np.nan)
        inside = (trial >= low) & (trial <= high)
        new = np.where(held, least, np.where(inside, trial, 0.5 * (low + high)))
        settled = np.abs(new - depth) <= SETTLED_SHARE * np.maximum(depth, 1.0)
        depth = new
        if np.all(settled):
            break
    return depth, held


def _critical(section: Section, flow: Floats, alpha: float) -> Floats:
    found = critical_at(section, flow, alpha)
    if np.any(np.isnan(found)):
        raise BadInput(
            "stations", float(flow.max()), "a closed section is full", "Use an open section."
        )
    return found


def _check(stations: Sequence[Station], flows: Floats, levels: Floats) -> None:
    if len(stations) < 2:
        raise BadInput("stations", len(stations), "two sections are needed", "Survey another.")
    chainages = [s.chainage_m for s in stations]
    if np.any(np.diff(chainages) <= 0) or not np.all(np.isfinite(chainages)):
        raise BadInput(
            "stations", chainages, "chainages grow upstream from the structure", "Sort them."
        )
    for s in stations:
        if not (np.isfinite(s.roughness) and s.roughness > 0):
            raise BadInput("roughness", s.roughness, "must be above 0", "Use 0.03, for example.")
        if not np.isfinite(s.bed_m):
            raise BadInput("bed_m", s.bed_m, "is a level", "Give the lowest point of the section.")
    if flows.ndim != 1 or not np.all(np.isfinite(flows) & (flows > 0)):
        raise BadInput("discharge_m3s", flows.tolist(), "flows are above 0", "Leave out 0.")
    if not np.all(levels > stations[0].bed_m):
        raise BadInput(
            "level_m",
            float(np.min(levels)),
            f"lies at or below the bed, {stations[0].bed_m:g} m",
            "Check both levels: one datum.",
        )
