/** The opening of a gate from what is typed to an entry, without the page. */

import { fromLocalBox } from "../../shared/format.js";
import { clockWords } from "../base/clock_words.js";
import { thresholds } from "../base/thresholds.js";
import { assess } from "../reading/assess.js";
import { classify } from "../sums/steadiness.js";
import { ahead } from "../typed/ahead.js";
import { readLength, usualStaff } from "../typed/plausible.js";
import { observedAt } from "../typed/text.js";

const { install, readings } = thresholds;

/** Where water may pass the structure instead of going through it. */
export const SEEPS = {
  bank_left: "Bank downstream, left",
  bank_right: "Bank downstream, right",
  toe: "Toe below the tail",
  wing_left: "Wing, left",
  wing_right: "Wing, right",
  joint: "Joint of flume and concrete",
  vortex: "Swirl upstream at a wall",
};
export const SEEP_STATES = ["none", "clear", "muddy"];
export const HIGHEST_M = 3;
const LAST_HEADS = 5; // of a filling pond only the last readings can be steady

export function emptyOpening(id, unit) {
  return {
    id,
    unit,
    gate: [],
    heads: [],
    seeps: {},
    gaugings: [],
    clock_right: "",
    sensor_at: "", // when it was set, of a record that is put right
    gate_text: "",
    staff_text: "",
    tail_text: "",
    seep_note: "",
    sensor_staff: "",
    sensor_before: "",
    sensor_after: "",
    clock_before: "",
    clock_after: "",
    fit: false,
    fit_from: "",
    fit_words: "",
    note: "",
  };
}

export const TEXTS = [
  "gate_text",
  "staff_text",
  "tail_text",
  "seep_note",
  "sensor_staff",
  "sensor_before",
  "sensor_after",
  "clock_before",
  "clock_after",
  "fit_from",
  "fit_words",
  "note",
];

export const isHalfFilled = (values) =>
  values.gate.length > 0 ||
  values.heads.length > 0 ||
  Object.keys(values.seeps).length > 0 ||
  TEXTS.some((name) => values[name].trim());

/** A plain figure in metres; null when empty, no number, or likely in another unit. */
export function sensorFigure(text, unit) {
  const read = text.trim() ? readLength(text, unit, HIGHEST_M) : null;
  return read === null || read.question || read.metres === undefined ? null : read.metres;
}

/** What a staff shows here while the water rises: from the crest up, held against the last head taken. */
export function usualOpening(structure, site, heads, now) {
  const usual = usualStaff(structure, site, now);
  return {
    ...usual,
    low: Math.min(usual.low, usual.dry + readings.far_under_m),
    last: heads.at(-1)?.staff_m,
  };
}

/** A staff reading taken now; what the person answered of a figure that is not usual goes with it. */
export const timedHead = ({ staff, tail, text, dry, at }) => ({
  at,
  staff_m: staff.metres,
  tail_staff_m: tail?.metres ?? null,
  ...(staff.kept ? { as_typed: text.trim() } : {}),
  ...(staff.dry && dry.includes(text) ? { dry: true } : {}),
});

/** A single head rated as the reading page rates it. */
export const rateHead = (head, structure) => assess(reading([head], null), structure);

function reading(heads, gate) {
  const tail = heads.at(-1).tail_staff_m;
  return {
    staff_m: heads.map(({ staff_m }) => staff_m),
    read_at: heads.map(({ at }) => at),
    observed_at: heads.at(-1).at,
    tailwater: { state: tail === null ? "not_seen" : "read", staff_m: tail },
    gate_opened_at: gate,
    conditions: [],
    sensor_head_m: null,
    ...(heads.at(-1).dry ? { dry: true } : {}),
    ...(heads.at(-1).as_typed ? { as_typed: [heads.at(-1).as_typed] } : {}),
  };
}

/** Is the head steady? From the last readings since the gate was last moved. */
export function steadyNow({ heads, gate }, structure) {
  const moved = gate.at(-1)?.at ?? null;
  const since = heads.filter(({ at }) => moved === null || at >= moved).slice(-LAST_HEADS);
  if (!since.length)
    return { word: "unknown", wait_min: null, reason: "no readings since the gate was moved" };
  const known = assess(reading(since, moved), structure)?.steady;
  if (known) return known;
  const seconds = (iso) => (Date.parse(iso) - Date.parse(since[0].at)) / 1000;
  return classify(
    since.map(({ at }) => seconds(at)),
    since.map(({ staff_m }) => staff_m),
    {
      pond_area_m2: structure.pond_area_m2,
      gate_opened_s: moved ? seconds(moved) : null,
      reading_uncertainty_m: structure.head_uncertainty_m,
    },
  );
}

/** The logger's clock, seconds fast (+) or slow (-): {before_s, after_s}; null where not known. */
export function clockErrors(values, utcOffsetMin) {
  const right = values.clock_right ? Date.parse(values.clock_right) : null;
  const error = (text) => {
    const shown = withSeconds(text, utcOffsetMin);
    return right === null || shown === null ? null : Math.round((Date.parse(shown) - right) / 1000);
  };
  return { before_s: error(values.clock_before), after_s: error(values.clock_after) };
}

/** The instant of a datetime-local box that shows seconds. */
export function withSeconds(text, utcOffsetMin) {
  const minute = fromLocalBox(text, utcOffsetMin);
  if (minute === null) return null;
  return new Date(Date.parse(minute) + Number(text.slice(17, 19) || 0) * 1000).toISOString();
}

/** How far a sensor may stand from the staff: so many mm, or a share of the last head. */
function sensorLimit(values, zero) {
  const staff_m = values.heads.at(-1)?.staff_m;
  const head_m = staff_m === undefined ? 0 : Math.abs(staff_m + zero.offset_m);
  return Math.max(install.sensor_m, install.sensor_share * head_m);
}

/** What is not as it should be before the station records; shown, never hidden. */
export function openPoints(values, structure, zero, rating, utcOffsetMin) {
  const found = [];
  if (!zero) found.push("no gauge zero in force");
  if (!rating) found.push("no rating in force");
  const steady = steadyNow(values, structure);
  if (steady.word !== "steady")
    found.push(`head ${steady.word === "unknown" ? "not shown to be steady" : steady.word}`);
  const missing = Object.entries(SEEPS)
    .filter(([key]) => !values.seeps[key])
    .map(([, name]) => name.toLowerCase());
  if (missing.length) found.push(`seeps not looked at: ${missing.join(", ")}`);
  for (const [key, state] of Object.entries(values.seeps))
    if (state !== "none") found.push(`${state} seep: ${SEEPS[key].toLowerCase()}`);
  const after = sensorFigure(values.sensor_after, values.unit);
  const staff = sensorFigure(values.sensor_staff, values.unit);
  if (after === null || staff === null) found.push("sensor not set to the staff");
  else if (zero && Math.abs(after - staff - zero.offset_m) > sensorLimit(values, zero) + 1e-9)
    found.push(
      `sensor differs from the staff by ${((after - staff - zero.offset_m) * 1000).toFixed(1)} mm`,
    );
  const { after_s } = clockErrors(values, utcOffsetMin);
  if (after_s === null) found.push("logger clock not set");
  else if (Math.abs(after_s) > install.clock_s) found.push(`logger clock ${clockWords(after_s)}`);
  if (!values.gaugings.length) found.push("no check gauging linked");
  return found;
}

export function problems(values, { utcOffsetMin = 0, now = null } = {}) {
  if (values.staff_text.trim())
    return ["A staff reading is typed but not taken. Tap Read now or clear it."];
  if (values.gate_text.trim())
    return ["A gate opening is typed but not taken. Tap Gate moved now or clear it."];
  for (const name of ["sensor_staff", "sensor_before", "sensor_after"]) {
    if (values[name].trim() && sensorFigure(values[name], values.unit) === null)
      return [
        `Sensor: check "${values[name].trim()}" and its unit; lengths are in ${values.unit}.`,
      ];
  }
  if (values.sensor_after.trim() && !values.sensor_staff.trim())
    return ["Give the staff reading that the sensor was set to."];
  if ((values.clock_before || values.clock_after) && !values.clock_right)
    return ["Tap Right time is now while you look at the logger's clock."];
  if (values.fit && !values.fit_from) return ["Say from when the station is fit to record."];
  const fit = values.fit
    ? ahead(fromLocalBox(values.fit_from, utcOffsetMin), now, "Fit to record from")
    : "";
  if (fit) return [fit];
  return isHalfFilled(values) ? [] : ["Record something first."];
}

export function openingEntry(values, found, { site, structure, visitId, personId, record, now }) {
  const offset = site.utc_offset_min;
  const { unit } = values;
  const staff = sensorFigure(values.sensor_staff, unit);
  return {
    id: values.id,
    kind: "opening",
    site_id: site.id,
    structure_id: structure.id,
    visit_id: visitId ?? null,
    observed_at: values.heads.at(-1)?.at ?? observedAt({ record }, now),
    utc_offset_min: offset,
    by: personId,
    saved_at: now,
    corrects: null,
    reason: null,
    body: {
      gate: values.gate,
      heads: values.heads,
      seeps: values.seeps,
      seep_note: values.seep_note.trim(),
      sensor:
        staff === null
          ? null
          : {
              at: values.sensor_at || now,
              staff_m: staff,
              before_m: sensorFigure(values.sensor_before, unit),
              after_m: sensorFigure(values.sensor_after, unit),
            },
      clock: values.clock_right
        ? {
            right: values.clock_right,
            before: withSeconds(values.clock_before, offset),
            after: withSeconds(values.clock_after, offset),
          }
        : null,
      gauging_ids: values.gaugings,
      fit_from: values.fit ? fromLocalBox(values.fit_from, offset) : null,
      fit_words: values.fit ? values.fit_words.trim() : "",
      note: values.note.trim(),
      preview: { steady: found.steady.word, open_points: found.open.join("; ").slice(0, 200) },
    },
  };
}
