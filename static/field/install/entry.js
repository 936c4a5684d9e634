/** An install stop from what is typed to an entry and its stop-or-go word, without the page. */
import { BadInput } from "../../shared/bad_input.js";
import { parseNumber, possible, spelled } from "../../shared/numbers.js";
import { thresholds } from "../base/thresholds.js";
import { CORNERS, WIDTHS } from "../sums/install.js";
import { typedFigure } from "../typed/number_words.js";
import { readLength } from "../typed/plausible.js";
import { observedAt } from "../typed/text.js";
import { PARTS } from "./parts.js";

const { install, levelling } = thresholds;

const PARTS_M3 = ["slab", "walls", "wings", "cutoffs"];

export function emptyStop(id, stop) {
  return {
    id,
    stop,
    moment: "",
    fields: {
      tolerance: spelled(levelling.corner_tolerance_m * 1000),
      width_limit: spelled(install.width_limit_m * 1000),
      target: spelled(install.uplift_target),
    },
    seen: {},
    weather: "",
    note: "",
    went_on: "",
  };
}

const PRESET = new Set(["tolerance", "width_limit", "target"]);

export const isHalfFilled = (values) =>
  Object.keys(values.seen).length > 0 ||
  Boolean(values.moment || values.note.trim() || values.weather.trim()) ||
  Object.entries(values.fields).some(
    ([name, text]) => text.trim() && !PRESET.has(name) && text !== values.carried?.[name],
  );

/** One field as typed: a number in SI, a list, a text; throws BadInput with the label. */
function read([name, label, unit], text) {
  if (unit === "text" || Array.isArray(unit)) return text.trim() || null;
  if (!text?.trim()) return null;
  if (unit === "m list") {
    const numbers = text
      .trim()
      .split(/[\s;]+/)
      .map((one) => parseNumber(one, { high: 999 }));
    if (numbers.some((value) => value === null || value < 0))
      throw new BadInput(label, text, "lengths with spaces between", "Write 0.6 0.6.");
    return numbers;
  }
  if (unit === "mm" || (unit === "m" && !name.includes("reference"))) {
    const found = readLength(text, unit, unit === "mm" ? 6 : 10);
    if (found.metres === undefined || found.question)
      throw new BadInput(
        label,
        text,
        found.problem ?? `typed in ${unit}, perhaps meant as ${found.question.replace("?", "")}`,
        "Check the figure and its unit.",
      );
    return found.metres;
  }
  const limits = unit === "m" ? { high: 999 } : {}; // a level never reaches a thousand
  if (!possible(text, limits).length)
    throw new BadInput(label, text, "not a number", "Type digits.");
  return typedFigure(label, text, limits);
}

/** Figures of the parts of a stop: {values, problems}. A blank stays null. */
function readFields(fields, parts) {
  const found = { values: {}, problems: [] };
  for (const field of parts.flatMap((part) => PARTS[part]?.fields ?? [])) {
    try {
      found.values[field[0]] = read(field, fields[field[0]] ?? "");
    } catch (error) {
      if (!(error instanceof BadInput)) throw error;
      found.problems.push(`${error.field}: ${error.rule}. ${error.remedy}`);
    }
  }
  return found;
}

const filled = (object) =>
  Object.fromEntries(
    Object.entries(object).filter(([, value]) => value !== null && value !== undefined),
  );
const any = (object) => Object.keys(filled(object)).length > 0;

const pick = (values, names) =>
  Object.fromEntries(names.map((name) => [name, values[name] ?? null]));

/** The body of a stop; `lacking` says what a section still needs before it counts. */
export function stopBody(values, stop) {
  const { values: v, problems } = readFields(values.fields, stop.parts);
  const lacking = [...problems];
  const readings = filled(pick(v, CORNERS));
  let corners = null;
  if (any(readings) || v.backsight_m != null) {
    if (v.reference_rl_m == null || v.backsight_m == null || !any(readings))
      lacking.push("Crest corners: give the mark's level, the reading on it and the corners.");
    else
      corners = {
        reference: v.reference ?? "",
        reference_rl_m: v.reference_rl_m,
        backsight_m: v.backsight_m,
        readings_m: readings,
      };
  }
  let box = null;
  if (any(pick(v, ["length_m", "width_m", "water_depth_m", "concrete_depth_m", "mass_kg"]))) {
    if (v.length_m == null || v.width_m == null || v.mass_kg == null)
      lacking.push("Uplift: give length, width and mass of the box.");
    else
      box = {
        ...pick(v, ["length_m", "width_m", "water_depth_m", "concrete_depth_m", "mass_kg"]),
        hold_down_kn: v.hold_down_kn ?? 0,
        target: v.target ?? install.uplift_target,
      };
  }
  const parts = filled(pick(v, PARTS_M3));
  let creep = null;
  if (v.verticals_m || v.horizontals_m || v.head_m != null) {
    if (v.head_m == null) lacking.push("Seepage path: give the head difference.");
    else
      creep = {
        verticals_m: v.verticals_m ?? [],
        horizontals_m: v.horizontals_m ?? [],
        head_m: v.head_m,
        soil: v.soil ?? null,
      };
  }
  const tail = {
    fall_m: v.fall_m ?? null,
    protection_m: v.protection_m ?? null,
    water_depth_m: v.tail_water_depth_m ?? null,
    scour: v.scour ?? "",
  };
  const widths = pick(v, WIDTHS);
  const body = {
    stop: stop.key,
    moment: values.moment,
    corners,
    corner_tolerance_m: v.tolerance > 0 ? v.tolerance : levelling.corner_tolerance_m,
    widths: any(widths) ? widths : null,
    width_limit_m: v.width_limit > 0 ? v.width_limit : install.width_limit_m,
    seen: values.seen,
    lift_m: v.lift_m ?? null,
    base_height_m: v.base_height_m ?? null,
    box,
    concrete: any(parts) ? { parts_m3: parts, void_m3: v.void_m3 ?? 0 } : null,
    creep,
    tail: tail.scour || any(pick(tail, ["fall_m", "protection_m", "water_depth_m"])) ? tail : null,
    delivered: v.delivered ?? "",
    weather: values.weather.trim(),
    went_on: values.went_on,
    note: values.note.trim(),
  };
  return { body, lacking };
}

export function stopEntry(values, body, word, { site, structure, visitId, personId, record, now }) {
  return {
    id: values.id,
    kind: "install_stop",
    site_id: site.id,
    structure_id: structure.id,
    visit_id: visitId ?? null,
    observed_at: observedAt({ record }, now),
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: null,
    reason: null,
    body: { ...body, preview: { word } },
  };
}
