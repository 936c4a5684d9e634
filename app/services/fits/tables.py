"""The standing of a rating as lists: by gauging, by season, and as a grid of years."""

from dataclasses import dataclass

from app.hydraulics.rating.tests import SeasonMean
from app.language.tables import Column, Table
from app.services.fits.sides import Sides
from app.services.fits.tests import SEASONS, Standing

POINT_COLUMNS = (
    Column("gauging_id", "Check gauging"),
    Column("start_utc", "Start, UTC"),
    Column("season", "Season"),
    Column("method", "Method"),
    Column("head_mean_m", "Mean head, m over crest"),
    Column("discharge_m3s", "Gauged, m3/s"),
    Column("uncertainty_pct", "Uncertainty, %, k=2"),
    Column("rating_id", "Judged by rating"),
    Column("rating_m3s", "By the rating, m3/s"),
    Column("rating_uncertainty_pct", "Uncertainty of the rated discharge, %, k=2"),
    Column("rating_flow", "Flow word of the rating"),
    Column("deviation_pct", "Deviation, %, rating as base"),
    Column("deviation_spread_pct", "Uncertainty of the deviation from the gauging alone, %"),
    Column("e_n", "E_n"),
    Column("verdict", "Verdict"),
    Column("reason", "Reason"),
    Column("counted", "Counted in the tests"),
    Column("why_not", "Why not counted"),
)
SEASON_COLUMNS = (
    Column("season", "Season"),
    Column("year", "Of"),
    Column("gaugings", "Gaugings"),
    Column("mean_pct", "Mean deviation, %"),
    Column("low_pct", "Lower bound, %, 95 %"),
    Column("high_pct", "Upper bound, %, 95 %"),
    Column("words", "In words"),
)


@dataclass(frozen=True)
class SeasonGrid:
    """Seasons down, years across: mean deviations with the count behind each."""

    years: list[str]
    rows: list[tuple[SeasonMean, list[SeasonMean | None]]]


def season_grid(found: Standing) -> SeasonGrid:
    """Return drift by season: how the deviation of each season moves from year to year."""
    if found.tests is None:
        return SeasonGrid([], [])
    order = [names[0] for names in SEASONS.values()]
    seasons = sorted(
        found.tests.seasons, key=lambda each: order.index(each.season.partition(" (")[0])
    )
    # A summer that runs over new year belongs to the year it begins in.
    years = sorted({int(year[:4]) for _, year, _ in found.tests.season_years})
    held = {(season, int(year[:4])): each for season, year, each in found.tests.season_years}
    return SeasonGrid(
        [str(year) for year in years],
        [(each, [held.get((each.season, year)) for year in years]) for each in seasons],
    )


def points_table(found: Standing) -> Table:
    rows = [
        {
            "gauging_id": point.one.entry.id,
            "start_utc": point.one.started_at,
            "season": f"{point.season} {point.season_year}",
            "method": point.one.method,
            "head_mean_m": point.one.head_mean_m,
            "discharge_m3s": point.one.discharge_m3s,
            "uncertainty_pct": point.one.uncertainty_pct,
            "rating_id": point.one.rating.rating_id,
            "rating_m3s": point.one.rating.discharge_m3s,
            "rating_uncertainty_pct": point.one.rating.uncertainty_pct,
            "rating_flow": point.one.rating.flow,
            "deviation_pct": point.one.deviation_pct,
            "deviation_spread_pct": point.spread_pct,
            "e_n": point.one.e_n,
            "verdict": point.one.word,
            "reason": point.one.reason,
            "counted": point.counted,
            "why_not": point.why_not,
        }
        for point in found.points
    ]
    return Table(f"standing-{found.site.code}-{found.structure.id}", POINT_COLUMNS, rows)


def seasons_table(found: Standing) -> Table:
    """Return mean deviations by season over all years, then season by season."""
    rows = []
    if found.tests is not None:
        for each in found.tests.seasons:
            rows.append(_season_row(each, each.season, "all years"))
        for season, year, each in found.tests.season_years:
            rows.append(_season_row(each, season, year))
    return Table(f"seasons-{found.site.code}-{found.structure.id}", SEASON_COLUMNS, rows)


def _season_row(each: SeasonMean, season: str, year: str) -> dict[str, object]:
    return {
        "season": season,
        "year": year,
        "gaugings": each.count,
        "mean_pct": each.mean_pct,
        "low_pct": each.low_pct,
        "high_pct": each.high_pct,
        "words": each.words,
    }


SIDE_COLUMNS = (
    Column("rating_id", "Rating"),
    Column("valid_from", "In force from, UTC"),
    Column("valid_until", "Until, UTC"),
    Column("described", "Rating of"),
    Column("reason", "Reason"),
    Column("gaugings", "Gaugings that count"),
    Column("mean_deviation_pct", "Mean deviation, %"),
    Column("bias", "Bias"),
    Column("volume_m3", "Volume, m3"),
    Column("base_volume_m3", "Volume by the rating looked at, m3"),
    Column("change_m3", "Difference, m3"),
    Column("change_pct", "Difference, %"),
    Column("known_s", "Time that counts, s"),
    Column("gap_s", "Time that counts for neither, s"),
    Column("basis", "Volumes from"),
)


def sides_table(found: Standing, sides: Sides) -> Table:
    rows = [
        {
            "rating_id": side.rating.id,
            "valid_from": side.rating.valid_from,
            "valid_until": side.until,
            "described": side.described,
            "reason": side.rating.reason,
            "gaugings": side.gaugings,
            "mean_deviation_pct": side.bias.mean_pct if side.bias else None,
            "bias": side.bias.words if side.bias else "unknown: no gauging counts",
            "volume_m3": side.effect.new_m3 if side.effect else None,
            "base_volume_m3": side.effect.old_m3 if side.effect else None,
            "change_m3": side.effect.change_m3 if side.effect else None,
            "change_pct": side.effect.change_pct if side.effect else None,
            "known_s": side.effect.measured_s if side.effect else None,
            "gap_s": side.effect.gap_s if side.effect else None,
            "basis": sides.record.words if sides.record else None,
        }
        for side in sides.rows
    ]
    return Table(f"ratings-compared-{found.site.code}-{found.structure.id}", SIDE_COLUMNS, rows)
