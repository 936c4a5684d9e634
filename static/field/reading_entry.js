/**
 * A head reading from the form's values to an entry, without the page: what is typed, when, and
 * what still stands in the way of saving it.
 */
import { fromLocalBox } from "./format.js";
import { parseNumber, readLength, toMetres } from "./numbers.js";

const HIGHEST_USUAL_M = 3; // without a rating: higher than any flume of a channel

/** A little above the structure's own range; what lies over it is asked about. */
export function highestUsual(structure) {
  const heads = structure.ratings.map((rating) => rating.table.head_max_m);
  return heads.length ? Math.max(...heads) * 1.5 : HIGHEST_USUAL_M;
}

/** An empty form. `id` is the entry's id from the first key on, so that saving twice saves once. */
export function emptyReading(id, unit, occasion) {
  return {
    id, unit, occasion,
    heads: [{ text: "", at: null }],
    kept: [], // figures the person said are right as typed
    tail: "not_seen", tail_text: "", sensor_text: "",
    conditions: [], gate: "", time: "", time_reason: "", note: "", reason: "",
  };
}

/** Has anything been typed that would be missed? */
export function isHalfFilled(values) {
  const texts = [values.tail_text, values.sensor_text, values.note, values.gate, values.time, values.reason];
  return values.heads.some(({ text }) => text.trim()) || texts.some((text) => text.trim());
}

function askAbout(text, unit, highest, kept) {
  const read = readLength(text, unit, highest);
  return read.question && !read.must && kept.includes(text) ? { metres: read.metres } : read;
}

/**
 * Understand the form.
 *
 * Returns {reading, heads, tail, problems}: `heads` and `tail` say per box what was understood
 * ({metres} | {question, text} | {problem} | null when empty); `problems` are the words of what
 * must be put right before saving; `reading` holds only what is plain.
 */
export function readForm(values, { highest, utcOffsetMin, now }) {
  const { unit } = values;
  const boxes = values.heads.map(({ text }) => (text.trim() ? askAbout(text, unit, highest, values.kept) : null));
  const tail = values.tail === "read" && values.tail_text.trim() ? askAbout(values.tail_text, unit, highest, values.kept) : null;
  const sensor = values.sensor_text.trim() ? parseNumber(values.sensor_text) : null;
  const taken = values.heads.filter((_, i) => plain(boxes[i]));
  const time = values.time ? fromLocalBox(values.time, utcOffsetMin) : null;
  const last = taken.map(({ at }) => at).filter(Boolean).sort().at(-1);
  const observed_at = time ?? last ?? now;
  const reading = {
    staff_m: boxes.filter(plain).map((box) => box.metres),
    // times belong to the boxes only while the reading's own time is the phone's
    read_at: !time && taken.length && taken.every(({ at }) => at) ? taken.map(({ at }) => at) : null,
    observed_at,
    tailwater: {
      state: values.tail === "read" && !plain(tail) ? "not_seen" : values.tail,
      staff_m: plain(tail) ? tail.metres : null,
      text: plain(tail) ? values.tail_text.trim() : null,
    },
    gate_opened_at: fromLocalBox(values.gate, utcOffsetMin),
    conditions: values.conditions,
    sensor_head_m: sensor === null ? null : toMetres(sensor, unit),
  };
  return { reading, heads: boxes, tail, problems: problems(values, boxes, tail, sensor, reading, now) };
}

const plain = (box) => box !== null && box.metres !== undefined && !box.question;

function problems(values, boxes, tail, sensor, reading, now) {
  const found = [];
  if (boxes.every((box) => box === null)) found.push("Type the staff reading.");
  for (const box of [...boxes, tail]) {
    if (box?.problem) found.push(box.problem);
    else if (box?.question) found.push(`Answer "${box.question}" first.`);
  }
  if (values.tail === "read" && tail === null) found.push("Type the tail staff, or say that it was not seen.");
  if (values.sensor_text.trim() && sensor === null) found.push("The logger's figure is not a number.");
  if (values.time && !values.time_reason.trim()) found.push("Say why the time is not now.");
  if (Date.parse(reading.observed_at) > Date.parse(now) + 300000) found.push("The time lies ahead. Check it.");
  return found;
}

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
      entered: { unit: values.unit, text: values.heads.map(({ text }) => text.trim()).filter(Boolean) },
      note: values.note.trim(),
      time_reason: values.time ? values.time_reason.trim() : null,
      preview,
    },
  };
}
