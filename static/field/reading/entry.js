/**
 * A head reading from the form's values to an entry, without the page: what is typed, when, and
 * what still stands in the way of saving it.
 */

import { fromLocalBox } from "../../shared/format.js";
import { parseNumber, toMetres } from "../../shared/numbers.js";
import { ahead } from "../typed/ahead.js";
import { askLength } from "../typed/plausible.js";
import { MOST_ANSWERS, NOT_ANSWERED } from "./empty.js";

const HIGHEST_HEAD_M = 10; // no flume has more; the office takes up to 50 m
const EARLIEST = Date.parse("1990-01-01T00:00:00Z");

/**
 * Understand the form.
 *
 * Returns {reading, heads, tail, problems}: `heads` and `tail` say per box what was understood
 * ({metres} | {question, text} | {problem} | null when empty); `problems` are the words of what
 * must be put right before saving; `reading` holds only what is plain. With `saving` a figure
 * whose question nobody answered stands as typed and says so: a question is no reason to lose it.
 */
export function readForm(values, { usual, utcOffsetMin, now, saving = false }) {
  const { unit } = values;
  const ask = (text, range = usual) => {
    const read = askLength(text, unit, range, values.kept);
    return saving && hasOneMeaning(read) ? { metres: read.metres, unanswered: text.trim() } : read;
  };
  const boxes = values.heads.map(({ text }) => ask(text));
  const tail = values.tail === "read" ? ask(values.tail_text, usual.tail) : null;
  const sensor_m = sensorHead(values.sensor_text, unit);
  const taken = values.heads.filter((_, i) => plain(boxes[i]));
  const time = values.time ? fromLocalBox(values.time, utcOffsetMin) : null;
  const last = taken
    .map(({ at }) => at)
    .filter(Boolean)
    .sort()
    .at(-1);
  const observed_at = time ?? last ?? now;
  const reading = {
    staff_m: boxes.filter(plain).map((box) => box.metres),
    // times belong to the boxes only while the reading's own time is the phone's
    read_at:
      !time && taken.length && taken.every(({ at }) => at) ? taken.map(({ at }) => at) : null,
    observed_at,
    tailwater: {
      state: values.tail === "read" && !plain(tail) ? "not_seen" : values.tail,
      staff_m: plain(tail) ? tail.metres : null,
      text: plain(tail) ? values.tail_text.trim() : null,
    },
    gate_opened_at: fromLocalBox(values.gate, utcOffsetMin),
    conditions: values.conditions,
    sensor_head_m: sensor_m,
    ...answers(values, boxes, tail),
  };
  return {
    reading,
    heads: boxes,
    tail,
    problems: problems(values, boxes, tail, sensor_m, reading, now),
  };
}

/** Asked about, but what it says is plain: of two meanings none is chosen. */
const hasOneMeaning = (read) => Boolean(read?.question) && !read.must && read.typed.length === 1;

/** What the person answered about figures that are not usual; nothing where nothing was asked. */
function answers(values, heads, tail) {
  const boxes = [...heads, tail];
  const open = boxes
    .filter((box) => box?.unanswered)
    .map((box) => ({
      figure: box === tail ? "tail" : "staff",
      typed: box.unanswered,
      unit: values.unit,
      answer: NOT_ANSWERED,
    }));
  const asked = [...values.answers, ...open].slice(-MOST_ANSWERS);
  const as_typed = boxes.flatMap((box, i) =>
    box?.kept ? [(values.heads[i]?.text ?? values.tail_text).trim()] : [],
  );
  return {
    ...(as_typed.length ? { as_typed } : {}),
    ...(asked.length ? { asked } : {}),
    ...(values.dry && boxes.some((box) => box?.dry) ? { dry: true } : {}),
  };
}

/** The head that the logger shows, null where it is none that a flume can have. */
function sensorHead(text, unit) {
  const value = parseNumber(text, { high: HIGHEST_HEAD_M / toMetres(1, unit) });
  const head_m = value === null ? null : toMetres(value, unit);
  return head_m !== null && Math.abs(head_m) <= HIGHEST_HEAD_M ? head_m : null;
}

const plain = (box) => box !== null && box.metres !== undefined && !box.question;

function problems(values, boxes, tail, sensor_m, reading, now) {
  const found = [];
  if (boxes.every((box) => box === null)) found.push("Type the staff reading.");
  for (const box of [...boxes, tail]) {
    if (box?.problem) found.push(box.problem);
    else if (box?.question) found.push(`Answer "${box.question}" first.`);
  }
  if (values.tail === "read" && tail === null)
    found.push("Type the tail staff, or say that it was not seen.");
  if (values.sensor_text.trim() && sensor_m === null)
    found.push(
      `Logger ${values.sensor_text.trim()} ${values.unit}: no head. Read it again, or leave it empty.`,
    );
  if (values.time && !values.time_reason.trim()) found.push("Say why the time is not now.");
  found.push(
    ahead(reading.observed_at, now),
    ahead(reading.gate_opened_at, now, "The gate's time"),
    longAgo(reading.observed_at, "The time"),
    longAgo(reading.gate_opened_at, "The gate's time"),
  );
  return found.filter(Boolean);
}

/** Beyond these the office refuses: told here, so that nothing is saved that cannot arrive. */
const longAgo = (iso, name) =>
  iso && Date.parse(iso) < EARLIEST ? `${name} lies before 1990. Check its year.` : "";

/** The entry for the outbox; `preview` is what the phone showed. */
export function readingEntry(values, reading, context, preview) {
  const { site, structure, visitId, personId, corrects, now } = context;
  const { observed_at, ...seen } = reading;
  return {
    id: values.id,
    kind: "head_reading",
    site_id: site.id,
    structure_id: structure.id,
    visit_id: visitId ?? null,
    observed_at,
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: corrects ?? null,
    reason: values.reason.trim() || null,
    body: {
      occasion: values.occasion,
      ...seen,
      entered: {
        unit: values.unit,
        text: values.heads.map(({ text }) => text.trim()).filter(Boolean),
      },
      note: values.note.trim(),
      time_reason: values.time ? values.time_reason.trim() : null,
      preview,
    },
  };
}
