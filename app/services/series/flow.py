"""From raw readings of a logger to discharge, as arrays: the one road of the long record.

Raw head -> gauge zero in force (for loggers set to the staff; others stand over the crest
already) -> correction layers in their fixed order -> rating in force -> discharge, uncertainty,
flow word and flags. The zero is added before the layers because offsets, ramps and steps are sums
and so the order makes no difference to them, while a head that a person estimates is then over
the crest like every other figure. Nothing is read from or written to the derived tables here.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlmodel import Session, col, select

from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.base.units import DAY_S
from app.hydraulics.rating.rate import rate
from app.hydraulics.series.layers import (
    CLOCKS,
    Corrected,
    apply_layers,
    clock_error_s,
)
from app.hydraulics.series.stretches import closed, gap_rule_s
from app.hydraulics.structure.device import Flag, Flow
from app.records.sensors import CorrectionLayer, LayerWithdrawal, Logger
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.series.layering import layer_of, within
from app.services.series.raw import raw_series
from app.services.series.spread import estimate_pct, head_spread_m
from app.services.sites.dated import Dated, device_of, histories
from app.services.sites.structures import place

STAFF = "staff"
QUANTITIES = ("head", "tailwater")


@dataclass(frozen=True)
class Inputs:
    """All that turns the raw readings of a structure into flows; read once, used for any range."""

    site: Site
    structure: Structure
    ratings: list[Rating]
    zeros: list[GaugeZero]
    layers: list[CorrectionLayer]
    staff_loggers: frozenset[int]

    @property
    def offset_min(self) -> int:
        return self.site.utc_offset_min

    def layers_of(self, quantity: str) -> list[CorrectionLayer]:
        return [layer for layer in self.layers if layer.quantity == quantity]

    def with_layers(self, layers: Sequence[CorrectionLayer]) -> "Inputs":
        """Return the same inputs with other corrections, for a preview."""
        return replace(self, layers=list(layers))


@dataclass(frozen=True, kw_only=True)
class Flows:
    """A derived series, arrays of shape (n,), by time.

    `raw_m` is the reading as the logger wrote it (NaN for an estimate), `head_m` and
    `tailwater_m` are over the crest. `estimate_pct` is how well the flow would be known here had
    nobody read the head. `how` holds codes of `How`. `stretches` lists
    (from_s, to_s, rating id or None, gauge zero id or None).
    """

    t_s: Ints
    raw_m: Floats
    head_m: Floats
    tailwater_m: Floats
    discharge_m3s: Floats
    uncertainty_pct: Floats
    estimate_pct: Floats
    flow: NDArray[np.int8]
    flags: Ints
    how: NDArray[np.int8]
    stretches: list[tuple[int, int, int | None, int | None]]

    @property
    def how_flow(self) -> NDArray[np.int8]:
        """Return `how` for the flows: a reading whose flow is not determined is never bridged."""
        return closed(self.how, self.head_m, self.discharge_m3s)


def inputs_of(session: Session, structure_id: int) -> Inputs:
    """Return what the flows of a structure rest on; raises NotFound."""
    place(session, structure_id)
    return inputs_of_many(session, [structure_id])[structure_id]


def inputs_of_many(session: Session, ids: Collection[int]) -> dict[int, Inputs]:
    """Return what the flows of some structures rest on, in five statements however many."""
    places = session.exec(
        select(Structure, Site).where(
            col(Structure.id).in_(ids), col(Structure.site_id) == col(Site.id)
        )
    ).all()
    withdrawn = sa.select(col(LayerWithdrawal.layer_id))
    layers: dict[int, list[CorrectionLayer]] = {}
    for layer in session.exec(
        select(CorrectionLayer)
        .where(
            col(CorrectionLayer.structure_id).in_(ids),
            col(CorrectionLayer.id).not_in(withdrawn),
        )
        .order_by(col(CorrectionLayer.id))
    ):
        layers.setdefault(layer.structure_id, []).append(layer)
    staff: dict[int, set[int]] = {}
    over_staff = sa.select(col(Logger.structure_id), col(Logger.id)).where(
        col(Logger.structure_id).in_(ids), col(Logger.reads) == STAFF
    )
    for structure_id, logger_id in session.execute(over_staff):
        staff.setdefault(structure_id, set()).add(logger_id)
    ratings, zeros = histories(session, Rating, ids), histories(session, GaugeZero, ids)
    return {
        key: Inputs(
            site,
            structure,
            sorted(ratings[key], key=_since),
            sorted(zeros[key], key=_since),
            layers.get(key, []),
            frozenset(staff.get(key, ())),
        )
        for structure, site in places
        if (key := structure.id) is not None
    }


def _since(row: Rating | GaugeZero) -> tuple[float, int]:
    return row.valid_from.timestamp(), row.id or 0


def stretches(
    inputs: Inputs, from_s: int, to_s: int
) -> list[tuple[int, int, Rating | None, GaugeZero | None]]:
    """Return the parts of a range with one rating and one gauge zero each."""
    edges = {from_s, to_s}
    dated: list[Rating | GaugeZero] = [*inputs.ratings, *inputs.zeros]
    for row in dated:
        begin = int(np.ceil(row.valid_from.timestamp()))
        if from_s < begin < to_s:
            edges.add(begin)
    ordered = sorted(edges)
    parts = []
    for begin, end in pairwise(ordered):
        parts.append((begin, end, _at(inputs.ratings, begin), _at(inputs.zeros, begin)))
    return parts


def _at(rows: Sequence[Dated], at_s: int) -> Dated | None:
    """Return the row in force; rows are in the order in which they take over."""
    begun = [row for row in rows if row.valid_from.timestamp() <= at_s]
    return begun[-1] if begun else None


def corrected(
    session: Session, inputs: Inputs, quantity: str, from_s: int, to_s: int
) -> tuple[Corrected, Floats]:
    """Return the corrected heads of a range over the crest, and the raw figure of each point."""
    layers = [layer_of(row) for row in inputs.layers_of(quantity)]
    clocks = [layer for layer in layers if layer.shape in CLOCKS]
    slack = int(max((abs(x) for c in clocks for x in (c.amount, c.amount_end)), default=0)) + 1
    raw = raw_series(session, inputs.structure.id or 0, quantity, from_s - slack, to_s + slack)
    value = raw.value_m.copy()
    on_staff = np.isin(raw.logger_id, list(inputs.staff_loggers))
    if on_staff.any():
        true_s = raw.t_s - np.rint(clock_error_s(raw.t_s, clocks)).astype(np.int64)
        value += np.where(on_staff, zero_offsets(inputs, quantity, true_s), 0.0)
    span = (from_s - slack, to_s + slack)
    near = [c for c in layers if c.to_s >= span[0] and c.from_s <= span[1]]
    near = [within(layer, *span) for layer in near]
    found = apply_layers(raw.t_s, value, near)
    begin = int(np.searchsorted(found.t_s, from_s, "left"))
    end = int(np.searchsorted(found.t_s, to_s, "left"))
    cut = slice(begin, end)
    source = found.source[cut]
    raw_m = np.full(source.shape, np.nan)
    raw_m[source >= 0] = raw.value_m[source[source >= 0]]
    return Corrected(found.t_s[cut], found.value[cut], found.how[cut], source), raw_m


def zero_offsets(inputs: Inputs, quantity: str, t_s: Ints) -> Floats:
    """Return what is added to a staff figure at each time; NaN where no zero is in force."""
    offset = np.full(t_s.shape, np.nan)
    if t_s.size == 0:
        return offset
    for begin, end, _, zero in stretches(inputs, int(t_s.min()), int(t_s.max()) + 1):
        if zero is not None:
            inside = (t_s >= begin) & (t_s < end)
            offset[inside] = zero.offset_m if quantity == "head" else zero.tail_offset_m
    return offset


def _at_times(t_s: Ints, other: Corrected) -> Floats:
    """Return the tailwater at the times of the heads, a gap never bridged."""
    known = np.isfinite(other.value)
    t, v = other.t_s[known], other.value[known]
    out = np.full(t_s.shape, np.nan)
    if t.size == 0 or t_s.size == 0:
        return out
    after = np.clip(np.searchsorted(t, t_s, "left"), 0, t.size - 1)
    same = t[after] == t_s
    before = np.clip(after - 1, 0, t.size - 1)
    between = (t[before] < t_s) & (t[after] > t_s) & (t[after] - t[before] <= gap_rule_s(t))
    usable = same | between
    out[usable] = np.interp(t_s[usable], t, v)
    return out


def cut(whole: Flows, from_s: int, to_s: int) -> Flows:
    """Return the part of a derived series in a range, the end excluded."""
    a, b = np.searchsorted(whole.t_s, (from_s, to_s), "left").tolist()
    return taken(whole, slice(a, b))


def taken(whole: Flows, which: slice | NDArray[np.bool_]) -> Flows:
    """Return some readings of a derived series."""
    arrays = {k: v[which] for k, v in vars(whole).items() if isinstance(v, np.ndarray)}
    return Flows(stretches=whole.stretches, **arrays)


def flows(session: Session, inputs: Inputs, from_s: int, to_s: int) -> Flows:
    """Return the derived series from `from_s` (included) to `to_s` (excluded)."""
    head, raw_m = corrected(session, inputs, "head", from_s, to_s)
    tail, _ = corrected(session, inputs, "tailwater", from_s - DAY_S, to_s + DAY_S)
    n = head.t_s.size
    tailwater = _at_times(head.t_s, tail)
    out = Flows(
        t_s=head.t_s,
        raw_m=raw_m,
        head_m=head.value,
        tailwater_m=tailwater,
        discharge_m3s=np.full(n, np.nan),
        uncertainty_pct=np.full(n, np.nan),
        estimate_pct=np.full(n, np.nan),
        flow=np.full(n, Flow.NOT_RATED, np.int8),
        flags=np.zeros(n, np.int64),
        how=head.how,
        stretches=[],
    )
    own = inputs.structure.head_uncertainty_m
    spread = head_spread_m(own, inputs.layers_of("head"), head.t_s)
    for begin, end, rating, zero in stretches(inputs, from_s, to_s):
        out.stretches.append((begin, end, rating.id if rating else None, zero.id if zero else None))
        a, b = np.searchsorted(head.t_s, (begin, end), "left").tolist()
        part = slice(a, b)
        if rating is None or a == b:
            out.flags[part] |= np.where(np.isnan(head.value[part]), int(Flag.HEAD_MISSING), 0)
            continue
        tails = tailwater[part]
        rated = rate(
            device_of(rating),
            head.value[part],
            tails if np.isfinite(tails).any() else None,
            spread if isinstance(spread, float) else spread[part],
        )
        out.discharge_m3s[part] = rated.discharge_m3s
        out.uncertainty_pct[part] = rated.uncertainty_pct
        slope = device_of(rating).log_slope(np.maximum(head.value[part], 1e-6))
        out.estimate_pct[part] = estimate_pct(rated.uncertainty_pct, slope, head.how[part])
        out.flow[part] = rated.flow
        out.flags[part] = rated.flags
    return out
