"""As-built against named size, and stop or go from one install stop to the next.

These check and compare; they do not design or certify. Local codes and licensed people go before
every figure here. Public functions (SI):

    check_dimensions(named_m, measured_m, rules) -> list[DimensionCheck]; rules {key: rule name}
    width_stop(widths_m, *, limit_m=0.001) -> StopCheck; rows are stops, columns top, middle, bottom
    corner_stop(corners_m, *, tolerance_m=0.002, lift_m=0.002) -> StopCheck; rows are stops
    practice_notes(*, crest_above_floor_m=None, tail_fall_m=None, lift_fraction=None,
                   fill_time_min=None) -> list[PracticeNote]
    TOLERANCE_RULES: {name: ToleranceRule(share, length_m, source, provenance)}
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats, apart
from app.hydraulics.base.result import Result
from app.hydraulics.base.rounding import fixed, general
from app.hydraulics.base.units import DUST
from app.hydraulics.levelling.results import CORNER_TOLERANCE_M

WIDTH_LIMIT_M = 0.001  # between two stops; common practice
LIFT_M = 0.002  # rise of a corner between two stops; common practice


@dataclass(frozen=True)
class ToleranceRule:
    """A published tolerance: a share of the named size, or a length, or the lesser of both."""

    share: float | None
    length_m: float | None
    source: str
    provenance: str

    def tolerance_m(self, named_m: float) -> float:
        """Return the allowed departure either side, m."""
        bounds = [] if self.share is None else [self.share * abs(named_m)]
        if self.length_m is not None:
            bounds.append(self.length_m)
        return min(bounds)


_ISO = "ISO 4359, construction tolerances"
_US = "US Department of Agriculture circular 843, note to the table of dimensions"
TOLERANCE_RULES: dict[str, ToleranceRule] = {
    "throat width, ISO": ToleranceRule(0.002, 0.010, _ISO, "from memory"),
    "throat length, ISO": ToleranceRule(0.01, None, _ISO, "from memory"),
    "transition, ISO": ToleranceRule(0.001, None, _ISO, "from memory"),
    "other surface, ISO": ToleranceRule(0.01, None, _ISO, "from memory"),
    "throat width, US table": ToleranceRule(None, 0.0004, f"{_US}: 1/64 in", "from memory"),
    "other, US table": ToleranceRule(None, 0.0008, f"{_US}: 1/32 in", "from memory"),
    "site, 5 mm": ToleranceRule(None, 0.005, "site work", "common practice"),
}


@dataclass(frozen=True, kw_only=True)
class DimensionCheck(Result):
    """One as-built dimension against its named size; `inside` is None when not measured."""

    key: str
    named_m: float
    measured_m: float
    difference_m: float
    tolerance_m: float
    inside: bool | None
    word: str
    source: str
    provenance: str


@dataclass(frozen=True)
class StopCheck(Result):
    """Change since the last stop and since the first, with the word for the crew."""

    word: str
    reason: str
    change_m: Floats
    total_m: Floats


@dataclass(frozen=True)
class PracticeNote(Result):
    """A value beside what is common practice; it has no published source."""

    what: str
    value: float
    usual: str
    near: bool
    provenance: str = "common practice"


def check_dimensions(
    named_m: Mapping[str, float],
    measured_m: Mapping[str, float | None],
    rules: Mapping[str, str],
) -> list[DimensionCheck]:
    """Compare the as-built with the named size, dimension by dimension.

    Parameters
    ----------
    named_m, measured_m : {dimension key: m}
    rules : {dimension key: name in TOLERANCE_RULES}; a key without one gets "site, 5 mm"
    """
    checks = []
    for key, named in named_m.items():
        name = rules.get(key, "site, 5 mm")
        if name not in TOLERANCE_RULES:
            raise BadInput(key, name, "no such tolerance", f"Use {', '.join(TOLERANCE_RULES)}.")
        rule = TOLERANCE_RULES[name]
        found = measured_m.get(key)
        measured = math.nan if found is None else _positive(key, found)
        allowed = rule.tolerance_m(named)
        inside = None if math.isnan(measured) else abs(measured - named) <= allowed + DUST
        word = "not measured" if inside is None else "inside" if inside else "outside"
        checks.append(
            DimensionCheck(
                key=key,
                named_m=named,
                measured_m=measured,
                difference_m=float(apart(measured - named)),
                tolerance_m=allowed,
                inside=inside,
                word=word,
                source=rule.source,
                provenance=rule.provenance,
            )
        )
    return checks


def width_stop(widths_m: Sequence[Sequence[float]], *, limit_m: float = WIDTH_LIMIT_M) -> StopCheck:
    """Say stop or go from the widths at top, middle and bottom, one row a stop.

    The default limit, 1 mm, is common practice for braces that must not bow the walls.
    """
    return _stop(widths_m, limit_m, "width", "ease or add braces and measure again")


def corner_stop(
    corners_m: Sequence[Sequence[float]],
    *,
    tolerance_m: float = CORNER_TOLERANCE_M,
    lift_m: float = LIFT_M,
) -> StopCheck:
    """Say stop or go from the levels of the crest corners, one row a stop.

    Stops when the corners are out of level by more than the tolerance, or when one has moved by
    more than `lift_m` since the last stop (the box lifts or settles).
    """
    check = _stop(corners_m, lift_m, "corner", "check ballast and straps before going on")
    last = np.asarray(corners_m[-1], dtype=np.float64)
    spread = float(last.max() - last.min())
    if np.isnan(spread) or spread <= tolerance_m + DUST:
        return check
    allowed = general(tolerance_m * 1000)
    reason = f"corners out of level by {fixed(spread * 1000, 1)} mm, allowed {allowed} mm"
    return StopCheck("stop", reason, check.change_m, check.total_m)


def practice_notes(
    *,
    crest_above_floor_m: float | None = None,
    tail_fall_m: float | None = None,
    lift_fraction: float | None = None,
    fill_time_min: float | None = None,
) -> list[PracticeNote]:
    """Set values beside what crews commonly do; none of these has a published source."""
    usual = (
        ("crest above the race floor, m", crest_above_floor_m, 0.06, 0.16, "about 0.1"),
        ("fall at the tail, m", tail_fall_m, 0.15, 0.30, "about 0.2"),
        ("base filled in one lift, share of its height", lift_fraction, 0.0, 0.4, "about a third"),
        ("head pond filled, minutes", fill_time_min, 5.0, 15.0, "about 10"),
    )
    return [
        PracticeNote(what, value, words, low <= value <= high)
        for what, value, low, high, words in usual
        if value is not None
    ]


def _stop(rows: Sequence[Sequence[float]], limit_m: float, noun: str, remedy: str) -> StopCheck:
    if not len({len(row) for row in rows}) == 1 or not len(rows[0]):
        raise BadInput(noun, "uneven rows", "every stop has the same places", "Fill or leave out.")
    values = np.asarray(rows, dtype=np.float64)
    if len(values) == 1:
        none = np.full(values.shape[1], np.nan)
        return StopCheck("go", f"first stop: {noun}s recorded", none, none)
    change, total = values[-1] - values[-2], values[-1] - values[0]
    moved = np.fmax(np.abs(change), np.abs(total))  # one unread hides no movement of the other
    if np.any(moved > limit_m + DUST):
        word = "stop"
        reason = f"{noun} changed by {fixed(np.nanmax(moved) * 1000, 1)} mm: {remedy}"
    elif np.any(np.isnan(change)):
        word, reason = "unknown", f"a {noun} was not measured at this stop"
    else:
        word, reason = "go", f"{noun} change at most {fixed(moved.max() * 1000, 1)} mm"
    return StopCheck(word, reason, change, total)


def _positive(field: str, value: float) -> float:
    if not value > 0.0:
        raise BadInput(field, value, "must be more than zero", "Measure it and give metres.")
    return value
