"""Staff minus sensor: what the checks of the visits say, and the correction they suggest.

The offset of a check is *staff minus sensor*, so a correction is added to the sensor. Between
two checks the sensor ran from the first one's *as left* offset to the second one's *as found*.
The tool offers none, an offset, a ramp or a step, with the reason; a person decides.

Public functions
----------------
acceptance(offset_m, head_m=nan, *, exponent=1.5, bands=ACCEPTANCE) -> Band
offer_layers(checks, *, steps_s=(), exponent=1.5, bands=ACCEPTANCE) -> list[Offer]
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from app.errors import BadInput
from app.hydraulics.series.layers import Layer, Shape


@dataclass(frozen=True)
class Band:
    """One acceptance band: an offset beyond any of its limits belongs to this band."""

    key: str
    over_m: float
    over_flow_pct: float
    action: str


# Common practice: defaults a person may edit, no law and no standard. Ordered from fine to bad.
ACCEPTANCE: tuple[Band, ...] = (
    Band("fine", 0.0, 0.0, "no correction, keep the note"),
    Band("correct", 0.002, math.inf, "correct the record, do not touch the sensor"),
    Band("find the cause", 0.005, 3.0, "correct, find the cause, re-level soon"),
    Band("fault", 0.020, math.inf, "treat as a fault: check seating, vent and zero"),
)
FINE_SHARE_OF_HEAD = 0.01  # common practice: up to 1 % of the head needs no correction
STEADY_M = 0.001  # common practice: two checks this close show a constant offset, not a drift


@dataclass(frozen=True)
class Check:
    """Staff minus sensor at one visit, as found and as left, metres; head for the percentages."""

    at_s: int
    found_m: float
    left_m: float
    head_m: float = math.nan


@dataclass(frozen=True)
class Offer:
    """What is suggested between two checks: a layer or none, the band, why, and what else."""

    from_s: int
    to_s: int
    layer: Layer | None
    band: Band
    why: str
    alternatives: tuple[Layer, ...] = ()


def acceptance(
    offset_m: float,
    head_m: float = math.nan,
    *,
    exponent: float = 1.5,
    bands: Sequence[Band] = ACCEPTANCE,
) -> Band:
    """Return the band an offset falls in; flow per cent is exponent * offset / head.

    Raises
    ------
    BadInput
        If the offset is not a number or there is no band.
    """
    if not bands:
        raise BadInput("bands", 0, "there is at least one acceptance band", "Restore the defaults.")
    if not math.isfinite(offset_m):
        raise BadInput(
            "offset", offset_m, "the offset is a number", "Read staff and sensor at one time."
        )
    size = abs(offset_m)
    known = math.isfinite(head_m) and head_m > 0.0
    flow_pct = 100.0 * exponent * size / head_m if known else 0.0
    found = bands[0]
    for band in bands[1:]:
        # 1e-9 m: an offset of exactly the limit, written in binary, is still at the limit
        if size > band.over_m + 1e-9 or flow_pct > band.over_flow_pct:
            found = band
    if known and size <= FINE_SHARE_OF_HEAD * head_m and size <= bands[-1].over_m:
        return bands[0]
    return found


def offer_layers(
    checks: Sequence[Check],
    *,
    steps_s: Sequence[int] = (),
    exponent: float = 1.5,
    bands: Sequence[Band] = ACCEPTANCE,
) -> list[Offer]:
    """Return one offer for each pair of neighbouring checks, in time order.

    Parameters
    ----------
    checks : sequence of Check
        At least two make an offer; before the first check nothing is known.
    steps_s : sequence of int
        Times at which the record steps without a gate change, from `faults.find_faults`.
    """
    ordered = sorted(checks, key=lambda check: check.at_s)
    offers = []
    for before, after in pairwise(ordered):
        begin, end = before.left_m, after.found_m
        worst = begin if abs(begin) > abs(end) else end
        band = acceptance(worst, after.head_m, exponent=exponent, bands=bands)
        span = (before.at_s, after.at_s)
        if band is bands[0]:
            offers.append(Offer(*span, None, band, "both checks agree within the first band"))
            continue
        ramp = Layer(Shape.RAMP, *span, begin, end)
        inside = [at for at in steps_s if before.at_s < at < after.at_s]
        steps = tuple(Layer(Shape.STEP, *span, begin, end, at_s=at) for at in inside)
        if abs(end - begin) <= STEADY_M:
            mean = (begin + end) / 2.0
            layer = Layer(Shape.OFFSET, *span, mean, mean)
            offers.append(
                Offer(*span, layer, band, "the offset was the same at both checks", (ramp, *steps))
            )
        elif len(steps) == 1:
            why = "the record steps once between the checks and no gate was moved"
            offers.append(Offer(*span, steps[0], band, why, (ramp,)))
        else:
            fouled = abs(after.left_m) <= bands[min(1, len(bands) - 1)].over_m < abs(end)
            why = (
                "the offset went away with cleaning or adjusting: it grew since the last check"
                if fouled
                else "the offset grew between the checks and no single step explains it"
            )
            offers.append(Offer(*span, ramp, band, why, steps))
    return offers
