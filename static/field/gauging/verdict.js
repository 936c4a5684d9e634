/**
 * A gauging against the rating in force, on the phone: mean head, rated discharge, verdict, flags.
 *
 * The same order and words as app/services/gaugings/results.py, which decides again at the office.
 */

import { thresholds } from "../base/thresholds.js";
import { inForce } from "../keep/pack.js";
import { meanHead, verdict } from "../sums/gaugings.js";
import { previewFlow } from "../sums/preview.js";

const limits = thresholds.gaugings;

/** {heads_m, head, lacking} over the crest, from staff readings {at, staff_m} and the zero. */
function headsOf(read, zero) {
  if (read.length === 0) return { heads_m: [], head: null, lacking: "no staff reading was taken" };
  if (!zero)
    return {
      heads_m: [],
      head: null,
      lacking: "no gauge zero was in force: the head over the crest is not known",
    };
  const heads_m = read.map(({ staff_m }) => staff_m + zero.offset_m);
  const times = read.map(({ at }) => (Date.parse(at) - Date.parse(read[0].at)) / 1000);
  const forward = times.every((time, i) => i === 0 || time > times[i - 1]);
  try {
    return { heads_m, head: meanHead({ heads_m, times_s: forward ? times : null }), lacking: "" };
  } catch {
    return { heads_m, head: null, lacking: "the head is not above the crest" };
  }
}

/** What the rating in force says at the mean head: {zero, rating, heads_m, head, rated, lacking}. */
export function rateAtHead({ heads, tailwater, startedAt }, structure) {
  const zero = inForce(structure.gauge_zeros, startedAt);
  const rating = inForce(structure.ratings, startedAt);
  const found = { zero, rating, rated: null, ...headsOf(heads, zero) };
  if (!rating) return { ...found, lacking: "no rating was in force at that time" };
  if (!found.head) return found;
  const tailwater_m =
    tailwater.state === "read" ? tailwater.staff_m + (zero.tail_offset_m ?? zero.offset_m) : null;
  const rated = previewFlow(rating.table, {
    head_m: found.head.mean_m,
    tailwater_m,
    headUncertainty_m: structure.head_uncertainty_m,
    freeSeen: tailwater.state === "clearly_free",
  });
  return {
    ...found,
    rated,
    lacking: rated.discharge_m3s ? "" : `the rating gives no discharge: ${rated.flow}`,
  };
}

/** Judge: {verdict, flags} beside what rateAtHead() found; `gauging` null when it has no discharge. */
export function judge(gauging, atHead, tolerance_pct = limits.tolerance_pct) {
  const { head, rated, lacking } = atHead;
  const flags = [...(gauging?.flags ?? [])];
  if (head && head.steady !== true) flags.push(head.word);
  if (rated && atHead.zero?.provisional) flags.push(atHead.zero.provisional);
  if (rated) {
    flags.push(...rated.flags.map((flag) => `rating: ${flag}`));
    if (rated.flow !== "free" && rated.flow !== "not rated") flags.push(`rating: ${rated.flow}`);
  }
  if (!gauging) return { verdict: null, flags };
  let said = verdict({
    discharge_m3s: gauging.discharge_m3s,
    uncertainty_pct: gauging.uncertainty_pct,
    rating_m3s: rated?.discharge_m3s ?? null,
    rating_uncertainty_pct: rated?.uncertainty_pct ?? null,
    tolerance_pct,
    indication_only: gauging.indication_only,
  });
  if (lacking) said = { ...said, reason: lacking };
  else if (head?.steady === false && !gauging.indication_only) {
    said = {
      ...said,
      word: "not proven",
      reason: `${head.word}; gauge again when it holds still`,
      tolerance_word: "not proven either way",
    };
  }
  return { verdict: said, flags };
}
