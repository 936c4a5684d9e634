/**
 * A check gauging from the form's values to an entry, without the page: the heads and times, the
 * method's observations, the sums and the verdict, and what still stands in the way of saving.
 */

import { BadInput } from "../../shared/bad_input.js";
import { fromLocalBox } from "../../shared/format.js";
import { thresholds } from "../base/thresholds.js";
import { ahead } from "../typed/ahead.js";
import { oddFigure } from "../typed/figure_limits.js";
import { askLength } from "../typed/plausible.js";
import { length } from "../typed/text.js";
import { asked } from "./figures.js";
import { methodOf, worked } from "./methods.js";
import { judge, rateAtHead } from "./verdict.js";

export function emptyGauging(id, unit) {
  return {
    id,
    unit,
    method: "",
    parts: {},
    heads: [
      { text: "", at: null },
      { text: "", at: null },
    ],
    kept: [],
    tail: "not_seen",
    tail_text: "",
    control: [],
    observers: "",
    instrument_id: null, // nobody chose yet: the one chosen last is offered
    instrument: "",
    serial: "",
    calibrated: "",
    tolerance: "",
    start: "",
    end: "",
    time_reason: "",
    note: "",
    reason: "",
    cautions_read: false,
  };
}

const TEXTS = [
  "tail_text",
  "observers",
  "instrument",
  "serial",
  "calibrated",
  "tolerance",
  "start",
  "end",
  "note",
  "reason",
];

/** Has anything been typed that would be missed? */
export function isHalfFilled(values) {
  return (
    values.heads.some(({ text }) => text.trim()) ||
    TEXTS.some((name) => values[name].trim()) ||
    Object.entries(values.parts).some(([key, part]) => methodOf(key)?.begun(part))
  );
}

const plain = (box) => box !== null && box.metres !== undefined && !box.question;

function readBox(text, values, highest) {
  return askLength(text, values.unit, highest, values.kept);
}

/** Times of the heads: as they were typed, or spread between a start and an end given by hand. */
function headTimes(taken, start, end, now) {
  if (!start && !end) return taken.map(({ at }) => at ?? now);
  const last = taken.length - 1;
  const from = Date.parse(start ?? taken[0]?.at ?? now);
  const to = Date.parse(end ?? taken[last]?.at ?? now);
  return taken.map((_, i) =>
    new Date(last < 1 ? from : from + ((to - from) * i) / last).toISOString(),
  );
}

/**
 * Understand the form: {boxes, tail, seen, observed, gauging, problem, atHead, verdict, flags,
 * blocking}. `problem` is a BadInput that keeps the discharge from being worked out; `blocking`
 * are words of what must be put right before anything can be saved.
 */
export function readGauging(values, { structure, pack, highest, utcOffsetMin, now }) {
  const boxes = values.heads.map(({ text }) => readBox(text, values, highest));
  const tail = values.tail === "read" ? readBox(values.tail_text, values, highest) : null;
  const taken = values.heads.filter((_, i) => plain(boxes[i]));
  const [start, end] = [
    fromLocalBox(values.start, utcOffsetMin),
    fromLocalBox(values.end, utcOffsetMin),
  ];
  const times = headTimes(taken, start, end, now);
  const heads = taken.map(({ text }, i) => ({
    at: times[i],
    staff_m: boxes.filter(plain)[i].metres,
    text: text.trim(),
  }));
  const startedAt = start ?? heads[0]?.at ?? now;
  const endedAt = end ?? (heads.length > 1 ? heads.at(-1).at : startedAt);
  const tailwater = {
    state: values.tail === "read" && !plain(tail) ? "not_seen" : values.tail,
    staff_m: plain(tail) ? tail.metres : null,
    text: plain(tail) ? values.tail_text.trim() : null,
  };
  const method = methodOf(values.method);
  const part = values.parts[values.method];
  const observed = method && part ? method.observed(part, pack) : null;
  const worked = workOut(method, part, observed, pack);
  const atHead = rateAtHead({ heads, tailwater, startedAt }, structure);
  const tolerance = toleranceOf(values);
  const judged = judge(worked.unfinished ? null : worked.gauging, atHead, tolerance);
  const odd = observed ? oddFigure(observed, values.kept) : null;
  const found = {
    boxes,
    tail,
    heads,
    tailwater,
    startedAt,
    endedAt,
    observed,
    odd,
    ...worked,
    atHead,
    ...judged,
  };
  return { ...found, blocking: blocking(values, found, now) };
}

function workOut(method, part, observed, pack) {
  if (!observed || !method.begun(part)) return { gauging: null, problem: null, unfinished: null };
  try {
    return {
      gauging: worked(observed, pack),
      problem: null,
      unfinished: method.unfinished?.(part) ?? null,
    };
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    const gauging = method.soFar?.(observed) ?? null; // one more vertical is being typed
    return gauging
      ? { gauging, problem: null, unfinished: error }
      : { gauging: null, problem: error, unfinished: null };
  }
}

function toleranceOf(values) {
  try {
    const typed = asked(values, "tolerance");
    return typed > 0 ? typed : thresholds.gaugings.tolerance_pct;
  } catch {
    return thresholds.gaugings.tolerance_pct;
  }
}

function blocking(values, { boxes, tail, observed, odd, startedAt, endedAt }, now) {
  const found = [];
  if (!observed) found.push("Choose the method.");
  for (const box of [...boxes, tail]) {
    if (box?.problem) found.push(box.problem);
    else if (box?.question) found.push(`Answer "${box.question}" first.`);
  }
  if (odd) found.push(`Answer "${odd.question}" first.`);
  if (values.tail === "read" && tail === null)
    found.push("Type the tail staff, or say that it was not seen.");
  if ((values.start || values.end) && !values.time_reason.trim())
    found.push("Say why the times are typed by hand.");
  if (Date.parse(endedAt) < Date.parse(startedAt))
    found.push("The end lies before the start. Check the times.");
  found.push(ahead(startedAt, now, "The start"), ahead(endedAt, now, "The end"));
  return found.filter(Boolean);
}

/** One sentence of a BadInput for people: field, value, rule, remedy. */
export function problemWords({ field, value, rule, remedy }) {
  const plainly = field
    .replace(/ distance_m$/, " tape")
    .replace(/ depth_m$/, " depth")
    .replace(/ v0(\d)/, " at 0.$1")
    .replaceAll("_", " ");
  const name = plainly.replace(/^./, (c) => c.toUpperCase());
  const shown = value === "none" || value === "" ? "" : ` \u201c${value}\u201d`;
  return `${name}${shown}: ${rule}. ${remedy}`;
}

/** The part of the entry that says what the phone showed. */
function previewBody({ gauging, problem, unfinished, atHead, verdict, flags }) {
  const whole = unfinished ? null : gauging;
  const wrong = problem ?? unfinished;
  return {
    discharge_m3s: whole?.discharge_m3s ?? null,
    uncertainty_pct: whole?.uncertainty_pct ?? null,
    rating_m3s: atHead.rated?.discharge_m3s ?? null,
    rating_uncertainty_pct: atHead.rated?.uncertainty_pct ?? null,
    head_mean_m: atHead.head?.mean_m ?? null,
    deviation_pct: verdict?.deviation_pct ?? null,
    e_n: verdict?.e_n ?? null,
    word: verdict?.word ?? "no discharge",
    reason: (verdict?.reason ?? "").slice(0, 400),
    flags: flags.slice(0, 40).map((flag) => flag.slice(0, 200)),
    problem: wrong ? problemWords(wrong).slice(0, 600) : null,
    rating_id: atHead.rating?.id ?? null,
    table_hash: atHead.rating?.table.hash ?? null,
  };
}

/** The entry for the outbox. */
export function gaugingEntry(values, read, { site, structure, visitId, personId, corrects, now }) {
  const text = (name) => values[name].trim();
  return {
    id: values.id,
    kind: "check_gauging",
    site_id: site.id,
    structure_id: structure.id,
    visit_id: visitId ?? null,
    observed_at: read.startedAt,
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: corrects ?? null,
    reason: text("reason") || null,
    body: {
      observed: read.observed,
      started_at: read.startedAt,
      ended_at: read.endedAt,
      heads: read.heads,
      head_unit: values.unit,
      tailwater: read.tailwater,
      control: values.control,
      observers: text("observers")
        .split(",")
        .map((each) => each.trim())
        .filter(Boolean)
        .slice(0, 10),
      instrument: {
        kind: text("instrument"),
        serial: text("serial"),
        last_calibration: text("calibrated"),
      },
      instrument_id: Number(values.instrument_id) || null,
      tolerance_pct: text("tolerance") || null,
      note: text("note"),
      time_reason: values.start || values.end ? text("time_reason") : null,
      cautions_read: values.cautions_read,
      preview: previewBody(read),
    },
  };
}

/** Form values from an entry, to correct it or put it right. */
export function valuesOf(entry, id, toBox) {
  const { body } = entry;
  const method = methodOf(body.observed.method);
  const timed = Boolean(body.time_reason);
  return {
    ...emptyGauging(id, body.head_unit),
    method: body.observed.method,
    parts: { [body.observed.method]: method.fromObserved(body.observed) },
    heads: body.heads.map(({ text, staff_m, at }) => ({
      text: text ?? length(staff_m, body.head_unit),
      at,
    })),
    kept: body.heads.map(({ text }) => text).filter(Boolean),
    tail: body.tailwater.state,
    tail_text: body.tailwater.text ?? "",
    control: body.control,
    observers: body.observers.join(", "),
    instrument_id: String(body.instrument_id ?? ""),
    instrument: body.instrument.kind,
    serial: body.instrument.serial,
    calibrated: body.instrument.last_calibration,
    tolerance: String(body.tolerance_pct ?? ""),
    note: body.note,
    cautions_read: body.cautions_read,
    start: timed ? toBox(body.started_at) : "",
    end: timed ? toBox(body.ended_at) : "",
    time_reason: body.time_reason ?? "",
  };
}
