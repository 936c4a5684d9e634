"""Staff against sensor at every reading: the offsets a correction rests on.

The offset is staff minus sensor over one and the same zero, with the clock set right and nothing
else corrected. As found it is compared with the last reading of the logger before the staff was
read, as left with the first one after, because between the two somebody may clean or adjust.
"""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from app.hydraulics.base.arrays import apart
from app.hydraulics.series.layers import How
from app.hydraulics.series.sensor_checks import Band, Check, acceptance
from app.language.trade import OCCASIONS
from app.services.entries.links import what_stands
from app.services.entries.standing import Standing
from app.services.readings.list import standing_of
from app.services.series import read as series_read
from app.services.series.flow import Inputs, inputs_of, zero_offsets
from app.services.settings.in_force import bands
from app.services.sites.changes import names_of

NEAR_S = 1800  # a logger that reads more seldom is not compared


@dataclass(frozen=True, kw_only=True)
class CheckLine:
    """Staff against sensor at one reading; offsets in metres, None where there is no sensor."""

    entry_id: str
    visit_id: str | None
    at: datetime
    occasion: str
    head_m: float
    sensor_m: float
    offset_m: float
    left_offset_m: float | None
    band: str
    action: str
    source: str
    by: str


@dataclass(frozen=True)
class Line:
    """Readings of a sensor by time, the missing ones left out."""

    t_s: NDArray[np.int64]
    value: NDArray[np.float64]

    @classmethod
    def of(cls, t_s: NDArray[np.int64], value: NDArray[np.float64]) -> "Line":
        known = np.isfinite(value)
        return cls(t_s[known], value[known])


@dataclass(frozen=True)
class Seen:
    """One standing reading with what the sensor said then."""

    row: dict[str, Any]
    at_s: int
    occasion: str
    sensor_m: float
    after_m: float
    typed: bool

    @property
    def offset_m(self) -> float:
        return float(apart(self.row["head_m"] - self.sensor_m))


def checks(
    session: Session, structure_id: int, seen: "list[Seen] | None" = None
) -> list[CheckLine]:
    """Return staff against sensor for every reading that has both, oldest first."""
    if seen is None:
        seen = seen_by(session, inputs_of(session, structure_id))
    return check_lines(seen, bands(session), names_of(session))


def check_lines(
    seen: Sequence["Seen"], limits: tuple[Band, ...], names: Mapping[int, str]
) -> list[CheckLine]:
    """Return staff against sensor of what was seen, judged by the acceptance bands."""
    lines = []
    for one in seen:
        band = acceptance(one.offset_m, one.row["head_m"], bands=limits)
        left = float(apart(one.row["head_m"] - one.after_m))
        lines.append(
            CheckLine(
                entry_id=one.row["id"],
                visit_id=one.row["visit_id"],
                at=one.row["observed_at"],
                occasion=OCCASIONS[one.occasion],
                head_m=one.row["head_m"],
                sensor_m=one.sensor_m,
                offset_m=one.offset_m,
                left_offset_m=left if math.isfinite(left) else None,
                band=band.key,
                action=band.action,
                source="typed" if one.typed else "series",
                by=names.get(one.row["by_id"], ""),
            )
        )
    return lines


def seen_by(session: Session, inputs: Inputs) -> list[Seen]:
    structure_id = inputs.structure.id or 0
    links = what_stands(session, inputs.site.id)
    return seen_of(session, {structure_id: inputs}, links)[structure_id]


def seen_of(session: Session, many: Mapping[int, Inputs], links: Standing) -> dict[int, list[Seen]]:
    """Return the readings of some structures with what their sensors said, in two statements."""
    read = standing_of(session, {key: x.site.id or 0 for key, x in many.items()}, links)
    rows = {key: [row for row in read[key] if row["head_m"] is not None] for key in many}
    ranges = {
        key: (
            int(found[0]["observed_at"].timestamp()) - NEAR_S,
            int(found[-1]["observed_at"].timestamp()) + NEAR_S,
        )
        for key, found in rows.items()
        if found
    }
    series = series_read.load_many(session, ranges, ("head_m", "raw_m", "how"))
    return {
        key: _compared(many[key], rows[key], series[key]) if key in series else [] for key in many
    }


def _compared(
    inputs: Inputs, rows: Sequence[dict[str, Any]], series: series_read.Arrays
) -> list[Seen]:
    plain, done = sensor_lines(inputs, series)
    zeros = {zero.id: zero.offset_m for zero in inputs.zeros}
    out = []
    for row in rows:
        at = int(row["observed_at"].timestamp())
        occasion = row["body"].get("occasion", "during")
        typed = row["body"].get("sensor_head_m")
        after = _reading(done, at, occasion)
        if typed is not None:
            staff = zeros.get(row["gauge_zero_id"], 0.0) if inputs.staff_loggers else 0.0
            sensor = float(typed) + staff
        else:
            sensor = _reading(plain, at, occasion)
        if math.isfinite(sensor):
            out.append(Seen(row, at, occasion, sensor, after, typed is not None))
    return out


def sensor_lines(inputs: Inputs, found: series_read.Arrays) -> tuple[Line, Line]:
    """Return what the sensor said over the crest, uncorrected but for its clock, and corrected."""
    t, raw = found["t_s"], found["raw_m"].astype(float)
    raw[np.isin(found["how"], (How.SPIKE, How.NO_RECORD))] = np.nan
    if inputs.staff_loggers:
        raw += zero_offsets(inputs, "head", t)
    return Line.of(t, raw), Line.of(t, found["head_m"])


def _reading(line: Line, at_s: int, occasion: str) -> float:
    """Return what the sensor said at a time: before, after or between two readings."""
    t, value = line.t_s, line.value
    k = int(np.searchsorted(t, at_s, "right"))
    before = k - 1 if k and at_s - t[k - 1] <= NEAR_S else None
    later = k if k < t.size and t[k] - at_s <= NEAR_S else None
    if before is not None and t[before] == at_s:
        return float(value[before])
    if occasion == "as_found":
        return math.nan if before is None else float(value[before])
    if occasion == "as_left":
        return math.nan if later is None else float(value[later])
    if before is None or later is None:
        return math.nan
    return float(np.interp(at_s, t[before : later + 1], value[before : later + 1]))


@dataclass(frozen=True)
class VisitCheck:
    """The offset of one visit as found and as left, and when the staff was read as found."""

    check: Check
    found_s: int


def visit_checks(seen: list[Seen]) -> list[VisitCheck]:
    """Return one check a visit: the offset as found and as left."""
    groups: dict[str, list[Seen]] = defaultdict(list)
    for one in seen:
        groups[one.row["visit_id"] or one.row["id"]].append(one)
    out = []
    for group in groups.values():
        found = next((s for s in group if s.occasion == "as_found"), group[0])
        left = next((s for s in reversed(group) if s.occasion == "as_left"), group[-1])
        check = Check(left.at_s, found.offset_m, left.offset_m, float(found.row["head_m"]))
        out.append(VisitCheck(check, found.at_s))
    return sorted(out, key=lambda visit: visit.check.at_s)


def check_chart(session: Session, structure_id: int) -> dict[str, Any]:
    """Return the checks as columns for a chart, and the acceptance bands to draw behind them."""
    lines = checks(session, structure_id)
    return {
        "t": [int(line.at.timestamp()) for line in lines],
        "offset_mm": [round(1000.0 * line.offset_m, 3) for line in lines],
        "left_mm": [
            None if line.left_offset_m is None else round(1000.0 * line.left_offset_m, 3)
            for line in lines
        ],
        "occasion": [line.occasion for line in lines],
        "band": [line.band for line in lines],
        "bands": [
            {
                "key": band.key,
                "over_mm": 1000.0 * band.over_m,
                "over_flow_pct": band.over_flow_pct if math.isfinite(band.over_flow_pct) else None,
                "action": band.action,
                "provenance": "common practice",
            }
            for band in bands(session)
        ],
    }
