/**
 * What the figures of a reading mean, and the entry made of them. Loaded behind the boxes: the page
 * is there to be typed into first.
 */
import { usualStaff } from "../typed/plausible.js";
import { assess, previewBody } from "./assess.js";
import { readForm, readingEntry } from "./entry.js";
import { drawDischarge, drawQuestion, drawSums, drawTail } from "./view.js";

/** Read the form of a place at a time; returns {reading, heads, tail, problems, assessed}. */
export function understand(values, { site, structure }, now) {
  const understood = readForm(values, {
    usual: usualStaff(structure, site, now),
    utcOffsetMin: site.utc_offset_min,
    now,
  });
  return { ...understood, assessed: assess(understood.reading, structure) };
}

/** Show it beside the boxes; `answersFor(index)` gives what an answer of one tap does. */
export function drawUnderstood(values, understood, { structure }, answersFor) {
  const { assessed } = understood;
  drawSums({ values, understood, assessed });
  drawTail({ values, understood, assessed, gauge: structure.tailwater_gauge });
  drawQuestion({ values, understood, answersFor });
  drawDischarge(assessed);
}

/** The entry to keep, with what the phone showed. */
export const entryOf = (values, { reading, assessed }, context) =>
  readingEntry(values, reading, context, previewBody(assessed));
