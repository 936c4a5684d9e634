/**
 * The background under a tracer cloud: before it, after it, and a straight line between.
 *
 * The same steps as app/hydraulics/gauging/background.py, where sources and reasons are; tests/tables/gaugings_vectors.json
 * proves the two equal. aboveBackground(field, times, trace, before, after) -> {rise, before, after, before_count,
 * after_from, drift_area, drift_spread, short_spread, scatter_spread}
 */
import { BadInput } from "../../shared/bad_input.js";
import { thresholds } from "../base/thresholds.js";
import { sum, twoSided } from "./statistics.js";

const limits = thresholds.dilution;

const NORMAL_MAD = 1.4826;
const FEWEST_DEGREES = 3;

/** A tie moved away from nothing, so that phone and office write the same digit. */
export const onePlace = (value) => value + (value < 0 ? -1e-9 : 1e-9);

const mean = (list) => sum(list) / list.length;
const squaresOf = (list) => sum(list.map((each) => (each - mean(list)) ** 2));

function median(list) {
  const sorted = [...list].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

function check(field, times, values) {
  if (values.length !== times.length || times.length < 3)
    throw new BadInput(
      field,
      values.length,
      "needs a time for each of three readings or more",
      "Check the two columns.",
    );
  if (!values.every(Number.isFinite))
    throw new BadInput(field, "a gap", "every reading is a number", "Leave out the empty rows.");
  times.forEach((time, i) => {
    if (i > 0 && !(time > times[i - 1]))
      throw new BadInput(`time_s ${i + 1}`, time, "times go forward", "Put rows in order.");
  });
}

function belowPeak(base, rise) {
  if (!(rise > 0))
    throw new BadInput(
      "background",
      base,
      "background is not below the peak",
      "Read the background before the gulp arrives.",
    );
}

/** How many readings come before two together (or the last) pass the limit. */
function runBelow(values, limit) {
  const found = values.findIndex(
    (value, i) => value > limit && (i + 1 === values.length || values[i + 1] > limit),
  );
  return found < 0 ? values.length : found;
}

/** How many readings from the first on are background, one at least. */
function quietRun(values, peak, share) {
  let limit = values[0] + share * peak;
  const near = runBelow(values, values[0] + 0.1 * peak);
  if (near >= 6) {
    const seen = values.slice(0, Math.floor(near / 2));
    const middle = median(seen);
    const scatter = NORMAL_MAD * median(seen.map((each) => Math.abs(each - middle)));
    limit = middle + Math.max(share * peak, 2 * scatter);
  }
  return Math.max(runBelow(values, limit), 1);
}

/** The level readings at the end: {level, end, end_at, unseen}; unseen null where tail or drift cannot be told apart. */
function ending(times, values, base, base_at, noise) {
  const peak = Math.max(...values) - base;
  const top = values.indexOf(Math.max(...values));
  const last = values.length - 1;
  const flat = values.map((value) => value - base);
  const sloped = flat.map(
    (value, i) => value - ((values[last] - base) * (times[i] - base_at)) / (times[last] - base_at),
  );
  let [count, rise] = [1, flat];
  if (top < last) {
    const counts = [flat, sloped].map((each) =>
      quietRun(each.slice(top + 1).reverse(), peak, limits.level),
    );
    [count, rise] = counts[1] > counts[0] ? [counts[1], sloped] : [counts[0], flat];
  }
  const lasted = times[last] - times[times.length - count];
  const fallen = rise.findIndex((value, i) => i >= top && value <= rise[top] / Math.E);
  const falls = fallen < 0 ? Infinity : times[fallen] - times[top];
  const level = count >= 6 ? Math.floor((count + 1) / 2) : count;
  const found = { level, end: mean(values.slice(-level)), end_at: mean(times.slice(-level)) };
  if (count >= 3 && lasted >= falls) return { ...found, unseen: 0 };
  const tolerance = Math.max(limits.level * peak, 2 * noise);
  if (found.end - base > tolerance || top === last) return { ...found, unseen: null };
  const most = limits.unread_drift * Math.abs(base);
  return { ...found, unseen: lasted > 0 ? Math.min(most, (tolerance * falls) / lasted) : most };
}

/** What scatter of the readings does to the area, expanded, by Student's t. */
function scatterSpread(times, rise, counts, single) {
  const [quiet, level] = counts;
  const parts = [rise.slice(0, quiet), rise.slice(rise.length - level)].filter(
    (part) => part.length > 1,
  );
  const degrees = sum(parts.map((part) => part.length - 1));
  if (degrees === 0) return 0;
  const weights = times.map((time, i) => ((times[i + 1] ?? time) - (times[i - 1] ?? time)) / 2);
  const readings = sum(weights.slice(quiet, times.length - level).map((each) => each ** 2));
  const ends = counts.map((n, i) => (single[i] ? 1 : Math.max(n, 1)));
  const line = ((times.at(-1) - times[0]) / 2) ** 2 * (1 / ends[0] + 1 / ends[1]);
  return (
    twoSided(Math.max(degrees, FEWEST_DEGREES)) *
    Math.sqrt((sum(parts.map(squaresOf)) / degrees) * (readings + line))
  );
}

export function aboveBackground(field, times, trace, before = null, after = null) {
  check(field, times, trace);
  const [n, first, last, most] = [trace.length, times[0], times.at(-1), Math.max(...trace)];
  const span = last - first;
  let quiet = quietRun(trace, most - trace[0], limits.arrived);
  if (quiet === n) quiet = 1;
  const [base, base_at] =
    before === null ? [mean(trace.slice(0, quiet)), mean(times.slice(0, quiet))] : [before, first];
  belowPeak(base, most - base);
  const noise = quiet >= 3 ? Math.sqrt(squaresOf(trace.slice(0, quiet)) / (quiet - 1)) : 0;
  let { level, end, end_at, unseen } = ending(times, trace, base, base_at, noise);
  let from = unseen === null ? "not read" : "trace";
  const atEnd = from === "trace" ? level : 0;
  if (after !== null) [end, end_at, from, unseen] = [after, last, "typed", 0];
  const known = from !== "not read";
  const slope = known ? (end - base) / (end_at - base_at) : 0;
  const rise = trace.map((value, i) => value - (base + slope * (times[i] - base_at)));
  belowPeak(base, Math.max(...rise));
  const hiddenFrom = before === null ? times[quiet - 1] : first;
  const hiddenTo = from === "trace" ? times[n - level] : last;
  let reach = Math.abs(slope) * (hiddenTo - hiddenFrom) * span + (unseen ?? 0) * span;
  if (!known) reach = Math.max(limits.unread_drift * Math.abs(base), Math.abs(end - base)) * span;
  return {
    rise,
    before: base,
    after: base + slope * (last - base_at),
    before_count: before === null ? quiet : 0,
    after_from: from,
    drift_area: slope * ((first + last) / 2 - base_at) * span,
    drift_spread: reach / Math.sqrt(3),
    short_spread: ((unseen ?? 0) * span) / Math.sqrt(3),
    scatter_spread: scatterSpread(
      times,
      rise,
      [quiet, atEnd],
      [before !== null, after !== null || !known],
    ),
  };
}
