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
