/**
 * Gauge zeros that level runs on this phone set, before the office has them or before this phone
 * has heard of it. They follow the run: withdrawn, corrected or refused, its zero is gone or another.
 * The office rates every reading again, by what stands there.
 */
import { siteTime } from "../../shared/format.js";
import { standingHere } from "../keep/standing.js";

const NOT_SET = "not set"; // in the office's word about a run whose zero it did not take

/** Whether the office may not have the zero of a run yet, as far as this phone knows. */
function isAhead({ state, settled_at, notes = [] }, pack) {
  if (state === "waiting") return true;
  const packIsOlder = Date.parse(settled_at) > Date.parse(pack.made_at ?? 0);
  return state === "stored" && packIsOlder && !notes.some((words) => words.includes(NOT_SET));
}

/** The zero of one run as the pack writes zeros; null when the run cannot say it. */
function zeroOf({ id, state, entry }) {
  const { set_zero, preview, tail_mark_m } = entry.body;
  const { crest_rl_m, zero_rl_m, tail_zero_rl_m = null } = preview ?? {};
  const hasTail = tail_mark_m === null || tail_mark_m === undefined || tail_zero_rl_m !== null;
  if (!set_zero || typeof crest_rl_m !== "number" || typeof zero_rl_m !== "number" || !hasTail)
    return null;
  const at = siteTime(entry.observed_at, entry.utc_offset_min);
  const where = state === "stored" ? "at the office, not yet heard back" : "not yet at the office";
  return {
    id,
    valid_from: set_zero.from,
    crest_rl_m,
    zero_rl_m,
    tail_zero_rl_m,
    offset_m: zero_rl_m - crest_rl_m,
    tail_offset_m: tail_zero_rl_m === null ? null : tail_zero_rl_m - crest_rl_m,
    provisional: `provisional, by the zero levelled here at ${at}, ${where}`,
  };
}

/** A structure of the pack with the zeros of this phone's standing runs after the office's. */
export function withZerosHere(structure, pack, records) {
  const own = records.filter(
    ({ entry }) => entry.kind === "level_run" && entry.structure_id === structure.id,
  );
  if (!own.length) return structure;
  const stand = standingHere(pack, records);
  const zeros = own
    .filter((record) => isAhead(record, pack) && stand.stands(record.id))
    .map(zeroOf)
    .filter(Boolean);
  return zeros.length
    ? { ...structure, gauge_zeros: [...structure.gauge_zeros, ...zeros] }
    : structure;
}
