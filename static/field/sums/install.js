/**
 * Sums of an install on the phone: concrete, uplift, wet lifts, seepage, stop or go.
 *
 * The same steps, keys and errors as app/hydraulics/install/groundwork.py and install.py, where the sources
 * are; tests/tables/install_vectors.json proves the two equal. A missing number is null. They check
 * and compare; they do not design or certify.
 */
import { BadInput } from "../../shared/bad_input.js";
import { thresholds } from "../base/thresholds.js";

const limits = thresholds.install;

const G = 9.80665;
const WATER_KG_M3 = 1000;
const CONCRETE_KG_M3 = 2400;
const BAG_M3 = 0.0115;
const DUST = 1e-9;
export const CREEP_RATIOS = {
  "very fine sand or silt": 8.5,
  "fine sand": 7,
  "medium sand": 6,
  "coarse sand": 5,
  "fine gravel": 4,
  "soft clay": 3,
  "medium clay": 2,
  "hard clay": 1.8,
};
export const CORNERS = ["corner_ul", "corner_ur", "corner_dl", "corner_dr"];
export const WIDTHS = ["top_m", "middle_m", "bottom_m"];

const sum = (list) => list.reduce((total, value) => total + value, 0);
const known = (value) => value !== null && value !== undefined;

function positive(field, value) {
  if (!(value > 0))
    throw new BadInput(field, value, "must be more than zero", "Measure it and give metres.");
  return value;
}

function notNegative(field, value) {
  if (!(value >= 0))
    throw new BadInput(field, value, "must not be below zero", "Give 0 when there is none.");
  return value;
}

export function concreteVolume({ parts_m3, void_m3 = 0, allowance = 0.1 }) {
  const parts = Object.values(parts_m3);
  const volume = sum(parts) - void_m3;
  if (volume <= 0 || Math.min(0, ...parts) < 0) {
    throw new BadInput("volume", volume, "concrete has a volume", "Check the parts and the void.");
  }
  const order = volume * (1 + allowance);
  return { volume_m3: volume, order_m3: order, bags: Math.ceil(order / BAG_M3 - DUST) };
}

export function uplift({
  length_m,
  width_m,
  depth_m,
  mass_kg,
  density_kg_m3 = WATER_KG_M3,
  hold_down_kn = 0,
  target = limits.uplift_target,
}) {
  const plan =
    positive("density_kg_m3", density_kg_m3) *
    G *
    positive("length_m", length_m) *
    positive("width_m", width_m);
  const force = (plan * positive("depth_m", depth_m)) / 1000;
  const weight = (notNegative("mass_kg", mass_kg) * G) / 1000;
  const resisting = weight + notNegative("hold_down_kn", hold_down_kn);
  const factor = resisting / force;
  const holds = factor >= target - DUST;
  const word = holds ? "holds" : factor < 1 ? "floats" : "too little in hand";
  return {
    uplift_kn: force,
    weight_kn: weight,
    net_kn: force - resisting,
    factor,
    target,
    holds,
    word,
  };
}

export const wetConcreteUplift = (box) => uplift({ ...box, density_kg_m3: CONCRETE_KG_M3 });

const lack = ({ length_m, width_m, depth_m, mass_kg, target = limits.uplift_target }) =>
  Math.max(target * WATER_KG_M3 * length_m * width_m * depth_m - mass_kg, 0);

export const concreteToHold = (box) =>
  lack(box) / (CONCRETE_KG_M3 - (box.target ?? limits.uplift_target) * WATER_KG_M3);
export const ballastToHold = lack;

export function liftPressure({ lift_m, density_kg_m3 = CONCRETE_KG_M3 }) {
  const pressure = (density_kg_m3 * G * positive("lift_m", lift_m)) / 1000;
  return { pressure_kpa: pressure, force_kn_per_m: (pressure * lift_m) / 2 };
}

export function weightedCreep({ verticals_m, horizontals_m, head_m, soil = null }) {
  if (soil !== null && !(soil in CREEP_RATIOS)) {
    throw new BadInput(
      "soil",
      soil,
      "no such soil",
      `Choose one of ${Object.keys(CREEP_RATIOS).join(", ")}.`,
    );
  }
  const ratio = (sum(verticals_m) + sum(horizontals_m) / 3) / positive("head_m", head_m);
  const enough = Object.keys(CREEP_RATIOS).filter((name) => ratio >= CREEP_RATIOS[name]);
  const needed = soil === null ? null : CREEP_RATIOS[soil];
  const holds = soil === null ? null : ratio >= needed;
  return {
    ratio,
    needed,
    holds,
    enough_for: enough,
    word: holds === null ? "soil not given" : holds ? "enough" : "too short a path",
  };
}

/** Change since the last row and since the first; rows of equal length, null where unread. */
function change(rows, limit_m, noun, remedy) {
  if (
    rows.length === 0 ||
    rows[0].length === 0 ||
    rows.some((row) => row.length !== rows[0].length)
  ) {
    throw new BadInput(noun, "uneven rows", "every stop has the same places", "Fill or leave out.");
  }
  const none = rows[0].map(() => null);
  if (rows.length === 1)
    return { word: "go", reason: `first stop: ${noun}s recorded`, change_m: none, total_m: none };
  const from = (row) =>
    rows.at(-1).map((value, i) => (known(value) && known(row[i]) ? value - row[i] : null));
  const change_m = from(rows.at(-2));
  const total_m = from(rows[0]);
  // one unread hides no movement of the other
  const largest = Math.max(0, ...[...change_m, ...total_m].filter(known).map(Math.abs));
  if (largest > limit_m + DUST)
    return {
      word: "stop",
      reason: `${noun} changed by ${(largest * 1000).toFixed(1)} mm: ${remedy}`,
      change_m,
      total_m,
    };
  if (!change_m.every(known))
    return {
      word: "unknown",
      reason: `a ${noun} was not measured at this stop`,
      change_m,
      total_m,
    };
  return {
    word: "go",
    reason: `${noun} change at most ${(largest * 1000).toFixed(1)} mm`,
    change_m,
    total_m,
  };
}

export const widthStop = ({ widths_m, limit_m = limits.width_limit_m }) =>
  change(widths_m, limit_m, "width", "ease or add braces and measure again");

export function cornerStop({
  corners_m,
  tolerance_m = thresholds.levelling.corner_tolerance_m,
  lift_m = limits.lift_m,
}) {
  const check = change(corners_m, lift_m, "corner", "check ballast and straps before going on");
  const last = corners_m.at(-1);
  const spread = last.every(known) ? Math.max(...last) - Math.min(...last) : null;
  if (spread === null || spread <= tolerance_m + DUST) return check;
  const allowed = Number((tolerance_m * 1000).toPrecision(6));
  return {
    ...check,
    word: "stop",
    reason: `corners out of level by ${(spread * 1000).toFixed(1)} mm, allowed ${allowed} mm`,
  };
}

export function practiceNotes({ crest_above_floor_m, tail_fall_m, lift_fraction, fill_time_min }) {
  const usual = [
    ["crest above the race floor, m", crest_above_floor_m, 0.06, 0.16, "about 0.1"],
    ["fall at the tail, m", tail_fall_m, 0.15, 0.3, "about 0.2"],
    ["base filled in one lift, share of its height", lift_fraction, 0, 0.4, "about a third"],
    ["head pond filled, minutes", fill_time_min, 5, 15, "about 10"],
  ];
  return usual
    .filter(([, value]) => known(value))
    .map(([what, value, low, high, words]) => ({
      what,
      value,
      usual: words,
      near: low <= value && value <= high,
      provenance: "common practice",
    }));
}

/** Reduced levels of the corners sighted at one stop: {corner: m}. */
export function cornerLevels({ corners }) {
  if (!corners) return {};
  const height = corners.reference_rl_m + corners.backsight_m;
  const seen = CORNERS.filter((key) => known(corners.readings_m[key]));
  return Object.fromEntries(seen.map((key) => [key, height - corners.readings_m[key]]));
}

const widthValues = ({ widths }) =>
  Object.fromEntries(Object.entries(widths ?? {}).filter(([, value]) => known(value)));

/**
 * Rows of corner levels or widths from the last setting (S2) on, null where unread: before it is
 * set the box is moved on purpose.
 */
export function sinceSet({ bodies, part }) {
  const [read, keys] = part === "corners" ? [cornerLevels, CORNERS] : [widthValues, WIDTHS];
  const begun = Math.max(
    0,
    bodies.findLastIndex((body) => body.stop === "S2"),
  );
  return bodies
    .slice(begun)
    .map(read)
    .filter((row) => Object.keys(row).length)
    .map((row) => keys.map((key) => row[key] ?? null));
}
