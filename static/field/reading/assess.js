/**
 * What a reading says on the spot: head over the crest, discharge, flow word, flags, steadiness.
 *
 * Thresholds of the flags are the server's; the server decides again.
 */

import { thresholds } from "../base/thresholds.js";
import { inForce } from "../keep/pack.js";
import { interpolate, previewFlow } from "../sums/preview.js";
import { repeats } from "../sums/repeats.js";
import { classify } from "../sums/steadiness.js";
import { NOT_ANSWERED } from "./empty.js";

const limits = thresholds.readings;

const UNUSUAL = ["unusual head, not confirmed", "unusual head, confirmed as read"];

/** In the order in which the server lists them. */
const FLAG_ORDER = [
  "below range",
  "above range",
  "submergence above 0.90",
  "tailwater above head",
  "near the modular limit",
  "settling",
  "surging",
  "repeats disagree",
  "zero overdue",
  "differs from sensor",
  "unsteady",
  "head below zero",
  "heads too close to tell",
  ...UNUSUAL,
];
const placeOf = (flag) => FLAG_ORDER.indexOf(flag) >>> 0; // those not listed come last, as at the office
const inOrder = (flags) => [...flags].sort((a, b) => placeOf(a) - placeOf(b));

function steadiness(reading, structure, offset_m, rated) {
  const at = Date.parse(reading.observed_at);
  const seconds = (iso) => (Date.parse(iso) - at) / 1000;
  const heads = reading.staff_m.map((staff) => staff + offset_m);
  return classify(reading.read_at ? reading.read_at.map(seconds) : heads.map(() => 0), heads, {
    exponent: rated?.exponent ?? null,
    discharge_m3s: rated?.discharge_m3s ?? null,
    pond_area_m2: structure.pond_area_m2,
    gate_opened_s: reading.gate_opened_at ? seconds(reading.gate_opened_at) : null,
    reading_uncertainty_m: structure.head_uncertainty_m,
  });
}

function contextFlags(reading, head_m, sums, zero, steady) {
  const flags = [];
  if (steady.word === "settling" || steady.word === "unsteady") flags.push(steady.word);
  if (reading.conditions.includes("surging")) flags.push("surging");
  if (sums.spread > Math.max(limits.repeats_range_m, limits.repeats_range_share * Math.abs(head_m)))
    flags.push("repeats disagree");
  if (Date.parse(reading.observed_at) - Date.parse(zero.valid_from) > limits.zero_good_for_s * 1000)
    flags.push("zero overdue");
  const sensor = reading.sensor_head_m;
  if (sensor !== null && Math.abs(sensor - head_m) > limits.sensor_difference_m)
    flags.push("differs from sensor");
  if (zero.provisional) flags.push("provisional zero");
  return flags;
}

/**
 * Assess a reading at a structure of the pack.
 *
 * `reading`: {staff_m, read_at, observed_at, tailwater: {state, staff_m}, gate_opened_at,
 * conditions, sensor_head_m}. Returns null without a staff reading.
 */
export function assess(reading, structure) {
  const sums = repeats(reading.staff_m);
  if (sums === null) return null;
  const zero = inForce(structure.gauge_zeros, reading.observed_at);
  const rating = inForce(structure.ratings, reading.observed_at);
  const common = { sums, zero, rating, head_m: null, tailwater_m: null, steady: null };
  if (!zero || !rating) {
    const lacking = zero ? "rating" : "gauge zero";
    const note = `No ${lacking} is known for this time. The staff reading is kept; the office rates it later.`;
    return {
      ...common,
      flow: { discharge_m3s: null, uncertainty_pct: null, flow: "not rated", flags: [], note },
    };
  }
  const head_m = sums.mean + zero.offset_m;
  const tail = reading.tailwater;
  const wasRead = tail.state === "read" && tail.staff_m !== null;
  const tailwater_m = wasRead ? tail.staff_m + (zero.tail_offset_m ?? zero.offset_m) : null;
  const headUncertainty_m = Math.hypot(structure.head_uncertainty_m, 2 * (sums.standardError ?? 0));
  const flow = previewFlow(rating.table, {
    head_m,
    tailwater_m,
    headUncertainty_m,
    freeSeen: tail.state === "clearly_free",
  });
  const steady = steadiness(reading, structure, zero.offset_m, interpolate(rating.table, head_m));
  const flags = [...flow.flags, ...contextFlags(reading, head_m, sums, zero, steady)];
  const under = head_m < (rating.table.cease_to_flow_m ?? 0) - limits.far_under_m && !reading.dry;
  const open = reading.asked?.some(({ answer }) => answer === NOT_ANSWERED);
  if (reading.as_typed || open || under || head_m > limits.usual_share * rating.table.head_max_m)
    flags.push(UNUSUAL[+(!!reading.as_typed && !open)]);
  if (under)
    Object.assign(flow, {
      discharge_m3s: null,
      uncertainty_pct: null,
      flow: "not rated",
      note: "Far under the crest: not rated unless dry.",
    });
  flow.flags = inOrder(flags);
  return { ...common, head_m, tailwater_m, steady, flow };
}

/** The part of the entry that says what the phone showed. */
export function previewBody(assessed) {
  if (!assessed) return null;
  const { discharge_m3s, uncertainty_pct, flow, flags } = assessed.flow;
  return {
    discharge_m3s,
    uncertainty_pct,
    flow,
    flags,
    rating_id: assessed.rating?.id ?? null,
    table_hash: assessed.rating?.table.hash ?? null,
  };
}
