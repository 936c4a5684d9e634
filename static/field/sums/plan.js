/**
 * A plan looked at again on the phone, from the small tables of its candidates: head, crest needed,
 * submergence and freeboard. Froude number, pond and everything else are the office's.
 *
 * Straight lines in ln h and ln Q between the nodes of a table; depth of the tail on straight
 * lines in ln Q and ln depth between the flows of the plan, as the server reads it.
 */

import { thresholds } from "../base/thresholds.js";
import { rangePct } from "./preview.js";

const { plans } = thresholds;

const DUST = 1e-9;

/** Index i and share f of x on straight lines through xs; beyond the ends the end's own line. */
function place(xs, x) {
  let i = 0;
  while (i < xs.length - 2 && xs[i + 1] <= x) i += 1;
  return { i, f: (x - xs[i]) / (xs[i + 1] - xs[i]) };
}

/** Head that passes a discharge, m; null outside the table. */
export function headFor(table, discharge_m3s) {
  const flows = table.discharge_m3s;
  if (!(discharge_m3s >= flows[0] && discharge_m3s <= flows.at(-1))) return null;
  const { i, f } = place(flows.map(Math.log), Math.log(discharge_m3s));
  return Math.exp(Math.log(table.heads_m[i]) * (1 - f) + Math.log(table.heads_m[i + 1]) * f);
}

/** A column of the table at a head; null where either node has none. */
export function columnAt(table, column, head_m) {
  const { i, f } = place(table.heads_m.map(Math.log), Math.log(head_m));
  const [low, high] = [table[column][i], table[column][i + 1]];
  return low === null || high === null ? null : low + f * (high - low);
}

/** Tail level at a flow, m, without weed. */
export function tailAt(flows_m3s, levels_m, bed_m, discharge_m3s) {
  const { i, f } = place(flows_m3s.map(Math.log), Math.log(discharge_m3s));
  const depth = (k) => Math.log(levels_m[k] - bed_m);
  return bed_m + Math.exp(depth(i) * (1 - f) + depth(i + 1) * f);
}

/**
 * Judge one candidate. `crest_rl_m` null takes the crest that is needed, up to the next 5 mm.
 * Returns {crest_needed_m, crest_rl_m, flows: [{head_m, ...}], words}; a flow that the table does
 * not reach has head_m null.
 */
export function judge(
  table,
  { flows_m3s, tails_m, weed_m, floor_rl_m, bank_rl_m, crest_rl_m, head_uncertainty_m },
) {
  const heads = flows_m3s.map((q) => headFor(table, q));
  const limits = heads.map((h) => (h === null ? null : columnAt(table, "modular_limit", h)));
  const needs = heads.map((h, k) =>
    h === null || limits[k] === null ? -Infinity : tails_m[k] + weed_m - limits[k] * h,
  );
  const needed = Math.max(floor_rl_m, ...needs);
  const crest = crest_rl_m ?? Math.ceil(needed / plans.step_m - 1e-6) * plans.step_m;
  const flows = heads.map((head, k) => {
    if (head === null)
      return {
        discharge_m3s: flows_m3s[k],
        head_m: null,
        words: ["the table on this phone does not reach this flow"],
      };
    return oneFlow(table, head, limits[k], {
      q: flows_m3s[k],
      tail: tails_m[k],
      weed: weed_m,
      floor: floor_rl_m,
      bank: bank_rl_m,
      crest,
      u: head_uncertainty_m,
    });
  });
  return { crest_needed_m: needed, crest_rl_m: crest, flows };
}

function oneFlow(table, head, limit, { q, tail, weed, floor, bank, crest, u }) {
  const ratio = Math.max(tail - crest, 0) / head;
  const weedy = Math.max(tail + weed - crest, 0) / head;
  const upstream = crest + head;
  const wanted = Math.max(plans.freeboard_least_m, plans.freeboard_share * (upstream - floor));
  const freeboard = bank === null ? null : bank - upstream;
  const pct = Math.hypot(
    columnAt(table, "device_pct", head),
    (100 * columnAt(table, "exponent", head) * u) / head,
    rangePct(table, head),
  );
  const words = [];
  if (limit === null) {
    if (table.can_drown) words.push("modular limit not known");
  } else if (ratio > limit)
    words.push(`drowns: submergence ${ratio.toFixed(2)} above the limit ${limit.toFixed(2)}`);
  else if (weedy > limit + DUST)
    words.push(`drowns with weed: submergence ${weedy.toFixed(2)} above ${limit.toFixed(2)}`);
  if (freeboard === null) words.push("bank level not known");
  else if (freeboard < 0) words.push(`water ${(-freeboard).toFixed(3)} m above the bank`);
  else if (freeboard < wanted - DUST)
    words.push(`freeboard ${freeboard.toFixed(3)} m, ${wanted.toFixed(3)} m wanted`);
  if (head < table.head_min_m)
    words.push(`head ${head.toFixed(3)} m below the range from ${table.head_min_m.toFixed(3)} m`);
  if (head > table.head_max_m)
    words.push(`head ${head.toFixed(3)} m above the range to ${table.head_max_m.toFixed(3)} m`);
  return {
    discharge_m3s: q,
    head_m: head,
    discharge_uncertainty_pct: pct,
    submergence_ratio: ratio,
    submergence_weedy: weedy,
    modular_limit: limit,
    upstream_level_m: upstream,
    freeboard_m: freeboard,
    freeboard_needed_m: wanted,
    words,
  };
}
