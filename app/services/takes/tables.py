"""Limits of takes as lists: use and race capacity."""

from collections.abc import Sequence

from sqlmodel import Session

from app.language.tables import Column, Table
from app.services.sites.structures import place
from app.services.takes.capacity import lines
from app.services.takes.lines import UseLine

CAPACITY_COLUMNS = (
    Column("id", "Statement"),
    Column("structure", "Structure"),
    Column("kind", "Kind"),
    Column("head_m", "Head at bank-full, m"),
    Column("discharge_m3s", "Flow at bank-full, m3/s"),
    Column("valid_from", "From"),
    Column("reason", "Reason"),
    Column("by", "Stated by"),
    Column("added_at", "Stated, UTC"),
)


def capacity_table(session: Session, structure_id: int) -> Table:
    site, _ = place(session, structure_id)
    rows = [
        {c.key: getattr(line, c.key) for c in CAPACITY_COLUMNS}
        for line in lines(session, structure_id)
    ]
    return Table(f"race-capacity-{site.code}-{structure_id}", CAPACITY_COLUMNS, rows)


USE_COLUMNS = (
    Column("structure", "Structure"),
    Column("limit_id", "Limit"),
    Column("kind", "Kind"),
    Column("amount", "Limit, amount"),
    Column("unit", "Unit"),
    Column("window_s", "Window, s"),
    Column("first", "First day"),
    Column("last", "Last day"),
    Column("as_of", "Up to"),
    Column("used", "Used"),
    Column("uncertainty", "Uncertainty, k=2"),
    Column("low", "At least"),
    Column("high", "At most"),
    Column("used_pct", "Used, %"),
    Column("verdict", "Answer"),
    Column("near", "Near the limit"),
    Column("times_over", "Times over"),
    Column("times_unknown", "Times not known"),
    Column("worst_at", "Largest at, UTC"),
    Column("missing_h", "Without record, h"),
    Column("capacity_m3s", "Race carries at most, m3/s"),
    Column("capacity_words", "Said of the race"),
    Column("projected", "Projected at the end"),
    Column("projected_low", "Projected, at least"),
    Column("projected_high", "Projected, at most"),
    Column("reached_day", "Limit reached"),
    Column("projected_verdict", "Answer at the end"),
    Column("stale", "Out of date, because"),
)


def use_lines_table(name: str, lines: Sequence[UseLine]) -> Table:
    """Return lines of use, of whatever limits, as a list."""
    return Table(name, USE_COLUMNS, [line.as_row() for line in lines])
