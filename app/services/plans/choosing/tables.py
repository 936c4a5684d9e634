"""The answer as a list: a line for every structure, best first."""

from typing import Any

from app.language.tables import Column, Table

CHOICE_COLUMNS = (
    Column("rank", "Rank"),
    Column("family", "Family"),
    Column("size", "Size"),
    Column("described", "Structure"),
    Column("verdict", "Verdict"),
    Column("head_least_m", "Head at the least flow, m"),
    Column("head_most_m", "Head at the greatest flow, m"),
    Column("in_range_least", "Least flow in range"),
    Column("in_range_most", "Greatest flow in range"),
    Column("crest_m", "Crest over the bed, m"),
    Column("crest_free_m", "Crest that keeps it free, m"),
    Column("crest_needed_m", "Crest that keeps it free with weed, m"),
    Column("crest_highest_m", "Highest crest the banks allow, m"),
    Column("submergence_ratio", "Submergence nearest to drowning"),
    Column("submergence_weedy", "The same with weed"),
    Column("modular_limit", "Modular limit there"),
    Column("free_over_range", "Free over the range"),
    Column("rise_m", "Raises the water upstream, m"),
    Column("fall_m", "Fall over it, m"),
    Column("freeboard_m", "Least freeboard, m"),
    Column("freeboard_needed_m", "Freeboard wanted, m"),
    Column("froude_most", "Greatest approach Froude number"),
    Column("uncertainty_least_flow_pct", "Uncertainty at the least flow, %"),
    Column("uncertainty_most_flow_pct", "Uncertainty at the greatest flow, %"),
    Column("uncertainty_worst_pct", "Greatest uncertainty, %"),
    Column("weight_kg", "Weight, about, kg"),
    Column("persons", "Persons to lift"),
    Column("reason", "Reasons"),
)


def choice_table(name: str, rows: list[dict[str, Any]]) -> Table:
    """Return the structures of an answer as a list."""
    return Table(name, CHOICE_COLUMNS, rows)
