/**
 * What the figures of a reading mean, and the entry made of them. Loaded behind the boxes: the page
 * is there to be typed into first.
 */
import { byId } from "../../shared/dom.js";
import { inForce } from "../keep/pack.js";
import { usualStaff, usualTail } from "../typed/plausible.js";
import { assess, previewBody } from "./assess.js";
import { readForm, readingEntry } from "./entry.js";
import { drawPicture } from "./picture.js";
import { drawDischarge, drawQuestion, drawSums, drawTail } from "./view.js";

/** Read the form of a place at a time; returns {reading, heads, tail, problems, assessed}. */
export function understand(values, { site, structure }, now) {
  const staff = usualStaff(structure, site, now);
  const usual = { ...staff, tail: usualTail(staff, structure, now) };
  const understood = readForm(values, {
    usual,
    utcOffsetMin: site.utc_offset_min,
    now,
  });
  return { ...understood, usual, assessed: assess(understood.reading, structure) };
}

/** Show it beside the boxes; `answersFor(index)` gives what an answer of one tap does. */
export function drawUnderstood(values, understood, { structure }, answersFor) {
  const { assessed, reading } = understood;
  drawSums({ values, understood, assessed });
  drawTail({ values, understood, assessed, gauge: structure.tailwater_gauge });
  drawQuestion({ values, understood, answersFor });
  drawDischarge(assessed);
  drawPicture(byId("picture"), {
    usual: understood.usual,
    zero: inForce(structure.gauge_zeros, reading.observed_at),
    staff_m: assessed?.sums.mean ?? null,
    tail_m: reading.tailwater.staff_m,
    unit: values.unit,
  });
}

/** The entry to keep, with what the phone showed. */
export const entryOf = (values, { reading, assessed }, context) =>
  readingEntry(values, reading, context, previewBody(assessed));
