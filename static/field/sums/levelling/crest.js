/**
 * What a run of levels says of the structure: crest, gauge zero, sensor, tail; the two-peg test.
 *
 * The same steps, keys and errors as app/hydraulics/levelling/results.py, where the sources are;
 * tests/tables/levels_vectors.json proves the two equal. Metres; a missing number is null.
 *
 *   resultsOfRun({run, roles, adjusted?, staff_mark_m?, corner_tolerance_m?, exponent?, low_head_m?})
 *     roles: {corners: [point, ...], floor|staff_mark|sensor|water|tail_floor|tail_water: point}
 *   crestResults({corners_m, corner_tolerance_m?, exponent?, low_head_m?, floor_rl_m?, ...})
 *   twoPeg({middle_a_m, middle_b_m, end_a_m, end_b_m, end_distance_a_m, end_distance_b_m, ...})
 */
import { BadInput } from "../../../shared/bad_input.js";
import { thresholds } from "../../base/thresholds.js";
import { pointLevels, UNITS_M } from "./reduce.js";
import { markName } from "./sights.js";

const limits = thresholds.levelling;

const ROLES = ["floor", "staff_mark", "sensor", "water", "tail_floor", "tail_water"];
const DUST = 1e-9;

const sum = (list) => list.reduce((total, value) => total + value, 0);

/** Take b from a; null when either is not known. */
const less = (a, b) => (a === null || b === null ? null : a - b);

export function crestResults({
  corners_m,
  corner_tolerance_m = limits.corner_tolerance_m,
  exponent = 1.5,
  low_head_m = 0.1,
  floor_rl_m = null,
  staff_mark_rl_m = null,
  staff_mark_m = null,
  sensor_rl_m = null,
  water_rl_m = null,
  tail_floor_rl_m = null,
  tail_water_rl_m = null,
}) {
  if (corners_m.length === 0)
    throw new BadInput(
      "corners",
      "none",
      "the crest level needs its corners",
      "Level four corners.",
    );
  if (!(low_head_m > 0) || !(corner_tolerance_m > 0))
    throw new BadInput(
      "low_head_m",
      low_head_m,
      "head and tolerance are more than zero",
      "Give 0.1, say.",
    );
  const crest = sum(corners_m) / corners_m.length;
  const spread = Math.max(...corners_m) - Math.min(...corners_m);
  const zero = less(staff_mark_rl_m, staff_mark_m);
  const head = less(water_rl_m, crest);
  const tail = less(tail_water_rl_m, crest);
  const inside = corners_m.length > 1 ? spread <= corner_tolerance_m + DUST : null;
  const said = [];
  if (corners_m.length < 4) said.push(`crest from ${corners_m.length} of four corners`);
  if (inside === false)
    said.push(`corner range ${(spread * 1000).toFixed(1)} mm: report it, it is not corrected for`);
  if (zero === null) said.push("gauge zero unknown: no mark of the staff was levelled");
  if (head !== null && head <= 0) said.push("water below the crest: no flow");
  return {
    crest_rl_m: crest,
    corner_count: corners_m.length,
    corner_range_m: spread,
    corner_tolerance_m,
    corners_inside: inside,
    corner_word: `${inside === null ? "unknown" : inside ? "inside" : "outside"} ${Number((corner_tolerance_m * 1000).toPrecision(6))} mm`,
    corner_effect_pct: (100 * exponent * (spread / 2)) / low_head_m,
    crest_above_floor_m: less(crest, floor_rl_m),
    zero_rl_m: zero,
    zero_minus_crest_m: less(zero, crest),
    head_by_level_m: head,
    staff_should_read_m: less(water_rl_m, zero),
    sensor_below_crest_m: less(crest, sensor_rl_m),
    crest_above_tail_floor_m: less(crest, tail_floor_rl_m),
    tailwater_above_crest_m: tail,
    tailwater_ratio: tail !== null && head !== null && head > 0 ? tail / head : null,
    words: said,
  };
}

export function resultsOfRun({ run, roles, adjusted = false, ...options }) {
  if (adjusted && run.misclosure === null)
    throw new BadInput(
      "adjusted",
      "unknown",
      "the run is not closed",
      "Use the levels as observed.",
    );
  const levels = pointLevels(run, adjusted);
  const level_m = (role, point) => {
    const found = levels[markName(point)];
    if (!found)
      throw new BadInput(role, point, "no such point in this run", "Choose a point of the book.");
    return found.rl * UNITS_M[run.unit];
  };
  const places = {};
  for (const [role, point] of Object.entries(roles)) {
    if (role === "corners") continue;
    if (!ROLES.includes(role) || typeof point !== "string")
      throw new BadInput("roles", role, "no such role", `Choose one of ${ROLES.join(", ")}.`);
    places[`${role}_rl_m`] = level_m(role, point);
  }
  const corners = [roles.corners ?? []].flat();
  return crestResults({
    corners_m: corners.map((name) => level_m("corners", name)),
    ...places,
    ...options,
  });
}

export function twoPeg({
  middle_a_m,
  middle_b_m,
  end_a_m,
  end_b_m,
  end_distance_a_m,
  end_distance_b_m,
  middle_distance_a_m = 0,
  middle_distance_b_m = 0,
}) {
  const middle = middle_distance_a_m - middle_distance_b_m;
  const arm = end_distance_a_m - end_distance_b_m - middle;
  if (Math.abs(arm) < 1) {
    throw new BadInput(
      "end_distance_a_m",
      end_distance_a_m,
      "the sights from the end must differ in length",
      "Set up near one peg: one sight short, the other long.",
    );
  }
  const error = (end_a_m - end_b_m - (middle_a_m - middle_b_m)) / arm;
  return {
    collimation_mm_per_m: error * 1000,
    limit_mm_per_m: limits.collimation_limit_mm_per_m,
    passes: Math.abs(error * 1000) <= limits.collimation_limit_mm_per_m + DUST,
    true_difference_m: middle_a_m - middle_b_m - error * middle,
    end_a_should_read_m: end_a_m - error * end_distance_a_m,
    end_b_should_read_m: end_b_m - error * end_distance_b_m,
  };
}
