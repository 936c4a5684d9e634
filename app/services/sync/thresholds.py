"""The numbers by which server and phone both judge: one source each, carried to the phone.

The phone ships the same table (static/field/base/thresholds.js, equal by a test) for the time
before its first pack, and takes what the newest pack says.
"""

from sqlmodel import Session

from app.hydraulics.gauging import (
    background,
    dilution,
    dilution_constant,
    steadiness,
    tracer,
    velocity_area,
    verdict,
)
from app.hydraulics.install import checks, groundwork, sill
from app.hydraulics.levelling import benchmarks, book, reduce, results
from app.language.typed import CLOCK_SKEW, LIKE_NAMED, LIKE_NAMED_MM
from app.services.entries.kept_files import LARGEST, LOGGER_FILE
from app.services.gaugings import heads, portable, work
from app.services.install import parts
from app.services.plans.work import STEP_M
from app.services.readings import observed
from app.services.settings.in_force import phone_limits
from app.services.settings.known import KNOWN

Thresholds = dict[str, dict[str, float]]


def in_force(session: Session) -> Thresholds:
    """Return what holds at this office now: the built-in numbers under those that it has set."""
    found = thresholds()
    for (room, name), value in phone_limits(session).items():
        found[room][name] = value
    return found


def thresholds() -> Thresholds:
    """Return the built-in thresholds by room; names carry their units."""
    found = _fixed()
    for one in KNOWN:
        if one.phone is not None:
            room, name = one.phone
            found[room][name] = one.default
    return found


def _fixed() -> Thresholds:
    """Return those that no office sets."""
    return {
        "readings": {
            "far_under_m": observed.FAR_UNDER_M,
            "usual_share": observed.USUAL_SHARE,
        },
        "steadiness": {
            "least_readings": steadiness.LEAST_READINGS,
            "drift_window_s": steadiness.DRIFT_WINDOW_S,
            "storage_share": steadiness.STORAGE_SHARE,
            "settled_share": steadiness.SETTLED_SHARE,
            "rest_time_constants": steadiness.REST_TIME_CONSTANTS,
            "rest_without_pond_s": steadiness.REST_WITHOUT_POND_S,
        },
        "gaugings": {
            "tolerance_pct": heads.TOLERANCE_PCT,
            "panel_limit_pct": velocity_area.PANEL_LIMIT_PCT,
            "one_point_depth_m": velocity_area.ONE_POINT_DEPTH_M,
            "one_fill_pct": verdict.ONE_FILL_PCT,
            "shortest_fill_s": verdict.SHORTEST_FILL_S,
            "dose_pct": work.DOSE_PCT,
            "portable_head_m": portable.HEAD_UNCERTAINTY_M,
        },
        "dilution": {
            "salt_factor": dilution.SALT_FACTOR,
            "salt_factor_uncertainty_pct": dilution.SALT_FACTOR_UNCERTAINTY_PCT,
            "salt_kg_per_m3s": tracer.SALT_KG_PER_M3S,
            "mixed_pct": dilution.MIXED_PCT,
            "unchecked_mixing_pct": dilution.UNCHECKED_MIXING_PCT,
            "tail_pct": dilution.TAIL_PCT,
            "drift_told_pct": background.DRIFT_TOLD_PCT,
            "unread_background": dilution_constant.UNREAD_BACKGROUND,
            "unread_drift": background.UNREAD_DRIFT,
            "arrived": background.ARRIVED,
            "level": background.LEVEL,
        },
        "levelling": {
            "setup_limit_ft": reduce.SETUP_LIMIT_FT,
            "most_ft": reduce.MOST_FT,
            "ordinary_mm": reduce.ORDINARY_MM,
            "distance_mm": reduce.DISTANCE_MM,
            "longest_reading_m": book.LONGEST_READING_M,
            "longest_sight_m": book.LONGEST_SIGHT_M,
            "collimation_limit_mm_per_m": results.COLLIMATION_LIMIT_MM_PER_M,
            "corner_tolerance_m": results.CORNER_TOLERANCE_M,
            "mark_tolerance_m": benchmarks.MARK_TOLERANCE_M,
        },
        "install": {
            "width_limit_m": checks.WIDTH_LIMIT_M,
            "lift_m": checks.LIFT_M,
            "uplift_target": groundwork.TARGET,
            "sensor_m": parts.SENSOR_M,
            "sensor_share": parts.SENSOR_SHARE,
            "clock_s": parts.CLOCK_S,
        },
        "plans": {
            "freeboard_least_m": sill.FREEBOARD_LEAST_M,
            "freeboard_share": sill.FREEBOARD_SHARE,
            "step_m": STEP_M,
        },
        "typed": {
            "clock_skew_s": CLOCK_SKEW.total_seconds(),
            "like_named": LIKE_NAMED,
            "like_named_mm": LIKE_NAMED_MM,
        },
        "files": {"logger_bytes": LARGEST[LOGGER_FILE]},
    }
