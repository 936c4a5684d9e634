/**
 * The level book from what is typed to an entry, without the page.
 *
 * `values`: {id, unit, start_text, sights: [{kind, point, role, text, struck}], next: {kind, point,
 * role, text}, editing, ...}. A sight is one reading: BS, IS or FS.
 */
import { BadInput } from "../../shared/bad_input.js";
import { fromLocalBox } from "../../shared/format.js";
import { spelled } from "../../shared/numbers.js";
import { thresholds } from "../base/thresholds.js";
import { twoPeg } from "../sums/levelling/crest.js";
import { ahead } from "../typed/ahead.js";
import { observedAt } from "../typed/text.js";
import { doubt } from "./doubts.js";
import { lowHead, optional, rowsOf, ruleOf, tolerance } from "./reduce.js";

export function emptyRun(id) {
  return {
    id,
    unit: "m",
    start_text: "",
    opened_on: "", // the level that the book began with by itself
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
    tolerance_text: spelled(thresholds.levelling.corner_tolerance_m * 1000),
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
    accepted_text: "",
    reason: "",
  };
}

export const isHalfFilled = (values) =>
  values.sights.length > 0 ||
  values.start_text !== (values.opened_on ?? "") ||
  [values.next.text, values.note, ...Object.values(values.peg)].some((text) => text.trim());

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
    if (reduced.run && doubt(reduced.run) && !values.accepted_text.trim())
      found.push(`Say "accepted because", or level it again: ${doubt(reduced.run)}.`);
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
            accepted_because: doubt(run) ? values.accepted_text.trim() : "",
          }
        : null,
      note: [values.note.trim(), struck].filter(Boolean).join("\n"),
      preview: {
        misclosure_mm: run.misclosure_mm,
        limit_mm: run.limit_mm,
        within_limit: run.within_limit,
        crest_rl_m: crest?.crest_rl_m ?? null,
        zero_rl_m: crest?.zero_rl_m ?? null,
        tail_zero_rl_m: reduced.tailZero_m ?? null,
        corner_range_m: crest?.corner_range_m ?? null,
        words: [...run.words, ...(crest?.words ?? [])]
          .map((words) => words.slice(0, 200))
          .slice(0, 40),
      },
    },
  };
}
