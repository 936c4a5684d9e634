"""One quantity of one structure over a view, thinned to its width: from the logger, else as read.

Up to about a year the stored series itself is thinned; beyond that the envelopes by days are taken
that were made with the series. A structure without a logger shows what people read, and a line
only where the gap rule lets two readings stand together. No peak is lost and no gap bridged.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlmodel import Session

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series import envelopes
from app.hydraulics.series.envelopes import Envelope
from app.hydraulics.series.stretches import DEFAULT_GAP_S, closed, gap_rule_s
from app.records.sites import Site, Structure
from app.services.readings.history import figures, seconds
from app.services.record.points import read_points
from app.services.series import read as series_read

FINE_S = 400 * DAY_S  # longer views are drawn from the sketches
COLUMN_OF = {"discharge": "discharge_m3s", "head": "head_m", "tailwater": "tailwater_m"}
LOGGER, STAFF = "logger", "staff readings"


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """An envelope as drawn: whether every reading is in it, and of whom they are.

    `spread` is the uncertainty of each reading by its second, in the unit of the quantity.
    """

    envelope: Envelope
    full: bool
    of: str
    spread: dict[int, float]

    def columns(self) -> dict[str, list[Any]]:
        """Return the columns of a chart, `spread` among them where every reading is drawn."""
        made = envelopes.columns(self.envelope)
        if self.full and self.spread:
            made["spread"] = [
                None if mean is None else self.spread.get(t)
                for t, mean in zip(made["t"], made["mean"], strict=True)
            ]
        return made


def drawn(
    session: Session,
    site: Site,
    structure: Structure,
    begin_s: int,
    end_s: int,
    *,
    what: str,
    columns: int,
) -> Drawn:
    """Return a quantity over a view, both ends included."""
    assert structure.id is not None
    if series_read.stored_span(session, structure.id) is None:
        rows = read_points(session, site, structure, begin_s, end_s)
        found: dict[str, Any] = {"t_s": seconds(rows), "how": np.zeros(len(rows), np.int8)}
        for name in (*COLUMN_OF.values(), "uncertainty_pct"):
            found[name] = figures(rows, name)
        return _thinned(found, begin_s, end_s, what=what, columns=columns, of=STAFF)
    if end_s - begin_s > FINE_S and what in series_read.SKETCHES:
        days = series_read.sketch(session, structure.id, what, begin_s, end_s)
        step = max(1, -(-(end_s - begin_s) // (columns * DAY_S))) * DAY_S
        if step > DAY_S:
            days = envelopes.coarsen(days, step, origin_s=-site.utc_offset_min * 60)
        return Drawn(envelope=days, full=False, of=LOGGER, spread={})
    names = (COLUMN_OF[what], "how", "head_m", "uncertainty_pct")
    stored = series_read.load(session, structure.id, begin_s, end_s, names)
    return _thinned(stored, begin_s, end_s, what=what, columns=columns, of=LOGGER)


def _thinned(
    found: dict[str, Any], begin_s: int, end_s: int, *, what: str, columns: int, of: str
) -> Drawn:
    t, value, how = found["t_s"], found[COLUMN_OF[what]], found["how"]
    spread: dict[int, float] = {}
    if what == "discharge":
        how = closed(how, found["head_m"], value)
        value = _with_uncertainty(value, found["uncertainty_pct"])
    full = bool(t.size <= columns)
    if what == "discharge" and full:
        half = value * found["uncertainty_pct"] / 100.0
        spread = {int(at): float(u) for at, u in zip(t, half, strict=True) if np.isfinite(u)}
    gap_s = gap_rule_s(t) if of == LOGGER else DEFAULT_GAP_S
    made = envelopes.thin(t, value, columns, gap_s=gap_s, how=how, from_s=begin_s, to_s=end_s)
    return Drawn(envelope=made, full=full, of=of, spread=spread)


def _with_uncertainty(discharge_m3s: Floats, uncertainty_pct: Floats) -> Floats:
    """Return the discharges of which the uncertainty is known; no flow needs none."""
    unknown = ~np.isfinite(uncertainty_pct) & (discharge_m3s != 0.0)
    out: Floats = np.where(unknown, np.nan, discharge_m3s)
    return out
