"""Daily flow and its totals as lists: the columns that every export of the days shares."""

from collections.abc import Sequence
from typing import Any

from app.language.tables import Column, Table

DAILY_COLUMNS = (
    Column("day", "Day, site time"),
    Column("mean_m3s", "Mean, m3/s"),
    Column("mean_uncertainty_pct", "Uncertainty of mean, %, k=2"),
    Column("low_m3s", "Lowest, m3/s"),
    Column("low_at", "Time of lowest, UTC"),
    Column("high_m3s", "Highest, m3/s"),
    Column("high_at", "Time of highest, UTC"),
    Column("volume_m3", "Volume, m3"),
    Column("measured_m3", "Volume measured, m3"),
    Column("estimated_m3", "Volume estimated, m3"),
    Column("volume_uncertainty_m3", "Uncertainty of volume, m3, k=2"),
    Column("readings", "Readings"),
    Column("measured_fraction", "Share of time measured"),
    Column("estimated_fraction", "Share of time estimated"),
    Column("missing_fraction", "Share of readings missing"),
    Column("word", "Record"),
    Column("flow", "Flow words"),
    Column("flags", "Flags"),
    Column("state", "State"),
    Column("rating_ids", "Ratings"),
    Column("gauge_zero_ids", "Gauge zeros"),
    Column("layer_ids", "Corrections"),
    Column("engine", "Computed by"),
    Column("stale", "Its month is out of date, because"),
)


def days_table(name: str, rows: Sequence[dict[str, Any]]) -> Table:
    return Table(f"daily-{name}", DAILY_COLUMNS, list(rows))


TOTAL_COLUMNS = (
    Column("period", "Period"),
    Column("first_day", "First day"),
    Column("days", "Days"),
    Column("volume_m3", "Volume, m3"),
    Column("measured_m3", "Volume measured, m3"),
    Column("estimated_m3", "Volume estimated, m3"),
    Column("volume_uncertainty_m3", "Uncertainty of volume, m3, k=2"),
    Column("mean_m3s", "Mean of the covered time, m3/s"),
    Column("low_m3s", "Lowest, m3/s"),
    Column("low_at", "Time of lowest, UTC"),
    Column("high_m3s", "Highest, m3/s"),
    Column("high_at", "Time of highest, UTC"),
    Column("missing_fraction", "Share of time without record"),
    Column("full_days", "Full days"),
    Column("stale", "Out of date, because"),
)


def totals_table(name: str, rows: Sequence[dict[str, Any]]) -> Table:
    return Table(f"totals-{name}", TOTAL_COLUMNS, list(rows))
