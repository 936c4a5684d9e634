"""Thirty days of a site as a small line: the lowest and the highest of each day, gaps left open."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, col

from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.envelopes import Envelope
from app.language import words
from app.language.drawing import Drawing
from app.records.flows import FlowValue
from app.records.sites import Site, Structure
from app.services.entries.links import standing_only
from app.services.entries.standing import Standing
from app.services.series.months import instant
from app.services.series.read import sketches

DAYS = 30
WIDTH, HEIGHT, EDGE = 150.0, 34.0, 3.0
Reading = tuple[int, float]


@dataclass(frozen=True)
class Seen:
    """What thirty days of one structure hold: its envelope by days, and readings of the staff."""

    envelope: Envelope
    readings: Sequence[Reading]

    @property
    def last_s(self) -> int:
        known = self.envelope.to_s[np.isfinite(self.envelope.high)]
        series = int(known[-1]) if known.size else 0
        return max([series, *(t for t, _ in self.readings)])

    @property
    def values(self) -> list[float]:
        """Return every figure that is drawn, m3/s."""
        low, high = self.envelope.low, self.envelope.high
        known = np.concatenate([low[np.isfinite(low)], high[np.isfinite(high)]])
        return [*known.tolist(), *(q for _, q in self.readings)]


def lines(
    session: Session,
    sites: Sequence[Site],
    structures: Mapping[int, Sequence[Structure]],
    links: Standing,
    now: datetime,
) -> dict[int, Drawing]:
    """Return the small line of each site that has figures; of several structures the newest's."""
    to_s = int(now.timestamp())
    from_s = to_s - DAYS * DAY_S
    ids = [x.id for found in structures.values() for x in found if x.id is not None]
    envelopes = sketches(session, ids, "discharge", from_s, to_s)
    readings: dict[int, list[Reading]] = {}
    for key, at, discharge in session.execute(
        sa.select(col(FlowValue.structure_id), col(FlowValue.at), col(FlowValue.discharge_m3s))
        .where(
            col(FlowValue.current),
            col(FlowValue.at) >= instant(from_s),
            col(FlowValue.at) <= now,
            col(FlowValue.discharge_m3s).is_not(None),
            standing_only(session, FlowValue.entry_id, links),
        )
        .order_by(col(FlowValue.at))
    ):
        readings.setdefault(key, []).append((int(at.timestamp()), discharge))
    found = {}
    for site in sites:
        own = structures.get(site.id or 0, ())
        seen = [Seen(envelopes[x.id], readings.get(x.id, [])) for x in own if x.id is not None]
        known = [one for one in seen if one.values]
        if known and site.id is not None:
            newest = max(known, key=lambda one: one.last_s)
            found[site.id] = line(f"line-{site.id}", newest, from_s, to_s, site.utc_offset_min)
    return found


def line(key: str, seen: Seen, from_s: int, to_s: int, offset_min: int) -> Drawing:
    """Draw one small line; its title says lowest, highest and how many days are without record."""
    top = max(max(seen.values), 1e-9)
    drawn = Drawing(key=key, width=WIDTH, height=HEIGHT, title="", font_px=10.0)

    def x(t_s: float) -> float:
        inside = min(max(t_s, from_s), to_s)
        return EDGE + (WIDTH - 2 * EDGE) * (inside - from_s) / (to_s - from_s)

    def y(discharge: float) -> float:
        return HEIGHT - EDGE - (HEIGHT - 2 * EDGE) * discharge / top

    drawn.line([(EDGE, HEIGHT - EDGE), (WIDTH - EDGE, HEIGHT - EDGE)], "leader")
    days = 0
    for part in runs(seen.envelope):
        days += len(part)
        upper = [(t, high) for a, b, _, high in part for t in (a, b)]
        lower = [(t, low) for a, b, low, _ in part for t in (a, b)]
        ring = [(x(t), y(q)) for t, q in [*upper, *reversed(lower)]]
        drawn.line(ring, "band", closed=True)
    for t_s, discharge in seen.readings:
        mid_x, mid_y = x(t_s), y(discharge)
        drawn.line(
            [
                (mid_x - 2.5, mid_y),
                (mid_x, mid_y - 2.5),
                (mid_x + 2.5, mid_y),
                (mid_x, mid_y + 2.5),
            ],
            "spot",
            closed=True,
        )
    drawn.title = said(seen, days, offset_min)
    return drawn


def runs(envelope: Envelope) -> list[list[tuple[int, int, float, float]]]:
    """Return the days with figures as from, to, low, high, in runs without a gap between them."""
    found: list[list[tuple[int, int, float, float]]] = []
    known = np.isfinite(envelope.low) & np.isfinite(envelope.high)
    for k in range(known.size):
        if not known[k]:
            continue
        day = (
            int(envelope.from_s[k]),
            int(envelope.to_s[k]),
            float(envelope.low[k]),
            float(envelope.high[k]),
        )
        if found and known[k - 1] and not envelope.gap_before[k]:
            found[-1].append(day)
        else:
            found.append([day])
    return found


def said(seen: Seen, days: int, offset_min: int) -> str:
    """Return what the line shows in words."""
    values = seen.values
    text = f"The last {DAYS} days: lowest {words.litres(min(values))}, highest "
    text += words.litres(max(values))
    high = seen.envelope.high
    if np.isfinite(high).any() and float(np.nanmax(high)) >= max(values):
        at = instant(int(seen.envelope.high_at_s[int(np.nanargmax(high))]))
        text += f" on {words.site_time(at, offset_min)}"
    count = len(seen.readings)
    if count:
        text += f"; {count} staff reading{'' if count == 1 else 's'}"
    if days:
        missing = max(DAYS - days, 0)
        text += f"; {missing} day{'' if missing == 1 else 's'} without record"
    else:
        text += "; no logger record"
    return text + "."
