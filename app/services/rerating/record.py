"""What making a long record again changed: points, days, months, water years, answers of takes.

A snapshot is taken before and one after; nothing is written here. So the same comparison serves
the look, on copies that are thrown away, and the act.
"""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.arrays import Bools, Floats, Ints
from app.services.days.state import DRAFT
from app.services.rerating.changes import AnswerChange, MonthChange, RecordChange, Tally, YearChange
from app.services.rerating.readings import SAME
from app.services.rerating.snapshot import POINT_FIGURES, Snapshot
from app.services.series.months import date_of, instant, month_text
from app.services.takes.lines import UseLine

DAYS = (
    "volume_m3", "volume_uncertainty_m3", "mean_m3s", "low_m3s", "high_m3s", "measured_s",
    "estimated_s", "missing_fraction",
)  # fmt: skip


def compare(before: Snapshot, after: Snapshot) -> RecordChange:
    """Return what differs between two snapshots of one record."""
    points, point_months = _points(before, after)
    days, day_months = _days(before, after)
    months = [
        MonthChange(
            _volume(before.months, month_text(number)),
            _volume(after.months, month_text(number)),
            month_text(number),
            after.states.get(number, DRAFT),
            point_months.get(number, 0),
            day_months.get(number, 0),
        )
        for number in sorted({**point_months, **day_months})
    ]
    years = [
        YearChange(_volume(before.years, period), _volume(after.years, period), period)
        for period in sorted({**before.years, **after.years})
    ]
    keys = sorted({**before.answers, **after.answers})
    answers = [_answer(before.answers.get(key), after.answers.get(key)) for key in keys]
    return RecordChange(
        structure_id=after.structure_id,
        name=after.name,
        points=points,
        days=days,
        months=months,
        years=[x for x in years if not _same(x.before_m3, x.after_m3)],
        answers=[x for x in answers if x.turns or not _same(x.before, x.after)],
        answers_looked_at=len(keys),
    )


def _points(before: Snapshot, after: Snapshot) -> tuple[Tally, dict[int, int]]:
    old, new = before.series, after.series
    t_s, i, j, alone = _matched(old["t_s"], new["t_s"])
    differs = np.zeros(t_s.shape, bool)
    for name in POINT_FIGURES:
        differs |= _differ(old[name][i], new[name][j])
    t_changed = np.concatenate([t_s[differs], alone])
    tally = _tally(
        int(t_s.size + alone.size),
        int(t_changed.size),
        t_s[differs],
        old["discharge_m3s"][i][differs],
        new["discharge_m3s"][j][differs],
        lambda t: instant(t).isoformat(),
    )
    local = t_changed + 60 * after.offset_min
    return tally, _counts(local.astype("M8[s]").astype("M8[M]"))


def _days(before: Snapshot, after: Snapshot) -> tuple[Tally, dict[int, int]]:
    old, new = before.days, after.days
    day, i, j, alone = _matched(old.day, new.day)
    differs = np.zeros(day.shape, bool)
    for name in DAYS:
        differs |= _differ(getattr(old, name)[i], getattr(new, name)[j])
    changed = np.concatenate([day[differs], alone])
    tally = _tally(
        int(day.size + alone.size),
        int(changed.size),
        day[differs],
        old.mean_m3s[i][differs],
        new.mean_m3s[j][differs],
        lambda number: str(date_of(number)),
    )
    return tally, _counts(changed.astype("M8[D]").astype("M8[M]"))


def _matched(old: Ints, new: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    """Return the keys both have, where they lie in each, and the keys only one of them has."""
    if np.array_equal(old, new):
        at = np.arange(old.size)
        return old, at, at, old[:0]
    both, i, j = np.intersect1d(old, new, assume_unique=True, return_indices=True)
    return both, i, j, np.setxor1d(old, new, assume_unique=True)


def _counts(months: NDArray[np.datetime64]) -> dict[int, int]:
    """Return how many fall in each month, by months since January 1970."""
    numbers, counts = np.unique(months.astype(np.int64), return_counts=True)
    return dict(zip(numbers.tolist(), counts.tolist(), strict=True))


def _tally(
    total: int, changed: int, at: NDArray[Any], old: Floats, new: Floats, said: Callable[[int], str]
) -> Tally:
    """Return the tally of figures before and after; zero before has no change in per cent."""
    known = np.isfinite(old) & np.isfinite(new) & (old > 0.0)
    if not known.any():
        return Tally(total, changed)
    change = 100.0 * (new[known] - old[known]) / old[known]
    k = int(np.argmax(np.abs(change)))
    return Tally(
        total,
        changed,
        int(change.size),
        math.fsum(change.tolist()) / change.size,
        float(change[k]),
        said(int(at[known][k])),
    )


def _differ(old: NDArray[Any], new: NDArray[Any]) -> Bools:
    """Return where two columns differ by more than their last digits; blank equals blank."""
    if old.dtype.kind != "f":
        return np.asarray(old != new)
    share = SAME if old.dtype.itemsize == 8 else 1e-6
    return np.asarray(~np.isclose(old, new, rtol=share, atol=1e-12, equal_nan=True))


def _volume(rows: dict[str, dict[str, Any]], period: str) -> float | None:
    volume: float | None = rows.get(period, {}).get("volume_m3")
    return volume


def _answer(before: UseLine | None, after: UseLine | None) -> AnswerChange:
    line = after or before
    assert line is not None
    return AnswerChange(
        limit_id=line.limit.id,
        limit_words=line.limit.kind_words,
        amount=line.limit.amount,
        unit=line.limit.unit,
        first=line.first,
        last=line.last,
        before=before.used if before else None,
        after=after.used if after else None,
        answer_before=before.verdict if before else "no record",
        answer_after=after.verdict if after else "no record",
        ahead_before=_ahead(before),
        ahead_after=_ahead(after),
    )


def _ahead(line: UseLine | None) -> str:
    return str(((line.projection if line else None) or {}).get("verdict") or "")


def _same(before: float | None, after: float | None) -> bool:
    if before is None or after is None:
        return before is after
    return math.isclose(before, after, rel_tol=SAME, abs_tol=1e-12)
