"""What stands in words beside the chart: the sum of a view, its marks, and the series as a table.

The table holds readings, days or months, as the view is wide.
"""

from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.layers import How
from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.services.days import daily
from app.services.days import totals as daily_totals
from app.services.record.kinds import Mark
from app.services.record.marks import in_view, span_on_record
from app.services.record.summed import Summed, summed
from app.services.series import read as series_read
from app.services.series.months import date_of, day_of, instant
from app.services.sites.structures import place

COLUMNS = ("discharge_m3s", "uncertainty_pct", "head_m", "raw_m", "how", "flow", "flags")
READINGS_S = 3 * DAY_S  # up to this long every reading is listed
DAYS_S = 190 * DAY_S  # and up to this long every day
MOST_READINGS = 600


@dataclass(frozen=True)
class Beside:
    """Rows of one kind: readings, days or months; `left_out` readings were too many to list."""

    kind: str
    rows: list[dict[str, Any]]
    left_out: int = 0


@dataclass(frozen=True)
class View:
    """A view in words; `summed` is None where nothing at all is known in it."""

    beside: Beside
    summed: Summed | None
    marks: list[Mark]


def view(session: Session, structure_id: int, from_s: int | None, to_s: int | None) -> View:
    """Return a view in words, both ends included; of all that is known without any.

    Raises
    ------
    BadInput
        When the view ends before it begins.
    """
    table = beside(session, structure_id, from_s, to_s)
    whole = span_on_record(session, structure_id)
    begin, end = (0, -1) if whole is None else whole
    begin = begin if from_s is None else max(begin, from_s)
    end = end if to_s is None else min(end, to_s)
    if end < begin:
        return View(table, None, [])
    marks = in_view(session, structure_id, begin, end)
    return View(table, summed(session, structure_id, begin, end, marks), marks)


def beside(session: Session, structure_id: int, from_s: int | None, to_s: int | None) -> Beside:
    """Return the rows of a view, both ends included; of the whole record without any.

    Raises
    ------
    BadInput
        When the view ends before it begins.
    """
    site, _ = place(session, structure_id)
    whole = series_read.stored_span(session, structure_id)
    if whole is None:
        return Beside("days", [])
    from_s = whole[0] if from_s is None else from_s
    to_s = whole[1] if to_s is None else to_s
    if to_s < from_s:
        raise BadInput("to", to_s, "lies before the beginning of the view", "Swap the two.")
    begin, end = max(from_s, whole[0]), min(to_s, whole[1])
    if end < begin:
        return Beside("days", [])
    if to_s - from_s <= READINGS_S:
        return _readings(session, structure_id, begin, end)
    first = date_of(day_of(begin, site.utc_offset_min))
    # a view that ends at midnight ends with the day before
    last = date_of(day_of(max(begin, end - 1), site.utc_offset_min))
    if to_s - from_s <= DAYS_S:
        return Beside("days", daily.shown(session, structure_id, first, last))
    return Beside("months", daily_totals.totals(session, structure_id, first, last, "month"))


def _readings(session: Session, structure_id: int, begin: int, end: int) -> Beside:
    found = series_read.load(session, structure_id, begin, end, COLUMNS)
    rows = [
        {
            "at": instant(t),
            **{name: found[name][k].item() for name in COLUMNS[:4]},
            "how": How(int(found["how"][k])).word,
            "flow_code": int(found["flow"][k]),
            "flow": Flow(int(found["flow"][k])).word,
            "flags": flag_words(Flag(int(found["flags"][k]))),
        }
        for k, t in enumerate(found["t_s"][:MOST_READINGS].tolist())
    ]
    return Beside("readings", rows, max(found["t_s"].size - MOST_READINGS, 0))
