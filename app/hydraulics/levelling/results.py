"""What a run of levels says of the structure, its gauge and its tail; the two-peg test.

Public functions (lengths and reduced levels in metres):

    crest_results(corners_m, *, corner_tolerance_m=0.002, exponent=1.5, low_head_m=0.1,
                  floor_rl_m=None, staff_mark_rl_m=None, staff_mark_m=None, sensor_rl_m=None,
                  water_rl_m=None, tail_floor_rl_m=None, tail_water_rl_m=None) -> CrestResults
    results_of_run(run, roles, *, adjusted=False, **options of crest_results) -> CrestResults
        roles: {"corners": [point, ...], "floor"|"staff_mark"|"sensor"|"water"|"tail_floor"|
        "tail_water": point}
    two_peg(*, middle_a_m, middle_b_m, end_a_m, end_b_m, end_distance_a_m, end_distance_b_m,
            middle_distance_a_m=0, middle_distance_b_m=0) -> TwoPeg
    head_error_pct(exponent, head_error_m, head_m) -> first-order effect on discharge
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.result import Result
from app.hydraulics.base.rounding import fixed, general
from app.hydraulics.base.units import DUST
from app.hydraulics.levelling.book import mark_name
from app.hydraulics.levelling.reduce import ReducedRun

COLLIMATION_LIMIT_MM_PER_M = 0.03
"""Kenney 2010, USGS TM 3-A19: 0.003 ft in 100 ft."""

CORNER_TOLERANCE_M = 0.002
"""Corner range for crests up to 0.6 m wide; common practice."""

POINT_ROLES = ("floor", "staff_mark", "sensor", "water", "tail_floor", "tail_water")


@dataclass(frozen=True, kw_only=True)
class CrestResults(Result):
    """Levels that matter at a structure; NaN (null) where the point was not levelled."""

    crest_rl_m: float
    corner_count: int
    corner_range_m: float
    corner_tolerance_m: float
    corners_inside: bool | None
    corner_word: str
    corner_effect_pct: float
    crest_above_floor_m: float
    zero_rl_m: float
    zero_minus_crest_m: float
    head_by_level_m: float
    staff_should_read_m: float
    sensor_below_crest_m: float
    crest_above_tail_floor_m: float
    tailwater_above_crest_m: float
    tailwater_ratio: float
    words: tuple[str, ...]


@dataclass(frozen=True)
class TwoPeg(Result):
    """Two-peg test of the level; a positive error is a line of sight that climbs."""

    collimation_mm_per_m: float
    limit_mm_per_m: float
    passes: bool
    true_difference_m: float
    end_a_should_read_m: float
    end_b_should_read_m: float


def crest_results(
    corners_m: Sequence[float],
    *,
    corner_tolerance_m: float = CORNER_TOLERANCE_M,
    exponent: float = 1.5,
    low_head_m: float = 0.1,
    floor_rl_m: float | None = None,
    staff_mark_rl_m: float | None = None,
    staff_mark_m: float | None = None,
    sensor_rl_m: float | None = None,
    water_rl_m: float | None = None,
    tail_floor_rl_m: float | None = None,
    tail_water_rl_m: float | None = None,
) -> CrestResults:
    """Derive crest, gauge zero, sensor and tail from levels of one run.

    Parameters
    ----------
    corners_m : sequence of reduced levels of the crest corners (four make a full set)
    corner_tolerance_m : allowed range of the corners
    exponent, low_head_m
        Exponent of the rating and the head at which the effect of the corner range is told: the
        error if the zero were tied to one edge, half the range, n dh / h.
    staff_mark_rl_m, staff_mark_m
        Level of a mark on the staff, and what the staff reads at that mark.
    others : reduced levels of the points named

    Raises
    ------
    BadInput
        No corner, or a tolerance or head that is not positive.
    """
    if len(corners_m) == 0:
        raise BadInput(
            "corners", "none", "the crest level needs its corners", "Level four corners."
        )
    if not low_head_m > 0.0 or not corner_tolerance_m > 0.0:
        raise BadInput(
            "low_head_m", low_head_m, "head and tolerance are more than zero", "Give 0.1, say."
        )
    corners = np.asarray(corners_m, dtype=np.float64)
    crest = float(corners.mean())
    spread = float(corners.max() - corners.min())
    floor, sensor, water, tail_floor, tail_water, mark_rl, mark = (
        math.nan if value is None else float(value)
        for value in (
            floor_rl_m, sensor_rl_m, water_rl_m, tail_floor_rl_m, tail_water_rl_m,
            staff_mark_rl_m, staff_mark_m,
        )
    )  # fmt: skip
    zero = mark_rl - mark
    head = water - crest
    inside = spread <= corner_tolerance_m + DUST if len(corners) > 1 else None
    side = "unknown" if inside is None else "inside" if inside else "outside"
    words = []
    if len(corners) < 4:
        words.append(f"crest from {len(corners)} of four corners")
    if inside is False:
        words.append(
            f"corner range {fixed(spread * 1000, 1)} mm: report it, it is not corrected for"
        )
    if math.isnan(zero):
        words.append("gauge zero unknown: no mark of the staff was levelled")
    if head <= 0.0:
        words.append("water below the crest: no flow")
    return CrestResults(
        crest_rl_m=crest,
        corner_count=len(corners),
        corner_range_m=spread,
        corner_tolerance_m=corner_tolerance_m,
        corners_inside=inside,
        corner_word=f"{side} {general(corner_tolerance_m * 1000)} mm",
        corner_effect_pct=head_error_pct(exponent, spread / 2.0, low_head_m),
        crest_above_floor_m=crest - floor,
        zero_rl_m=zero,
        zero_minus_crest_m=zero - crest,
        head_by_level_m=head,
        staff_should_read_m=water - zero,
        sensor_below_crest_m=crest - sensor,
        crest_above_tail_floor_m=crest - tail_floor,
        tailwater_above_crest_m=tail_water - crest,
        tailwater_ratio=(tail_water - crest) / head if head > 0.0 else math.nan,
        words=tuple(words),
    )


def results_of_run(
    run: ReducedRun,
    roles: Mapping[str, str | Sequence[str]],
    *,
    adjusted: bool = False,
    staff_mark_m: float | None = None,
    corner_tolerance_m: float = CORNER_TOLERANCE_M,
    exponent: float = 1.5,
    low_head_m: float = 0.1,
) -> CrestResults:
    """Derive the crest results from a run, given which point plays which role.

    Raises
    ------
    BadInput
        A role that is unknown or a point that the run does not hold.
    """
    if adjusted and run.within_limit is None:
        raise BadInput(
            "adjusted", "unknown", "the run is not closed", "Use the levels as observed."
        )
    levels = run.point_levels(adjusted)

    def level_m(role: str, point: str) -> float:
        if mark_name(point) not in levels:
            raise BadInput(role, point, "no such point in this run", "Choose a point of the book.")
        return float(run.metres(levels[mark_name(point)].rl))

    corners = roles.get("corners", ())
    places: dict[str, float] = {}
    for role, point in roles.items():
        if role == "corners":
            continue
        if role not in POINT_ROLES or not isinstance(point, str):
            raise BadInput(
                "roles", role, "no such role", f"Choose one of {', '.join(POINT_ROLES)}."
            )
        places[f"{role}_rl_m"] = level_m(role, point)
    names = [corners] if isinstance(corners, str) else corners
    return crest_results(
        [level_m("corners", name) for name in names],
        corner_tolerance_m=corner_tolerance_m,
        exponent=exponent,
        low_head_m=low_head_m,
        staff_mark_m=staff_mark_m,
        **places,
    )


def two_peg(
    *,
    middle_a_m: float,
    middle_b_m: float,
    end_a_m: float,
    end_b_m: float,
    end_distance_a_m: float,
    end_distance_b_m: float,
    middle_distance_a_m: float = 0.0,
    middle_distance_b_m: float = 0.0,
) -> TwoPeg:
    """Find the collimation error of a level from sights to pegs A and B from two places.

    Parameters
    ----------
    middle_a_m, middle_b_m : readings from the first place, half way
    end_a_m, end_b_m : readings from the second place, near or beyond one peg
    *_distance_* : sight lengths; those from the middle may be left out when they are equal

    References
    ----------
    Kenney 2010, USGS TM 3-A19: error at most 0.003 ft per 100 ft, 0.03 mm per m.
    """
    middle = middle_distance_a_m - middle_distance_b_m
    arm = (end_distance_a_m - end_distance_b_m) - middle
    if abs(arm) < 1.0:
        raise BadInput(
            "end_distance_a_m", end_distance_a_m, "the sights from the end must differ in length",
            "Set up near one peg: one sight short, the other long.",
        )  # fmt: skip
    error = ((end_a_m - end_b_m) - (middle_a_m - middle_b_m)) / arm
    per_m = error * 1000.0
    return TwoPeg(
        collimation_mm_per_m=per_m,
        limit_mm_per_m=COLLIMATION_LIMIT_MM_PER_M,
        passes=abs(per_m) <= COLLIMATION_LIMIT_MM_PER_M + DUST,
        true_difference_m=(middle_a_m - middle_b_m) - error * middle,
        end_a_should_read_m=end_a_m - error * end_distance_a_m,
        end_b_should_read_m=end_b_m - error * end_distance_b_m,
    )


def head_error_pct(exponent: float, head_error_m: float, head_m: float) -> float:
    """Return the effect of a small head error on discharge, n dh / h, in %."""
    return 100.0 * exponent * head_error_m / head_m
