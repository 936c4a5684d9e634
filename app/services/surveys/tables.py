"""The level runs of a structure as a list."""

from typing import Any

from app.hydraulics.base.arrays import apart
from app.language import trade
from app.language.tables import Column, Table
from app.services.surveys.history import LevelHistory
from app.services.surveys.runs import RunView

LEVEL_COLUMNS = (
    Column("entry_id", "Level run"),
    Column("at", "Levelled, UTC"),
    Column("by", "By"),
    Column("setups", "Set-ups"),
    Column("misclosure_mm", "Misclosure, mm"),
    Column("limit_mm", "Limit, mm"),
    Column("within_limit", "Within the limit"),
    Column("crest_rl_m", "Reduced level of crest, m"),
    Column("corner_range_m", "Corner range, m"),
    *(Column(f"{key}_rl_m", f"Crest {word}, m") for key, word in trade.CORNERS.items()),
    Column("zero_rl_m", "Reduced level of gauge zero, m"),
    Column("zero_minus_crest_m", "Gauge zero minus crest, m"),
    Column("zero_from", "Gauge zero in force from, UTC"),
    Column("instrument_words", "Instrument, as booked"),
    Column("instrument_id", "Instrument of the register"),
    Column("instrument", "Instrument of the register, by name"),
    Column("calibration", "Calibration at the time"),
    Column("calibration_words", "Calibration at the time, in words"),
    Column("words", "Remarks"),
)


def run_row(view: RunView) -> dict[str, Any]:
    run, found = view.run, view.results
    newest = max((z.valid_from for z in view.zeros), default=None)
    return {
        "entry_id": view.entry.id,
        "at": view.entry.observed_at,
        "by": view.by,
        "setups": run.setups if run else None,
        "misclosure_mm": levels_apart(run and run.misclosure_mm),
        "limit_mm": run.limit_mm if run else None,
        "within_limit": run.within_limit if run else None,
        "crest_rl_m": found.crest_rl_m if found else None,
        "corner_range_m": levels_apart(found and found.corner_range_m),
        **{f"{corner}_rl_m": view.corners_m.get(corner) for corner in trade.CORNERS},
        "zero_rl_m": found.zero_rl_m if found else None,
        "zero_minus_crest_m": levels_apart(found and found.zero_minus_crest_m),
        "zero_from": newest,
        "instrument_words": view.entry.body.get("instrument") or None,
        "instrument_id": view.used.instrument_id,
        "instrument": view.used.name or None,
        "calibration": view.used.state.word,
        "calibration_words": view.used.state.words,
        "words": list(view.words),
    }


def levels_apart(value: Any) -> Any:
    """Return a figure that is left of two levels as lists tell it, to the nanometre."""
    return float(apart(value)) if isinstance(value, float) else value


def level_table(history: LevelHistory) -> Table:
    return Table("levels", LEVEL_COLUMNS, [run_row(view) for view in history.runs])
