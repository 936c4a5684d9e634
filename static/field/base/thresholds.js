/**
 * The numbers by which server and phone both judge. The server's are the source
 * (app/services/sync/thresholds.py) and come with the pack; these are what it said when this page was
 * made (tests/tables/thresholds.json), for a phone without a pack and for a pack that names none.
 */
const SHIPPED = {
  readings: {
    repeats_range_m: 0.01,
    repeats_range_share: 0.05,
    sensor_difference_m: 0.005,
    zero_good_for_s: 34560000,
    far_under_m: 0.05,
    usual_share: 1.5,
  },
  steadiness: {
    least_readings: 3,
    least_span_s: 120,
    drift_window_s: 600,
    drift_limit_m: 0.002,
    range_share: 0.01,
    storage_share: 0.02,
    settled_share: 0.01,
    rest_time_constants: 3,
    rest_without_pond_s: 600,
  },
  gaugings: {
    tolerance_pct: 10,
    panel_limit_pct: 10,
    one_point_depth_m: 0.76,
    one_fill_pct: 10,
    shortest_fill_s: 5,
    dose_pct: 1,
    portable_head_m: 0.002,
  },
  dilution: {
    salt_factor: 0.486,
    salt_factor_uncertainty_pct: 5.6,
    salt_kg_per_m3s: 10,
    mixed_pct: 5,
    unchecked_mixing_pct: 3,
    tail_pct: 2,
    drift_told_pct: 0.5,
    unread_background: 0.02,
    unread_drift: 0.02,
    arrived: 0.02,
    level: 0.005,
  },
  levelling: {
    setup_limit_ft: 0.003,
    most_ft: 0.015,
    ordinary_mm: 5,
    distance_mm: 12,
    longest_reading_m: 10,
    longest_sight_m: 300,
    collimation_limit_mm_per_m: 0.03,
    corner_tolerance_m: 0.002,
    mark_tolerance_m: 0.003,
  },
  install: {
    width_limit_m: 0.001,
    lift_m: 0.002,
    uplift_target: 1.25,
    sensor_m: 0.002,
    sensor_share: 0.01,
    clock_s: 60,
  },
  plans: {
    freeboard_least_m: 0.15,
    freeboard_share: 0.2,
    step_m: 0.005,
  },
  typed: {
    clock_skew_s: 300,
    like_named: 0.1,
    like_named_mm: 5,
  },
  files: {
    logger_bytes: 67108864,
  },
};

/** Read at the moment of judging, never copied into a constant: a pack may change them. */
export const thresholds = structuredClone(SHIPPED);

/** Judge by what a pack says from now on; what it does not name, or names oddly, is as shipped. */
export function useThresholds(said) {
  for (const [room, values] of Object.entries(SHIPPED))
    for (const [key, value] of Object.entries(values)) {
      const told = said?.[room]?.[key];
      thresholds[room][key] = Number.isFinite(told) ? told : value;
    }
}
