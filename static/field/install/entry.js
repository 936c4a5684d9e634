/** An install stop from what is typed to an entry and its stop-or-go word, without the page. */
import { BadInput } from "../../shared/bad_input.js";
import { parseNumber, possible, spelled } from "../../shared/numbers.js";
import {
  ballastToHold,
  CORNERS,
  concreteToHold,
  concreteVolume,
  cornerLevels,
  cornerStop,
  liftPressure,
  practiceNotes,
  sinceSet,
  uplift,
  WIDTHS,
  weightedCreep,
  wetConcreteUplift,
  widthStop,
} from "../sums/install.js";
import { slip } from "../typed/dimension_slip.js";
import { typedFigure } from "../typed/number_words.js";
import { readLength } from "../typed/plausible.js";
import { observedAt } from "../typed/text.js";
import { PARTS } from "./parts.js";

const PARTS_M3 = ["slab", "walls", "wings", "cutoffs"];

export function emptyStop(id, stop) {
  return {
    id,
    stop,
    moment: "",
    fields: { tolerance: "2", width_limit: "1", target: "1.25" },
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
export function readFields(fields, parts) {
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
        target: v.target ?? 1.25,
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
    corner_tolerance_m: v.tolerance > 0 ? v.tolerance : 0.002,
    widths: any(widths) ? widths : null,
    width_limit_m: v.width_limit > 0 ? v.width_limit : 0.001,
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

/** The server's words for the same stop: {word, reasons, and what each section found}. */
export function checkStop(body, earlier, stop) {
  const found = {
    reasons: [],
    corners: cornerLevels(body),
    corner: null,
    width: null,
    water: null,
    wet: null,
    hold_m3: null,
    ballast_kg: null,
    lift: null,
    concrete: null,
    creep: null,
    protection: null,
    practice: [],
  };
  const say = (word, reason) => found.reasons.push([word, reason]);
  const bodies = [...earlier, body];
  if (Object.keys(found.corners).length) {
    const rows = sinceSet({ bodies, part: "corners" });
    found.corner = {
      ...cornerStop({ corners_m: rows, tolerance_m: body.corner_tolerance_m }),
      rows: rows.length,
    };
    say(found.corner.word, found.corner.reason);
  }
  if (any(body.widths ?? {})) {
    const rows = sinceSet({ bodies, part: "widths" });
    found.width = {
      ...widthStop({ widths_m: rows, limit_m: body.width_limit_m }),
      rows: rows.length,
    };
    say(found.width.word, found.width.reason);
  }
  for (const { key, text } of stop.asks) if (body.seen[key] === "no") say("stop", `${text}: no`);
  try {
    sums(body, found, say);
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    say("unknown", error.message);
  }
  const words = new Set(found.reasons.map(([word]) => word));
  return { ...found, word: ["stop", "unknown", "go"].find((word) => words.has(word)) ?? "noted" };
}

function sums(body, found, say) {
  const { box, lift_m, base_height_m, concrete, creep, tail } = body;
  if (box) {
    const { water_depth_m, concrete_depth_m, ...plan } = box;
    if (water_depth_m) {
      found.water = uplift({ ...plan, depth_m: water_depth_m });
      found.hold_m3 = concreteToHold({ ...plan, depth_m: water_depth_m });
      found.ballast_kg = ballastToHold({ ...plan, depth_m: water_depth_m });
    }
    if (concrete_depth_m) found.wet = wetConcreteUplift({ ...plan, depth_m: concrete_depth_m });
    for (const [what, one] of [
      ["water", found.water],
      ["wet concrete", found.wet],
    ]) {
      if (one)
        say(
          one.holds ? "go" : "stop",
          `box in ${what}: ${one.word}, factor ${one.factor.toFixed(2)}`,
        );
    }
  }
  if (lift_m) found.lift = liftPressure({ lift_m });
  if (concrete) found.concrete = concreteVolume(concrete);
  if (creep) {
    found.creep = weightedCreep(creep);
    say(
      found.creep.holds === null ? "unknown" : found.creep.holds ? "go" : "stop",
      `seepage path: ${found.creep.word}`,
    );
  }
  found.practice = practiceNotes({
    tail_fall_m: tail?.fall_m,
    lift_fraction: lift_m && base_height_m ? lift_m / base_height_m : null,
  });
  if (tail?.protection_m != null && tail.water_depth_m != null) {
    const wanted = Math.max(4 * tail.water_depth_m, 1.5);
    const near = tail.protection_m >= wanted;
    found.protection = {
      near,
      words: `${near ? "As long as" : "Shorter than"} the ${wanted.toFixed(1)} m often asked for.`,
    };
  }
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

/** One figure in mm against its named value: a number, null, or {question, answers: texts}. */
function dimension(one, named_m, sure) {
  const found = possible(one, { low: 0.0001 });
  if (!found.length || (found.length === 1 && sure.includes(one))) return found[0] ?? null;
  const named = named_m * 1000;
  if (!named)
    return found.length > 1 ? { question: `${one} mm?`, answers: found.map(spelled) } : found[0];
  const meant = found.map((value) => slip(value, named));
  const alike = found.filter((value, i) => meant[i] === value);
  if (alike.length === 1) return alike[0];
  const likely = meant
    .filter((value) => value !== null)
    .map((value) => spelled(Math.round(value * 10) / 10));
  const answers = [...likely, ...(found.length > 1 ? found.map(spelled) : [one])];
  return { question: `named ${Math.round(named * 10) / 10} mm`, answers: [...new Set(answers)] };
}

/**
 * As-built dimensions: {body | null, problem, asked}. Repeats of one dimension with spaces between.
 * `asked` {key, one, answers} is a figure unlike its named value, until it is in `sure`.
 */
export function dimensionBody(texts, dimensions, instrument, sure = []) {
  const measured = [];
  for (const { key, label, named_m } of dimensions) {
    const text = (texts[key] ?? "").trim();
    if (!text) continue;
    const parts = text.split(/[\s;]+/);
    const figures = parts.map((one) => dimension(one, named_m, sure));
    const at = figures.findIndex((each) => each?.answers);
    if (at >= 0)
      return {
        body: null,
        problem: `${label}: ${parts[at]} mm is asked about (${figures[at].question}).`,
        asked: { key, one: parts[at], ...figures[at] },
      };
    if (figures.some((value) => value === null || value <= 0))
      return { body: null, problem: `${label}: "${text}" is not a length in mm.` };
    measured.push({
      key,
      label,
      measured_m: figures.map((value) => Math.round(value * 1000) / 1e6),
      note: "",
    });
  }
  if (!measured.length) return { body: null, problem: "Measure at least one dimension." };
  const typed = sure.filter((one) =>
    Object.values(texts).some((text) => text.split(/[\s;]+/).includes(one)),
  );
  return {
    body: {
      dimensions: measured,
      instrument: instrument.trim(),
      note: "",
      ...(typed.length ? { as_typed: typed } : {}),
    },
    problem: "",
  };
}

/** The standing stops of a structure, oldest first: the office's and this phone's. */
export function stopsSoFar(survey, records, structureId, stand) {
  const office = survey?.stops ?? [];
  const known = new Set(office.map(({ id }) => id));
  const here = records
    .filter(
      ({ id, entry, state }) =>
        entry.kind === "install_stop" &&
        entry.structure_id === structureId &&
        !known.has(id) &&
        state !== "replaced",
    )
    .map(({ id, entry, state }) => ({
      id,
      observed_at: entry.observed_at,
      body: entry.body,
      state,
    }));
  const all = [...office.map((one) => ({ ...one, state: "stored" })), ...here];
  return all
    .filter(({ id }) => stand.stands(id))
    .sort((a, b) => (a.observed_at < b.observed_at ? -1 : 1));
}
