/**
 * The level book from what is typed to an entry, without the page.
 *
 * `values`: {id, unit, start_text, sights: [{kind, point, role, text, struck}], next: {kind, point,
 * role, text}, editing, ...}. A sight is one reading: BS, IS or FS.
 */

import { BadInput } from "../../shared/bad_input.js";
import { fromLocalBox } from "../../shared/format.js";
import { parseNumber } from "../../shared/numbers.js";
import { resultsOfRun, twoPeg } from "../sums/crest.js";
import { markName, pointLevels, reduceRun, UNITS_M } from "../sums/levels.js";
import { ahead } from "../typed/ahead.js";
import { askLength } from "../typed/plausible.js";
import { observedAt } from "../typed/text.js";

/** Points offered, in the order in which a run usually takes them: role, name, words. */
export const POINTS = [
  ["floor", "race floor", "race floor above the flume"],
  ["corner_ul", "crest UL", "crest upstream left"],
  ["corner_ur", "crest UR", "crest upstream right"],
  ["corner_dl", "crest DL", "crest downstream left"],
  ["corner_dr", "crest DR", "crest downstream right"],
  ["staff_mark", "staff mark"],
  ["sensor", "sensor face"],
  ["water", "water", "water at the staff or in the well"],
  ["pipe_invert", "pipe invert"],
  ["tail_floor", "tail floor", "tail race floor"],
  ["tail_water", "tail water"],
  ["tail_mark", "tail mark", "mark of the tail staff"],
  ["bank", "bank"],
];
export const CORNERS = ["corner_ul", "corner_ur", "corner_dl", "corner_dr"];
const PLACES = ["floor", "staff_mark", "sensor", "water", "tail_floor", "tail_water"];
const ODD_CORNER_M = 0.02; // further from the others than this is a misreading sooner than a tilt
const LONGEST_STAFF_M = 5;
const LONGEST_READING = 33; // feet on a staff of 10 m
const USUAL_SIGHT_M = 1.4; // the eye of a level on its legs; what a slip is held against before the first sight
const LEAST_SIGHT_M = 0.1; // what a slip is offered as

export function emptyRun(id) {
  return {
    id,
    unit: "m",
    start_text: "",
    close_text: "",
    sights: [],
    removed: [],
    kept: [],
    editing: null,
    next: { kind: "bs", point: "", role: "benchmark", text: "" },
    rule: "setups",
    distance_text: "",
    limit_text: "",
    adjusted: false,
    staff_text: "",
    tail_text: "",
    tolerance_text: "2",
    low_head_text: "100",
    peg: {
      middle_a_m: "",
      middle_b_m: "",
      end_a_m: "",
      end_b_m: "",
      end_distance_a_m: "",
      end_distance_b_m: "",
    },
    instrument_id: null, // nobody chose yet: the one chosen last is offered
    instrument: "",
    note: "",
    set_zero: false,
    zero_from: "",
    zero_reason: "",
    reason: "",
  };
}

export const isHalfFilled = (values) =>
  values.sights.length > 0 ||
  [values.start_text, values.next.text, values.note, ...Object.values(values.peg)].some((text) =>
    text.trim(),
  );

/** Which sights may come next. */
export function kindsAfter(sights) {
  const last = sights.at(-1)?.kind;
  return last === undefined || last === "fs" ? ["bs"] : ["is", "fs"];
}

/** The sight offered next: a backsight on the turning point, else the next point of the list. */
export function offer(sights) {
  const last = sights.at(-1);
  if (!last) return { kind: "bs", point: "", role: "benchmark", text: "" };
  if (last.kind === "fs") return { kind: "bs", point: last.point, role: last.role, text: "" };
  const place = POINTS.findIndex(([role]) => role === last.role);
  const booked = new Set(sights.map(({ role }) => role));
  const rest = POINTS.slice(place + 1).find(([role]) => !booked.has(role));
  const [role, point] = rest ?? ["other", ""];
  return { kind: "is", role, point, text: "" };
}

export function turningPoint(sights) {
  const used = sights.filter(({ kind, role }) => kind === "fs" && role === "turning_point").length;
  return `TP${used + 1}`;
}

/** Read a staff reading in the unit of the book: {value} | {question, text} | {problem} | null. */
export function readSight(text, unit, { sights = [], kept = [] } = {}) {
  if (!text.trim()) return null;
  if (unit === "m") {
    const others = sights
      .map((sight) => parseNumber(sight.text, { high: 10 }))
      .filter((value) => value > 0)
      .sort((a, b) => a - b);
    const last = others[others.length >> 1] ?? USUAL_SIGHT_M;
    const read = askLength(
      text,
      "m",
      { low: -LONGEST_STAFF_M, high: LONGEST_STAFF_M, last, least: LEAST_SIGHT_M },
      kept,
    );
    return read.metres === undefined || read.question ? read : { value: read.metres };
  }
  const value = parseNumber(text, { low: -LONGEST_READING, high: LONGEST_READING });
  return value === null || Math.abs(value) > LONGEST_READING
    ? { problem: `"${text.trim()}" is no reading of a staff in feet.` }
    : { value };
}

/** Levels, km and mm of a run never reach a thousand; levels are booked to the millimetre. */
const optional = (text) => (text.trim() ? parseNumber(text, { high: 999 }) : null);

function rowsOf(sights) {
  return sights.map(({ kind, point, role, text, distance_text, struck }) => {
    const row = { point, role, bs: null, is: null, fs: null, struck: struck ?? [] };
    if (distance_text?.trim()) row.distance_m = parseNumber(distance_text, { high: 999 });
    row[kind] = parseNumber(text, { low: -LONGEST_READING, high: LONGEST_READING });
    return row;
  });
}

const everyLength = (sights) =>
  sights.every(({ kind, distance_text }) => kind === "is" || optional(distance_text ?? "") > 0);

function ruleOf(values) {
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

function results(values, run, exponent) {
  const points = pointsByRole(values.sights);
  const corners = CORNERS.filter((corner) => points[corner]).map((corner) => points[corner]);
  if (!corners.length) return null;
  const roles = { corners };
  for (const place of PLACES) if (points[place]) roles[place] = points[place];
  return resultsOfRun({
    run,
    roles,
    adjusted: values.adjusted && run.misclosure !== null,
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
const tolerance = (values) => millimetresOr(values.tolerance_text, 2);
const lowHead = (values) => millimetresOr(values.low_head_text, 100);

function tailZero(values, run) {
  const point = pointsByRole(values.sights).tail_mark;
  const mark = optional(values.tail_text);
  if (!point || mark === null) return null;
  return (
    pointLevels(run, values.adjusted && run.misclosure !== null)[point].rl * UNITS_M[run.unit] -
    mark
  );
}

/** Reduced levels, m, of the benchmarks of a run, by name. */
export function marksOf(sights, run) {
  const levels = pointLevels(run);
  const names = sights
    .filter(({ role }) => role === "benchmark")
    .map(({ point }) => markName(point));
  return Object.fromEntries(
    [...new Set(names)].map((name) => [name, levels[name].rl * UNITS_M[run.unit]]),
  );
}

/**
 * Where a wrong reading is likely: a corner far from the others; marks sighted from two set-ups,
 * which clear or accuse the turning points between them; a misclosure of a round figure.
 */
export function suspicions(values, run) {
  const found = [];
  const levels = pointLevels(run);
  const points = pointsByRole(values.sights);
  const corners = CORNERS.filter((corner) => points[corner]).map((corner) => [
    points[corner],
    levels[points[corner]].rl * UNITS_M[run.unit],
  ]);
  for (const [name, rl] of corners) {
    const others = corners.filter(([other]) => other !== name).map(([, each]) => each);
    if (others.length > 1 && others.every((each) => Math.abs(each - rl) > ODD_CORNER_M)) {
      found.push(
        `${name} lies ${Math.abs((rl - others[0]) * 1000).toFixed(0)} mm from the other corners: read it again`,
      );
    }
  }
  if (run.within_limit !== false) return found;
  const seen = {};
  run.point.map(markName).forEach((name, i) => {
    if (run.kind[i] !== "bs" || i === 0)
      (seen[name] ??= []).push({ setup: run.setup[i], rl: run.rl[i] });
  });
  const first = markName(run.point[0]);
  for (const [name, sights] of Object.entries(seen)) {
    const [a, b] = [sights[0], sights.at(-1)];
    if (name === first || a.setup === b.setup) continue;
    const apart_mm = Math.abs(b.rl - a.rl) * UNITS_M[run.unit] * 1000;
    found.push(
      apart_mm > run.limit_mm
        ? `${name} differs by ${apart_mm.toFixed(1)} mm: look at the sights on it and the turning points from set-up ${a.setup} to ${b.setup}`
        : `${name} agrees from set-up ${a.setup} to ${b.setup}: the turning points between them are good`,
    );
  }
  const round = [1000, 100, 10].find(
    (step) => Math.abs(Math.abs(run.misclosure_mm) - step) <= Math.max(run.limit_mm, 1.5),
  );
  if (round)
    found.push(
      `the misclosure is close to ${round} mm: a digit of a backsight or foresight may be misread`,
    );
  return found;
}

/** Why a run needs a reason before it may set the gauge zero; empty when it needs none. */
export function doubt(run) {
  if (!run.arithmetic_agrees) return "the book does not agree with itself";
  if (run.within_limit === null) return "the run is not closed, so its misclosure is not known";
  if (!run.within_limit)
    return `the misclosure ${run.misclosure_mm.toFixed(1)} mm is over the limit ${run.limit_mm.toFixed(2)} mm`;
  return "";
}

/** The two-peg test: {test} | {problem} | null when nothing is typed. */
export function pegTest(peg) {
  const texts = Object.values(peg);
  if (texts.every((text) => !text.trim())) return null;
  const figures = Object.fromEntries(
    Object.entries(peg).map(([key, text]) => [key, optional(text)]),
  );
  if (Object.values(figures).includes(null)) return { problem: "Give all six figures, or none." };
  try {
    return { figures, test: twoPeg(figures) };
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    return { problem: `${error.rule}. ${error.remedy}` };
  }
}

/** What stands in the way of saving, in the order of the page. */
export function problems(values, reduced, { utcOffsetMin = 0, now = null } = {}) {
  const found = [];
  if (optional(values.start_text) === null) found.push("Give the level of the first mark.");
  if (!values.sights.length) found.push("Book the first backsight.");
  if (reduced.problem)
    found.push(`${reduced.problem.field}: ${reduced.problem.rule}. ${reduced.problem.remedy}`);
  if (values.next.text.trim())
    found.push("A reading is typed but not booked. Book it or clear it.");
  if (reduced.ruleProblem) found.push(reduced.ruleProblem);
  if (pegTest(values.peg)?.problem) found.push(`Two-peg test: ${pegTest(values.peg).problem}`);
  if (values.set_zero) {
    const begins = ahead(fromLocalBox(values.zero_from, utcOffsetMin), now, "The zero's beginning");
    if (begins) found.push(begins);
    const zero = reduced.results?.zero_rl_m ?? null;
    if (zero === null)
      found.push(
        "To set the gauge zero level the crest and a mark of the staff, and say what the staff reads there.",
      );
    else if (Math.abs(reduced.results.zero_minus_crest_m) > 10)
      found.push(
        "The gauge zero would lie more than 10 m from the crest. Check the mark of the staff.",
      );
    if (reduced.run && doubt(reduced.run) && !values.zero_reason.trim())
      found.push(`Say why this run may set the zero: ${doubt(reduced.run)}.`);
  }
  return found;
}

export function runEntry(
  values,
  reduced,
  { site, structure, visitId, personId, corrects, record, now, exponent },
) {
  const { run, results: crest } = reduced;
  const peg = pegTest(values.peg);
  const struck = values.removed.length ? `Struck out: ${values.removed.join("; ")}` : "";
  return {
    id: values.id,
    kind: "level_run",
    site_id: site.id,
    structure_id: structure?.id ?? null,
    visit_id: visitId ?? null,
    observed_at: observedAt({ record }, now),
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: corrects ?? null,
    reason: values.reason.trim() || null,
    body: {
      unit: values.unit,
      start_rl: optional(values.start_text),
      close_rl: optional(values.close_text),
      rows: rowsOf(values.sights),
      rule: ruleOf(values),
      adjusted: values.adjusted,
      staff_mark_m: optional(values.staff_text),
      tail_mark_m: optional(values.tail_text),
      corner_tolerance_m: tolerance(values),
      low_head_m: lowHead(values),
      exponent,
      instrument: values.instrument.trim(),
      instrument_id: Number(values.instrument_id) || null,
      peg_test: peg?.figures ?? null,
      set_zero: values.set_zero
        ? {
            from: fromLocalBox(values.zero_from, site.utc_offset_min) ?? now,
            reason: values.zero_reason.trim(),
          }
        : null,
      note: [values.note.trim(), struck].filter(Boolean).join("\n"),
      preview: {
        misclosure_mm: run.misclosure_mm,
        limit_mm: run.limit_mm,
        within_limit: run.within_limit,
        crest_rl_m: crest?.crest_rl_m ?? null,
        zero_rl_m: crest?.zero_rl_m ?? null,
        corner_range_m: crest?.corner_range_m ?? null,
        words: [...run.words, ...(crest?.words ?? [])]
          .map((words) => words.slice(0, 200))
          .slice(0, 40),
      },
    },
  };
}
