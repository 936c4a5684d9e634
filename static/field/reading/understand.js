/**
 * What the figures of a reading mean, and the entry made of them. Loaded behind the boxes: the page
 * is there to be typed into first.
 */
import { address, byId, el } from "../../shared/dom.js";
import { inForce } from "../keep/pack.js";
import { usualStaff, usualTail } from "../typed/plausible.js";
import { assess, previewBody } from "./assess.js";
import { readForm, readingEntry } from "./entry.js";
import { drawPicture } from "./picture.js";
import { drawDischarge, drawQuestion, drawSums, drawTail, lineOf } from "./view.js";

/** Read the form of a place at a time; returns {reading, heads, tail, problems, assessed}. */
export function understand(values, { site, structure }, now, saving = false) {
  const staff = usualStaff(structure, site, now);
  const usual = { ...staff, tail: usualTail(staff, structure, now) };
  const understood = readForm(values, {
    usual,
    utcOffsetMin: site.utc_offset_min,
    now,
    saving,
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

/** What stands under "on this phone": the discharge, and the question that nobody answered. */
export function savedWords(entry, { assessed, heads, tail }, at) {
  const open = [...heads, tail].map((box) => box?.unanswered).filter(Boolean);
  const again = address("/field/reading", { correct: entry.id });
  return [
    el("p", {}, `${lineOf(assessed) || "Kept without a discharge."} Saved at ${at}.`),
    open.length
      ? el(
          "p",
          { class: "problem" },
          `Not confirmed: ${open.join(", ")} ${entry.body.entered.unit}. Kept as typed, and marked so. `,
          el("a", { class: "button", href: again }, "Look at it again"),
        )
      : null,
  ];
}

/** The entry to keep, with what the phone showed. */
export const entryOf = (values, { reading, assessed }, context) =>
  readingEntry(values, reading, context, previewBody(assessed));
