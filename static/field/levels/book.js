/** The book as it grows: the points offered, which sight may come next, one staff reading. */
import { parseNumber } from "../../shared/numbers.js";
import { askLength } from "../typed/plausible.js";

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
const LONGEST_STAFF_M = 5;
export const LONGEST_READING = 33; // feet on a staff of 10 m
const USUAL_SIGHT_M = 1.4; // the eye of a level on its legs; what a slip is held against before the first sight
const LEAST_SIGHT_M = 0.1; // what a slip is offered as

/** The last run that the office holds of a structure, else of its site. */
const lastRun = ({ survey, structure }) =>
  survey.runs.findLast(({ structure_id }) => structure_id === structure?.id) ?? survey.runs.at(-1);

/** A new book begins on a firm mark of known level, where one is known: that of the last run first. */
export function openOn(values, place) {
  const firm = place.survey.benchmarks.filter(
    ({ rl_m, stability, moved }) =>
      typeof rl_m === "number" && stability === "firm" && !moved?.length,
  );
  const before = lastRun(place)?.marks_m ?? {};
  const mark = firm.find(({ name }) => name in before) ?? firm[0];
  if (!mark) return values;
  const start_text = mark.rl_m.toFixed(4);
  const next = { ...values.next, point: mark.name };
  return { ...values, next, start_text, opened_on: start_text };
}

/** What the last run found at a mark, and of the crest; empty where it did not go there. */
export function lastFound(place, name, day) {
  const run = lastRun(place);
  const rl_m = run?.marks_m?.[name];
  if (typeof rl_m !== "number") return "";
  const crest =
    typeof run.crest_rl_m === "number" ? `, the crest at ${run.crest_rl_m.toFixed(4)} m` : "";
  const doubt = run.within_limit ? "" : " (over its limit, or not closed)";
  return `The run of ${day(run.observed_at)} found it at ${rl_m.toFixed(4)} m${crest}${doubt}.`;
}

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
