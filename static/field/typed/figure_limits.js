/**
 * Figures of a gauging that nobody measures at a flume: asked once, with what they are likely meant
 * as. The limits are wide and common practice; a figure outside them may still be right.
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
const SLIPS = [0.1, 10, 0.001, 0.01, 1000]; // the decimal sign, then mm and cm for metres

/** A name for what was answered, so that the same figure in another box is asked about too. */
const keyOf = (field, text) => `${field} ${text.trim()}`;

/** The first figure of what was observed that is asked about, or null: {field, text, question, offers, key}. */
export function oddFigure(observed, kept) {
  for (const [field, text] of figuresOf(observed)) {
    const [low, high, unit, words] = MADE[field];
    const value = parseNumber(text, { high: limitOf(field) });
    const key = keyOf(field, text);
    if (value === null || (value >= low && value <= high) || kept.includes(key)) continue;
    if (value < 0 && low >= 0) continue; // the sums name it as a fault already: not asked twice
    const offers = SLIPS.map((factor) => Number((value * factor).toPrecision(9))).filter(
      (each) => each && each >= Math.max(low, 0) && each <= high,
    );
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
