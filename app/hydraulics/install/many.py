"""Many structures at many crest heights over a range of flows, judged at once as arrays.

This is the first look that finds the crest height of each; what is then shown of it is worked out
by the one engine (`rating.rate`, `install.sill`), as a plan is. Axes: structure, crest, flow.
Heads come from a table of the device's own rating, straight in ln Q and ln h between its rows; for
a device that goes by total head they are solved for all sill heights together, and its limit is the
rule of thumb for its exit: the energy method has its say when the crest is worked out. Its
coefficient's uncertainty is that of the middle crest height.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Bools, Floats
from app.hydraulics.channel.sections import Section
from app.hydraulics.channel.uniform import froude
from app.hydraulics.install.sill import (
    FREEBOARD_LEAST_M,
    FREEBOARD_SHARE,
    WEED_MARGIN_M,
)
from app.hydraulics.structure.bounds import FROUDE_LIMIT
from app.hydraulics.structure.device import Device
from app.hydraulics.structure.total_head import ByTotalHead, gauged_head

NODES = 32
SILL_HEIGHTS = 7
LOWEST_SILL_M = 0.02
BELOW, ABOVE = 0.05, 1.6  # of the least and the top head: how far a table goes


@dataclass(frozen=True)
class Maker:
    """Builds a structure for a sill height; `by_sill` tells whether that changes its rating."""

    build: Callable[[float], Device]
    by_sill: bool


@dataclass(frozen=True)
class Place:
    """The race at the structure. Levels in m over its bed; flows m3/s, tail levels one a flow."""

    section: Section
    discharge_m3s: Floats
    tail_m: Floats
    bank_m: float
    weed_margin_m: float = WEED_MARGIN_M
    head_uncertainty_m: float = 0.003


@dataclass(frozen=True, kw_only=True)
class Many:
    """What was found. (s, c, f) for structure, crest, flow; (s, c) for all flows together."""

    crest_m: Floats  # (c,)
    head_m: Floats  # (s, c, f); NaN: none, or far outside the table
    submergence_weedy: Floats
    modular_limit: Floats
    freeboard_m: Floats
    froude: Floats
    uncertainty_pct: Floats  # coefficient and head
    in_range: Bools
    suits: Bools  # (s, c): free with weed, within the banks and the range, not fast
    crest_weedy_m: Floats  # (s,): least crest that keeps all flows free with weed; NaN not found
    crest_free_m: Floats  # (s,): the same without weed
    crest_highest_m: Floats  # (s,): greatest one that the banks allow
    problems: tuple[BadInput | None, ...]  # (s,): what kept a structure from being built


def judge_many(makers: Sequence[Maker], place: Place, crests_m: Floats) -> Many:
    """Judge every structure at every crest height.

    Parameters
    ----------
    makers : sequence of Maker
    place : Place
    crests_m : array, shape (c,), growing
    """
    flows = place.discharge_m3s
    shape = (len(makers), crests_m.size, flows.size)
    head, limit, device_pct, slope = (np.full(shape, np.nan) for _ in range(4))
    low, high = np.full(shape[:2], np.nan), np.full(shape[:2], np.nan)
    problems: list[BadInput | None] = [None] * len(makers)
    tables: list[tuple[int, _Table]] = []
    totals: list[tuple[int, Floats, _Table]] = []
    heights = _heights(crests_m)
    for s, maker in enumerate(makers):
        try:
            first = maker.build(float(crests_m[crests_m.size // 2]))
            if isinstance(first, ByTotalHead) and maker.by_sill:
                rule = np.full(NODES, first.limit_by_rule())
                totals.append((s, first.total_head_m(flows), _table(first, rule)))
            elif not maker.by_sill:
                tables.append((s, _table(first)))
            else:
                tables += [(s, _table(maker.build(float(p)))) for p in heights]
        except BadInput as error:
            problems[s] = error
    if tables:
        found = _Stack([t for _, t in tables]).at_flows(flows)
        owners = np.array([s for s, _ in tables])
        for s in np.unique(owners):
            rows = np.flatnonzero(owners == s)
            first_table, last_table = tables[rows[0]][1], tables[rows[-1]][1]
            low[s], high[s] = first_table.low, first_table.high
            if rows.size > 1:  # what depends on the sill's height is nearly straight in 1 / p
                tops = [tables[r][1].high for r in rows]
                high[s] = np.interp(crests_m, heights, tops)
                low[s] = max(first_table.low, last_table.low)
            for values, out in zip(found, (head, limit, device_pct, slope), strict=True):
                out[s] = (
                    values[rows[0]]
                    if rows.size == 1
                    else _by_height(heights, values[rows], crests_m)
                )
    if totals:
        rows = np.array([s for s, _, _ in totals])
        total = np.array([t for _, t, _ in totals])
        solved = gauged_head(place.section, flows, total[:, None, :], crests_m[None, :, None])
        head[rows] = solved
        stack = _Stack([t for _, _, t in totals])
        limit[rows], device_pct[rows], slope[rows] = stack.at_heads(solved)
        low[rows] = np.array([t.low for _, _, t in totals])[:, None]
        high[rows] = np.array([t.high for _, _, t in totals])[:, None]
    pct = np.hypot(device_pct, slope * 100.0 * place.head_uncertainty_m / head)
    return _judged(
        place, crests_m, head=head, limit=limit, pct=pct, low=low, high=high,
        problems=tuple(problems),
    )  # fmt: skip


def _judged(
    place: Place, crests: Floats, *, head: Floats, limit: Floats, pct: Floats, low: Floats,
    high: Floats, problems: tuple[BadInput | None, ...],
) -> Many:  # fmt: skip
    flows, tail = place.discharge_m3s, place.tail_m + place.weed_margin_m
    up = crests[None, :, None] + head
    board = place.bank_m - up
    wanted = np.maximum(FREEBOARD_LEAST_M, FREEBOARD_SHARE * up)
    speed = froude(place.section, up, flows)
    in_range = (head >= low[:, :, None]) & (head <= high[:, :, None])
    lost = np.isnan(head[:, :, -1])  # the greatest flow finds no head; a least one may be too low
    with np.errstate(invalid="ignore", divide="ignore"):
        needs = tail - np.nan_to_num(limit) * head
        needed = np.where(lost, np.nan, np.nanmax(np.where(lost[..., None], 0.0, needs), axis=2))
        ratio = np.maximum(tail - crests[None, :, None], 0.0) / head
        plain = needed - place.weed_margin_m
    suits = (needed - crests <= 1e-9) & (head <= high[:, :, None]).all(axis=2)
    suits &= (board >= wanted - 1e-9).all(axis=2) & (speed <= FROUDE_LIMIT).all(axis=2)
    over = (wanted - board)[:, :, -1]  # at the greatest flow; rises with the crest
    return Many(
        crest_m=crests,
        head_m=head,
        submergence_weedy=ratio,
        modular_limit=limit,
        freeboard_m=board,
        froude=speed,
        uncertainty_pct=pct,
        in_range=in_range,
        suits=suits,
        crest_weedy_m=_crossing(crests, needed - crests),
        crest_free_m=_crossing(crests, plain - crests),
        crest_highest_m=crests[-1] - _crossing(crests[-1] - crests[::-1], over[:, ::-1]),
        problems=problems,
    )


def _crossing(crests: Floats, gap: Floats) -> Floats:
    """Return the least crest at which no more is needed, straight between two; NaN for none."""
    ready = gap <= 1e-9
    found = np.full(gap.shape[0], np.nan)
    rows = np.flatnonzero(ready.any(axis=1))
    at = np.argmax(ready[rows], axis=1)
    here, before = gap[rows, at], gap[rows, np.maximum(at - 1, 0)]
    open_ = (at > 0) & np.isfinite(before)
    share = np.where(open_, before / np.where(open_, before - here, 1.0), 1.0)
    start = crests[np.maximum(at - 1, 0)]
    found[rows] = np.where(open_, start + share * (crests[at] - start), crests[at])
    return found


@dataclass(frozen=True, kw_only=True)
class _Table:
    """A rating of so many nodes; -inf and inf in ln Q below and above where it has a value."""

    log_head: Floats
    log_flow: Floats
    limit: Floats
    device_pct: Floats
    exponent: Floats  # d ln Q / d ln h
    low: float
    high: float


def _heights(crests: Floats) -> Floats:
    """Return a few heights over the range of the crests, closer where the sill is low."""
    low = max(float(crests[0]), LOWEST_SILL_M)
    return np.geomspace(low, max(float(crests[-1]), 1.01 * low), SILL_HEIGHTS)


def _by_height(heights: Floats, values: Floats, crests: Floats) -> Floats:
    """Read (heights, flows) at the crests, straight in 1 / p."""
    x = 1.0 / heights[::-1]
    at = 1.0 / np.maximum(crests, heights[0])
    return np.array([np.interp(at, x, column[::-1]) for column in values.T]).T


def _table(device: Device, limit: Floats | None = None) -> _Table:
    floor = max(device.head_floor_m * 1.02, BELOW * device.head_min_m, 1e-3)
    heads = np.geomspace(floor, max(ABOVE * device.head_max_m, 2.0 * floor), NODES)
    free = device.free_flow(heads)
    flow = free.discharge_m3s
    usable = np.isfinite(flow) & (flow > 0)
    start = int(np.argmax(usable)) if usable.any() else NODES
    rest = np.where(np.arange(NODES) < start, -np.inf, np.inf)
    logs = np.where(usable, np.log(np.where(usable, flow, 1.0)), rest)
    pct = np.broadcast_to(device.coefficient_uncertainty_pct(heads, free), heads.shape)
    limit = device.modular_limit(heads) if limit is None else limit
    with np.errstate(invalid="ignore"):
        exponent = np.gradient(logs, np.log(heads))
    low, high = device.head_min_m, device.head_max_m
    return _Table(
        log_head=np.log(heads),
        log_flow=logs,
        limit=limit,
        device_pct=pct,
        exponent=exponent,
        low=low,
        high=high,
    )


class _Stack:
    """Tables side by side, read row by row."""

    def __init__(self, tables: Sequence[_Table]) -> None:
        self.log_head = np.array([t.log_head for t in tables])
        self.log_flow = np.array([t.log_flow for t in tables])
        self.limit = np.array([t.limit for t in tables])
        self.device_pct = np.array([t.device_pct for t in tables])
        self.exponent = np.array([t.exponent for t in tables])

    def at_flows(self, flows: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Return head, limit, device uncertainty, exponent, (tables, flows); NaN outside."""
        wanted = np.log(flows)
        below = (self.log_flow[:, None, :] <= wanted[None, :, None]).sum(axis=2) - 1
        cell = np.clip(below, 0, NODES - 2)
        low = np.take_along_axis(self.log_flow, cell, axis=1)
        high = np.take_along_axis(self.log_flow, cell + 1, axis=1)
        with np.errstate(invalid="ignore"):
            share = (wanted - low) / (high - low)
        share = np.where((below >= 0) & (share <= 1.0) & np.isfinite(high), share, np.nan)
        return (
            np.exp(self._mix(self.log_head, cell, share)),
            self._mix(self.limit, cell, share),
            self._mix(self.device_pct, cell, share),
            self._mix(self.exponent, cell, share),
        )

    def at_heads(self, heads: Floats) -> tuple[Floats, Floats, Floats]:
        """Return modular limit, device uncertainty and exponent at heads, (tables, c, f)."""
        flat = np.log(np.where(heads > 0, heads, 1.0)).reshape(heads.shape[0], -1)
        first, step = self.log_head[:, :1], self.log_head[:, 1:2] - self.log_head[:, :1]
        place = np.clip((flat - first) / step, 0.0, NODES - 1.0)
        cell = np.minimum(place.astype(np.intp), NODES - 2)
        share = np.where(np.isnan(heads).reshape(flat.shape), np.nan, place - cell)
        limit, pct, exponent = (
            self._mix(a, cell, share).reshape(heads.shape)
            for a in (self.limit, self.device_pct, self.exponent)
        )
        return limit, pct, exponent

    @staticmethod
    def _mix(values: Floats, cell: NDArray[np.intp], share: Floats) -> Floats:
        low = np.take_along_axis(values, cell, axis=1)
        high = np.take_along_axis(values, cell + 1, axis=1)
        mixed: Floats = low + share * (high - low)
        return mixed
