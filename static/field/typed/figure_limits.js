/**
 * Figures of a gauging that nobody measures at a flume, or that are ten times what the others of
 * their column are: asked once, with what they are likely meant as. The limits are wide and common
 * practice; a figure outside them may still be right.
 */

import { parseNumber, spelled } from "../../shared/numbers.js";
import { limitOf } from "./number_words.js";

const MADE = {
  // by the field of the entry: least, most, unit, words
  depth_m: [0, 5, "m", "Depth"],
  depths_m: [0, 5, "m", "Depth"],
  distance_m: [-100, 100, "m", "Tape or run"],
  width_m: [0.02, 100, "m", "Width"],
  velocity_ms: [-2, 6, "m/s", "Velocity"],
  seconds: [1, 3600, "s", "Time"],
  time_s: [0.2, 7200, "s", "Time"],
  times_s: [0.2, 7200, "s", "Time"],
  volume_l: [0.05, 5000, "L", "Volume"],
  heads_mm: [0, 1000, "mm", "Head"],
  mass_g: [0.5, 50000, "g", "Salt"],
  discharge_l_s: [0.01, 20000, "L/s", "Discharge"],
};
const REPEATS = new Set(["time_s", "times_s", "volume_l"]); // of one thing: a tenth is odd as well
const COLUMNS = new Set([...REPEATS, "depth_m", "depths_m", "velocity_ms"]); // shallow and slow at a bank are not
const FEWEST_OTHERS = 3;
const APART = 5;
const ALIKE = 2;
const SLIPS = [0.1, 10, 0.001, 0.01, 1000]; // the decimal sign, then mm and cm for metres

/** A name for what was answered, so that the same figure in another box is asked about too. */
const keyOf = (field, text) => `${field} ${text.trim()}`;

/** The figure with its decimal sign one place on, where it then fits the others and does not now. */
function slipped(field, value, all) {
  const others = [...all];
  others.splice(others.indexOf(value), 1);
  if (!COLUMNS.has(field) || others.length < FEWEST_OTHERS) return null;
  const middle = others.sort((a, b) => a - b)[others.length >> 1];
  const odd = value > middle * APART || (REPEATS.has(field) && value < middle / APART);
  const meant = Number((value * (value > middle ? 0.1 : 10)).toPrecision(9));
  return odd && meant < middle * ALIKE && meant > middle / ALIKE ? meant : null;
}

/** The first figure of what was observed that is asked about, or null: {field, text, question, offers, key}. */
export function oddFigure(observed, kept) {
  const columns = {};
  for (const [field, text] of figuresOf(observed)) {
    const value = parseNumber(text, { high: limitOf(field) });
    if (value > 0) (columns[field] ??= []).push(value);
  }
  for (const [field, text] of figuresOf(observed)) {
    const [low, high, unit, words] = MADE[field];
    const value = parseNumber(text, { high: limitOf(field) });
    const key = keyOf(field, text);
    if (value === null || kept.includes(key)) continue;
    const meant = value > 0 ? slipped(field, value, columns[field]) : null;
    if (value >= low && value <= high && meant === null) continue;
    if (value < 0 && low >= 0) continue; // the sums name it as a fault already: not asked twice
    const likely = meant ?? SLIPS.map((factor) => Number((value * factor).toPrecision(9)));
    const offers = [likely]
      .flat()
      .filter((each) => each && each >= Math.max(low, 0) && each <= high);
    return {
      field,
      text,
      key,
      unit,
      question: `${words} ${text.trim()} ${unit}?`,
      offers: offers
        .slice(0, 2)
        .map((each) => ({ text: spelled(each), words: `${each} ${unit}?` })),
    };
  }
  return null;
}

/** Every typed figure that has a limit, [field, text], in the order of the form. */
function* figuresOf(value, field = "") {
  if (typeof value === "string") {
    if (field in MADE && value.trim()) yield [field, value];
  } else if (Array.isArray(value)) for (const one of value) yield* figuresOf(one, field);
  else if (value && typeof value === "object")
    for (const [key, one] of Object.entries(value)) yield* figuresOf(one, key);
}
