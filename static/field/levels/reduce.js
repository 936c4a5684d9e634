/** The book as typed, reduced: the run, the crest, the marks; what the entry takes of it. */
import { BadInput } from "../../shared/bad_input.js";
import { parseNumber } from "../../shared/numbers.js";
import { thresholds } from "../base/thresholds.js";
import { resultsOfRun } from "../sums/levelling/crest.js";
import { pointLevels, reduceRun, UNITS_M } from "../sums/levelling/reduce.js";
import { markName } from "../sums/levelling/sights.js";
import { LONGEST_READING } from "./book.js";

export const CORNERS = ["corner_ul", "corner_ur", "corner_dl", "corner_dr"];
const PLACES = ["floor", "staff_mark", "sensor", "water", "tail_floor", "tail_water"];

/** Levels, km and mm of a run never reach a thousand; levels are booked to the millimetre. */
export const optional = (text) => (text.trim() ? parseNumber(text, { high: 999 }) : null);

export function rowsOf(sights) {
  return sights.map(({ kind, point, role, text, distance_text, struck }) => {
    const row = { point, role, bs: null, is: null, fs: null, struck: struck ?? [] };
    if (distance_text?.trim()) row.distance_m = parseNumber(distance_text, { high: 999 });
    row[kind] = parseNumber(text, { low: -LONGEST_READING, high: LONGEST_READING });
    return row;
  });
}

const everyLength = (sights) =>
  sights.every(({ kind, distance_text }) => kind === "is" || optional(distance_text ?? "") > 0);

export function ruleOf(values) {
  return {
    name: values.rule,
    distance_km: optional(values.distance_text),
    limit_mm: optional(values.limit_text),
  };
}

/**
 * Reduce what is booked: {run, results, tailZero_m, problem, ruleProblem}. `run` is null before the
 * first sight or when the book cannot be read; `problem` says why.
 */
export function reduce(values, exponent = 1.5) {
  const found = { run: null, results: null, tailZero_m: null, problem: null };
  const start = optional(values.start_text);
  if (!values.sights.length || start === null) return found;
  const rule = ruleOf(values);
  const lacking =
    (rule.name === "distance" && !(rule.distance_km > 0) && !everyLength(values.sights)) ||
    (rule.name === "fixed" && !(rule.limit_mm > 0));
  try {
    found.run = reduceRun({
      rows: rowsOf(values.sights),
      start_rl: start,
      close_rl: optional(values.close_text),
      unit: values.unit,
      rule: lacking ? "setups" : rule.name,
      distance_km: rule.distance_km,
      limit_mm: rule.limit_mm,
    });
    found.ruleProblem = lacking
      ? `Give the ${rule.name === "fixed" ? "limit in mm" : "length in km"}; until then the limit by set-ups is shown.`
      : "";
    found.results = results(values, found.run, exponent);
    found.tailZero_m = tailZero(values, found.run);
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    found.problem = error;
  }
  return found;
}

export function pointsByRole(sights) {
  const found = {};
  for (const { role, point } of sights) found[role] ??= markName(point);
  return found;
}

/** Levels are shared out as the person asked, once the misclosure is known. */
const isAdjusted = (values, run) => values.adjusted && run.misclosure !== null;

function results(values, run, exponent) {
  const points = pointsByRole(values.sights);
  const corners = CORNERS.filter((corner) => points[corner]).map((corner) => points[corner]);
  if (!corners.length) return null;
  const roles = { corners };
  for (const place of PLACES) if (points[place]) roles[place] = points[place];
  return resultsOfRun({
    run,
    roles,
    adjusted: isAdjusted(values, run),
    staff_mark_m: optional(values.staff_text),
    corner_tolerance_m: tolerance(values),
    low_head_m: lowHead(values),
    exponent,
  });
}

const millimetresOr = (text, otherwise_mm) => {
  const value = optional(text);
  return (value > 0 ? value : otherwise_mm) / 1000;
};
export const tolerance = (values) =>
  millimetresOr(values.tolerance_text, thresholds.levelling.corner_tolerance_m * 1000);
export const lowHead = (values) => millimetresOr(values.low_head_text, 100);

function tailZero(values, run) {
  const point = pointsByRole(values.sights).tail_mark;
  const mark = optional(values.tail_text);
  if (!point || mark === null) return null;
  return pointLevels(run, isAdjusted(values, run))[point].rl * UNITS_M[run.unit] - mark;
}

/** Reduced levels, m, of the benchmarks of a run, by name; adjusted as the office keeps them. */
export function marksOf(values, run) {
  const levels = pointLevels(run, isAdjusted(values, run));
  const names = values.sights
    .filter(({ role }) => role === "benchmark")
    .map(({ point }) => markName(point));
  return Object.fromEntries(
    [...new Set(names)].map((name) => [name, levels[name].rl * UNITS_M[run.unit]]),
  );
}
