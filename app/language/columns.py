"""What a column holds, by its key and title: the rule that programs are told of every list.

A key that ends in a unit is a number of that unit; a title that ends in UTC is an instant. What no
rule knows is text, which is always true of a cell. Units are UCUM codes (Regenstrief, The Unified
Code for Units of Measure), kinds the built-in datatypes of CSV on the Web.
"""

from collections.abc import Iterable
from typing import Any

from app import __version__
from app.language.tables import Column

UCUM = {
    "_m3s": "m3/s", "_m_s": "m/s", "_mm": "mm", "_m3": "m3", "_m2": "m2", "_m": "m", "_pct": "%",
    "_s": "s", "_min": "min", "_h": "h", "_days": "d",
}  # fmt: skip
"""UCUM code of each ending of a key, the longer ending before the one that it ends in."""

UNITS = {
    "latitude": "deg", "longitude": "deg", "days": "d", "age_h": "h", "levelled_days_ago": "d",
    "slope_mm_per_year": "mm/a", "submergence_ratio": "1", "submergence_weedy": "1",
    "modular_limit": "1", "froude": "1", "e_n": "1", "head_m_raw": "m", "rl": "m",
    "rl_adjusted": "m", "rl_rise_fall": "m", "rise": "m", "fall": "m", "collimation": "m",
    "measured_fraction": "1", "estimated_fraction": "1", "missing_fraction": "1",
    "month_measured": "1", "month_estimated": "1",
}  # fmt: skip
"""UCUM code of numbers whose key does not end in their unit."""

COUNTS = frozenset(
    {
        "candidate", "conflicts", "count", "coverage_k", "determined", "files", "flow_value_id",
        "full_days", "gauge_zero_id", "gaugings", "limit_id", "logger_id", "number", "open_items",
        "person_id", "photos", "plan_id", "points", "problems", "rating_id", "readings",
        "record_version", "revision", "row", "rows", "setup", "setups", "site_id", "structure_id",
        "times_over", "times_unknown", "verticals", "after_rating_id", "before_rating_id",
        "after_gauge_zero_id", "before_gauge_zero_id",
    }
)  # fmt: skip
DAYS = frozenset(
    {"as_of", "day", "first", "last", "first_day", "last_day", "since", "on_day", "reached_day",
     "valid_to"}
)  # fmt: skip
FLAGS = frozenset(
    {
        "active", "beyond_survey", "by_time", "can_drown", "corrected", "counted", "current",
        "near", "rival", "stands", "void", "within_limit",
    }
)  # fmt: skip
LISTS = frozenset(
    {
        "about", "as_found_head_m", "as_left_head_m", "coefficients", "conditions",
        "control_condition", "corners_m", "corrected_by", "dims", "flags", "gauge_zero_ids",
        "lacking", "last_flags", "layer_ids", "moves", "observers", "rating_ids", "reasons",
        "repeats_m", "sources", "still_open", "structures", "things", "visit_observers", "widths_m",
    }
)  # fmt: skip
MONTHS = frozenset({"month"})
TEXTS = frozenset({"last_30_days"})
"""What a rule would take for something else."""

MADE_BY = f"Sillbook {__version__}"
UTC = ", UTC"
"""How the title of an instant ends."""


def kind_of(column: Column) -> str:
    """Return the datatype of a column: a list, or one of the Recommendation."""
    key = column.key
    if key in LISTS:
        return "list"
    if key in TEXTS:
        return "string"
    if column.title.endswith(UTC) or key in {"observed_at_local", "site_time", "start_local"}:
        return "dateTime"
    if key in DAYS or key.endswith("_on"):
        return "date"
    for kind, keys in (("gYearMonth", MONTHS), ("boolean", FLAGS), ("integer", COUNTS)):
        if key in keys:
            return kind
    if key.endswith("_count"):
        return "integer"
    return "number" if unit_of(column) else "string"


def unit_of(column: Column) -> str | None:
    """Return the UCUM code of a number, None where a column has no unit."""
    if column.key in LISTS | COUNTS | TEXTS or column.title.endswith(UTC):
        return None
    ending = next((end for end in UCUM if column.key.endswith(end)), None)
    return UNITS.get(column.key) or (UCUM[ending] if ending else None)


def column_of(key: str) -> Column:
    """Return the column of a figure that only its key names: its words, and its unit behind."""
    ending = next((end for end in UCUM if key.endswith(end)), "")
    unit = UCUM.get(ending)
    words = (key.removesuffix(ending) if unit else key).replace("_", " ")
    return Column(key, f"{words[:1].upper()}{words[1:]}" + (f", {unit}" if unit else ""))


def list_head(name: str, columns: Iterable[Column]) -> dict[str, Any]:
    """Return what stands above the rows of every list in JSON: name, titles, units, who made it."""
    columns = tuple(columns)
    return {
        "name": name,
        "columns": {column.key: column.title for column in columns},
        "units": {column.key: code for column in columns if (code := unit_of(column))},
        "meta": {"made_by": MADE_BY},
    }
