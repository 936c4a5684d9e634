"""What rating again changes as lists: readings, months and answers to limits of takes."""

from app.language.tables import Column, Table
from app.services.rerating.act import Rerate
from app.services.rerating.readings import ReadingChanges

MONTH_COLUMNS = (
    Column("structure_id", "Structure id"),
    Column("structure", "Structure"),
    Column("month", "Month, site time"),
    Column("state", "State"),
    Column("left", "Left as it is"),
    Column("why", "Why"),
    Column("points", "Readings of the logger that change"),
    Column("days", "Days that change"),
    Column("before_m3", "Volume before, m3"),
    Column("after_m3", "Volume after, m3"),
    Column("change_pct", "Change, %"),
)

ANSWER_COLUMNS = (
    Column("structure_id", "Structure id"),
    Column("structure", "Structure"),
    Column("limit_id", "Limit"),
    Column("limit_words", "Kind"),
    Column("amount", "Limit, amount"),
    Column("unit", "Unit"),
    Column("first", "First day"),
    Column("last", "Last day"),
    Column("before", "Used before"),
    Column("after", "Used after"),
    Column("change_pct", "Change, %"),
    Column("answer_before", "Answer before"),
    Column("answer_after", "Answer after"),
    Column("ahead_before", "Answer at the end, before"),
    Column("ahead_after", "Answer at the end, after"),
)


def month_table(found: Rerate) -> Table:
    """Return the months that change and the approved ones that are left."""
    why = {(x.structure_id, x.month): x.words for x in found.stale.months}
    rows = [
        {
            "structure_id": record.structure_id,
            "structure": record.name,
            "left": False,
            "why": why.get((record.structure_id, line.month), "beside a month that changes"),
            "change_pct": line.change_pct,
            **vars(line),
        }
        for record in found.records
        for line in record.months
    ]
    rows += [
        {
            "structure_id": line.stale.structure_id,
            "structure": line.structure,
            "month": line.month,
            "state": line.stale.state,
            "left": True,
            "why": line.stale.words,
            "before_m3": line.before_m3,
            "after_m3": line.after_m3,
            "change_pct": line.change_pct,
        }
        for line in found.held
    ]
    return Table(f"rate-again-months-{found.site.code}", MONTH_COLUMNS, rows)


def answer_table(found: Rerate) -> Table:
    """Return the limits of takes whose use or answer changes."""
    rows = [
        {
            "structure_id": record.structure_id,
            "structure": record.name,
            **vars(line),
            "change_pct": line.change_pct,
        }
        for record in found.records
        for line in record.answers
    ]
    return Table(f"rate-again-takes-{found.site.code}", ANSWER_COLUMNS, rows)


RERATE_COLUMNS = (
    Column("entry_id", "Reading"),
    Column("at", "Observed, UTC"),
    Column("before_m3s", "Before, m3/s"),
    Column("before_pct", "Uncertainty before, %"),
    Column("before_flow", "Flow word before"),
    Column("after_m3s", "After, m3/s"),
    Column("after_pct", "Uncertainty after, %"),
    Column("after_flow", "Flow word after"),
    Column("change_pct", "Change, %"),
    Column("before_rating_id", "Rating before"),
    Column("after_rating_id", "Rating after"),
    Column("before_gauge_zero_id", "Gauge zero before"),
    Column("after_gauge_zero_id", "Gauge zero after"),
    Column("stands", "Not replaced by a correction"),
)


def reading_table(found: ReadingChanges) -> Table:
    return Table(f"rate-again-{found.site.code}", RERATE_COLUMNS, found.rows)
