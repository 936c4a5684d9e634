"""The readings of a site as lists: one by one, by day and by flow word."""

from app.language.tables import Column, Table
from app.services.entries.links import LINK
from app.services.readings.history import History, by_flow_word, daily

READING_COLUMNS = (
    Column("id", "Reading"),
    Column("structure", "Structure"),
    Column("observed_at", "Observed, UTC"),
    Column("observed_at_local", "Observed, site time"),
    Column("occasion", "Occasion"),
    Column("observer", "Observer"),
    Column("head_m", "Head, m"),
    Column("head_uncertainty_m", "Uncertainty of head, m, k=2"),
    Column("tailwater_m", "Tailwater, m over crest"),
    Column("submergence_ratio", "Submergence ratio"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty, %, k=2"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("steadiness", "Steadiness"),
    Column("not_rated_reason", "Why not rated"),
    Column(LINK, "Corrects"),
    Column("rival", "Another correction stands beside it"),
    Column("source", "Copied from"),
    Column("copied_by", "Copied by"),
)

READING_DAY_COLUMNS = (
    Column("day", "Day, site time"),
    Column("readings", "Readings"),
    Column("determined", "With a discharge"),
    Column("mean_m3s", "Mean, m3/s"),
    Column("mean_uncertainty_pct", "Uncertainty of mean, %, k=2"),
    Column("low_m3s", "Lowest, m3/s"),
    Column("low_uncertainty_pct", "Uncertainty of lowest, %, k=2"),
    Column("high_m3s", "Highest, m3/s"),
    Column("high_uncertainty_pct", "Uncertainty of highest, %, k=2"),
    Column("volume_m3", "Volume of the covered time, m3"),
    Column("volume_uncertainty_m3", "Uncertainty of the volume, m3, k=2"),
    Column("covered_h", "Covered, h"),
    Column("flow", "Flow words"),
    Column("flags", "Flags"),
    Column("basis", "Basis"),
)

WORD_COLUMNS = (
    Column("flow", "Flow word"),
    Column("readings", "Readings"),
    Column("low_m3s", "Lowest, m3/s"),
    Column("low_uncertainty_pct", "Uncertainty of lowest, %, k=2"),
    Column("high_m3s", "Highest, m3/s"),
    Column("high_uncertainty_pct", "Uncertainty of highest, %, k=2"),
    Column("last_at", "Last, UTC"),
)


def readings_table(found: History) -> Table:
    return Table(f"history-{found.site.code}", READING_COLUMNS, found.rows)


def daily_table(found: History) -> Table:
    return Table(f"daily-readings-{found.site.code}", READING_DAY_COLUMNS, daily(found))


def words_table(found: History) -> Table:
    return Table(f"flow-words-{found.site.code}", WORD_COLUMNS, by_flow_word(found.rows))
