"""What a derived row rests on, as it is cited beside it, and in which words two citations differ.

This is the one list of the sources of a derived figure. A month of the long record cites the
ratings and gauge zeros of its stretches, the corrections that touch it, the logger files whose
readings count in it, the loggers that stand over the staff, the structure's own figures, and the
site's clock by the ends of its stretches. The discharge of a reading cites its rating, its gauge
zero, the structure's figures and the office's limits it was judged by. A source that is not cited
here cannot make a row stale.

What is worked out whenever somebody looks (limits of takes, the start of the water year) is no
source: it cannot be out of date.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.layers import CLOCKS, Shape
from app.hydraulics.series.stretches import gap_rule_s
from app.records.flows import FlowValue
from app.records.sensors import CorrectionLayer
from app.records.sites import GaugeZero, Rating, Structure
from app.services.readings.rate import ENGINE
from app.services.series.flow import Inputs, stretches
from app.services.series.raw import RawSeries

MARGIN_S = 2 * DAY_S  # a month is made with so much of its neighbours
Cited = Mapping[str, Any]

WORDS = {
    "rating": "another rating is in force",
    "gauge_zero": "another gauge zero is in force",
    "clock": "the site's time has another offset from UTC",
    "layers": "corrections were added or taken back",
    "imports": "other logger files count",
    "reads_staff": "a logger stands over another zero",
    "head_uncertainty_m": "the uncertainty of a head was changed",
    "pond_area_m2": "the area of the head pond was changed",
    "limits": "the office's limits for judging a reading were changed",
}
FINDINGS_ONLY = frozenset({"pond_area_m2"})  # moves no figure of a month, only its checks


def span_of(row: CorrectionLayer) -> tuple[int, int]:
    """Return the range of true time a correction can touch, both ends included."""
    slack = 0
    if Shape(row.shape) in CLOCKS:
        amounts = (abs(row.amount or 0.0), abs(row.amount_end or 0.0))
        slack = math.ceil(max(amounts))
    return row.from_s - slack, row.to_s + slack


def reach_of(inputs: Inputs, t_s: NDArray[np.int64], tail_s: NDArray[np.int64]) -> int:
    """Return how far beyond its ends a month looks: a stretch over midnight, and clock errors.

    The last stretch of a month ends at the first reading of the next one.
    """
    gap = max(gap_rule_s(t_s), gap_rule_s(tail_s) if tail_s.size else 0)
    return min(gap, MARGIN_S) + slack_of(inputs)


def slack_of(inputs: Inputs) -> int:
    """Return by how much a correction of a clock moves readings at most, seconds."""
    return max((row.from_s - span_of(row)[0] for row in inputs.layers), default=0)


def counting(raws: Sequence[RawSeries], from_s: int, to_s: int) -> list[int]:
    """Return the imports whose readings count in a range, the end excluded.

    A file that only repeats what an earlier one holds does not count.
    """
    found: set[int] = set()
    for raw in raws:
        a, b = np.searchsorted(raw.t_s, (from_s, to_s), "left").tolist()
        found.update(np.unique(raw.import_id[a:b]).tolist())
    return sorted(found)


def of_month(
    inputs: Inputs,
    from_s: int,
    to_s: int,
    reach_s: int,
    imports: Sequence[int],
    logger_of: Mapping[int, int],
) -> dict[str, Any]:
    """Return what a month is made from now, `imports` being the files that count in it."""
    begin, end = from_s - reach_s, to_s + reach_s
    parts = stretches(inputs, begin, end)
    touching = [row for row in inputs.layers if _meets(span_of(row), begin, end)]
    return {
        "from_s": from_s,
        "to_s": to_s,
        "reach_s": reach_s,
        "stretches": [
            [a, b, rating.id if rating else None, zero.id if zero else None]
            for a, b, rating, zero in parts
        ],
        "layers": [[row.id, row.from_s, row.to_s] for row in touching],
        "imports": list(imports),
        "reads_staff": sorted({logger_of[key] for key in imports} & inputs.staff_loggers),
        "head_uncertainty_m": inputs.structure.head_uncertainty_m,
        "pond_area_m2": inputs.structure.pond_area_m2,
    }


def _meets(span: tuple[int, int], from_s: int, to_s: int) -> bool:
    return span[1] >= from_s and span[0] < to_s


def of_reading(
    structure: Structure, rating: Rating | None, zero: GaugeZero | None, limits: str | None
) -> dict[str, Any]:
    """Return what the discharge of a reading is made from now."""
    return {
        "rating": rating.id if rating else None,
        "gauge_zero": zero.id if zero else None,
        "head_uncertainty_m": structure.head_uncertainty_m,
        "pond_area_m2": structure.pond_area_m2,
        "limits": limits,
    }


def of_value(value: FlowValue | Any) -> dict[str, Any]:
    """Return what the discharge of a reading was made from."""
    return {
        "rating": value.rating_id,
        "gauge_zero": value.gauge_zero_id,
        "head_uncertainty_m": value.structure_head_uncertainty_m,
        "pond_area_m2": value.structure_pond_area_m2,
        "limits": value.limits,
    }


def differences(made: Cited, engine: str, now: Cited) -> dict[str, str]:
    """Return in what two citations differ: the source, and words for people; empty: in nothing."""
    said = {} if engine == ENGINE else {"engine": f"computed by {engine}, now {ENGINE}"}
    if set(made) != set(now):
        return said | {"unknown": "what it was made from is not known in full"}
    if "stretches" in now:
        said |= _stretches(made, now)
    plain: Collection[str] = WORDS.keys() & now.keys()
    return said | {key: WORDS[key] for key in WORDS if key in plain and made[key] != now[key]}


def _stretches(made: Cited, now: Cited) -> dict[str, str]:
    """Return whether rating, gauge zero or the clock of a month are others now."""
    if (made["from_s"], made["to_s"]) != (now["from_s"], now["to_s"]):
        return {"clock": WORDS["clock"]}
    keys = []
    for key, place in (("rating", 2), ("gauge_zero", 3)):
        if _steps(made["stretches"], place) != _steps(now["stretches"], place):
            keys.append(key)
    return {key: WORDS[key] for key in keys}


def _steps(parts: Sequence[Sequence[Any]], place: int) -> list[tuple[int, Any]]:
    """Return from when which row held, a boundary without a change left out."""
    steps: list[tuple[int, Any]] = []
    for part in parts:
        if not steps or steps[-1][1] != part[place]:
            steps.append((part[0], part[place]))
    return steps
