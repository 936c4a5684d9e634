/**
 * A discharge at the water, from the office's table of the rating. Never the office's own value:
 * the office computes again from what was seen.
 *
 * Log-log between the table's heads, bilinear in submergence ratio and head for drowned flow, and
 * nothing outside the table. The order of decisions is the server's.
 */
const NO_FLOW_PCT = 100; // by convention, as the server answers where nothing flows
const FAR = "too far above range for a discharge";
const UNKNOWN = "modular limit unknown";
const STEP = 1e-4; // relative step of the sensitivities, the server's

/** Index i and share f with x = nodes[i] + f (nodes[i+1] - nodes[i]) on a scale, or null outside. */
function between(nodes, x, scale = (v) => v) {
  let low = 0;
  let high = nodes.length - 1;
  if (high < 1 || !(x >= nodes[0] && x <= nodes[high])) return null;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (nodes[middle] <= x) low = middle;
    else high = middle;
  }
  const f = (scale(x) - scale(nodes[low])) / (scale(nodes[high]) - scale(nodes[low]));
  return { i: low, f };
}

const mix = (list, { i, f }) => list[i] + f * (list[i + 1] - list[i]);
const mixKnown = (list, at) =>
  list[at.i] === null || list[at.i + 1] === null ? null : mix(list, at);
const clamp = (x, nodes) => Math.min(Math.max(x, nodes[0]), nodes[nodes.length - 1]);

/** {discharge_m3s, device_pct, exponent, modular_limit} at a head, or null outside the table. */
export function interpolate(table, head_m) {
  const at = between(table.heads_m, head_m, Math.log);
  if (at === null) return null;
  const low = table.discharge_m3s[at.i];
  const high = table.discharge_m3s[at.i + 1];
  if (!(low > 0 && high > 0)) return null;
  return {
    discharge_m3s: Math.exp(Math.log(low) + at.f * Math.log(high / low)),
    device_pct: mix(table.device_pct, at),
    exponent: mix(table.exponent, at),
    modular_limit: mixKnown(table.modular_limit, at),
  };
}

/** Drowned over free discharge; beyond the table's ratios or heads the nearest of its edge. */
export function drownedFactor(table, head_m, submergence_ratio) {
  const { submergence, heads_m, factor } = table.drowned;
  const s = between(submergence, clamp(submergence_ratio, submergence));
  if (heads_m.length < 2) return mix(factor[0], s);
  const h = between(heads_m, clamp(head_m, heads_m), Math.log);
  const low = mix(factor[h.i], s);
  return low + h.f * (mix(factor[h.i + 1], s) - low);
}

function submergenceUncertainty(table, submergence_ratio) {
  const { submergence, uncertainty_pct } = table.drowned;
  return mix(uncertainty_pct, between(submergence, clamp(submergence_ratio, submergence)));
}

/** d ln F / d ln head and d ln F / d ln tailwater of the drowned factor, central differences. */
function sensitivities(table, head_m, tailwater_m) {
  // beyond the table's last ratio the factor is held and has no slope: looked at just before it
  const tail_m = Math.min(tailwater_m, head_m * table.drowned.submergence.at(-1) * (1 - 2 * STEP));
  const log = (head, tail) => Math.log(Math.max(drownedFactor(table, head, tail / head), 1e-12));
  const slope = (above, below) => (above - below) / (2 * STEP);
  return {
    toHead: slope(log(head_m * (1 + STEP), tail_m), log(head_m * (1 - STEP), tail_m)),
    toTail: slope(log(head_m, tail_m * (1 + STEP)), log(head_m, tail_m * (1 - STEP))),
  };
}

/** What is added outside the tested heads, %, k = 2; it grows with the distance. */
export function rangePct(table, head_m) {
  // a range that begins under the cease-to-flow head has no outside below
  const over = (head) => Math.max(head - (table.cease_to_flow_m ?? 0), 1e-9);
  const share = Math.max(
    over(table.head_min_m) / over(head_m),
    over(head_m) / over(table.head_max_m),
  );
  return 100 * (table.range_exponent ?? 0) * Math.max(0, Math.log(share));
}

const none = (flow, flags, note = "") => ({
  discharge_m3s: null,
  uncertainty_pct: null,
  submergence_ratio: null,
  flow,
  flags,
  note,
  parts: null,
});

/**
 * Rate one head by the table.
 *
 * `tailwater_m` is null when it was not read; `freeSeen` says that the observer saw a free drop.
 * Returns {discharge_m3s, uncertainty_pct, submergence_ratio, flow, flags, note, parts}; a
 * discharge that the phone cannot tell is null, and `note` says why in words.
 */
export function previewFlow(
  table,
  { head_m, tailwater_m = null, headUncertainty_m, freeSeen = false },
) {
  const u = headUncertainty_m;
  const cease = table.cease_to_flow_m ?? 0;
  if (head_m <= cease) return dry(head_m, tailwater_m, cease, u);
  const flags = [];
  if (head_m < table.head_min_m) flags.push("below range");
  if (head_m > table.head_max_m) flags.push("above range");
  if (head_m - 1e-9 > table.head_limit_m) {
    return none("not rated", [...flags, FAR], FAR);
  }
  const found = interpolate(table, head_m);
  if (found === null) {
    return none("not rated", flags, "Outside the table on this phone; the office works it out.");
  }
  const free = {
    ...found,
    head_pct: (Math.abs(found.exponent) * 100 * u) / head_m,
    range_pct: rangePct(table, head_m),
  };
  if (tailwater_m === null || tailwater_m <= 0) {
    const sure = freeSeen || tailwater_m !== null || !table.can_drown;
    if (!sure && free.modular_limit === null) flags.push(UNKNOWN);
    const ratio = tailwater_m === null ? null : Math.max(tailwater_m, 0) / head_m;
    return rated(free, sure ? "free" : "assumed free", flags, ratio);
  }
  return withTailwater(table, free, { head_m, tailwater_m, u }, flags);
}

function dry(head_m, tailwater_m, cease, u) {
  const flags = ["below range"];
  if (head_m < cease - u) flags.push("head below zero");
  if (tailwater_m !== null && tailwater_m > cease && tailwater_m > head_m + u) {
    return none(
      "not rated",
      [...flags, "tailwater above head"],
      "Tailwater above head: check both staffs.",
    );
  }
  return { ...none("no flow", flags), discharge_m3s: 0, uncertainty_pct: NO_FLOW_PCT };
}

function rated(found, flow, flags, submergence_ratio, submergence_pct = 0) {
  return {
    discharge_m3s: found.discharge_m3s,
    uncertainty_pct: Math.hypot(found.device_pct, found.head_pct, submergence_pct, found.range_pct),
    submergence_ratio,
    flow,
    flags,
    note: "",
    parts: found,
  };
}

function withTailwater(table, free, { head_m, tailwater_m, u }, flags) {
  const ratio = tailwater_m / head_m;
  const limit = table.can_drown ? free.modular_limit : Infinity;
  const unknown = limit === null;
  const high = ratio > table.unknown_limit_submergence;
  const doubted = high && !table.can_drown;
  const spread = ratio * Math.hypot(u / tailwater_m, u / head_m);
  if (tailwater_m > head_m + u) {
    return none(
      "not rated",
      [...flags, "tailwater above head"],
      "Tailwater above head: check both staffs.",
    );
  }
  const band = table.modular_limit_band ?? 0;
  if (!unknown && !doubted && ratio + spread < limit - band)
    return rated(free, "free", flags, ratio);
  const over = unknown ? high : ratio > limit;
  if (unknown) flags.push(UNKNOWN);
  if (doubted) flags.push("said never to drown: tailwater high");
  if (over && ratio > table.warn_submergence) flags.push("submergence above 0.90");
  if (!over && !unknown && !doubted) flags.push("near the modular limit");
  const close = head_m - tailwater_m < 2 * u;
  if (close) flags.push("heads too close to tell");
  if (close || (over && (unknown || !table.drowned || ratio > table.max_submergence))) {
    const why = close
      ? "The two heads are too close to tell the flow."
      : unknown
        ? "Modular limit unknown."
        : table.drowned
          ? "Too far drowned for a correction."
          : "No trusted correction for this structure when drowned.";
    return { ...none("submerged, not determined", flags, why), submergence_ratio: ratio };
  }
  if (!over) {
    const into = band > 0 ? Math.min(Math.max((ratio + spread - limit + band) / band, 0), 1) : 0;
    return rated(
      free,
      "assumed free",
      flags,
      ratio,
      into && table.drowned ? into * submergenceUncertainty(table, ratio) : 0,
    );
  }
  const { toHead, toTail } = sensitivities(table, head_m, tailwater_m);
  const drowned = {
    ...free,
    discharge_m3s: free.discharge_m3s * drownedFactor(table, head_m, ratio),
    head_pct: 100 * Math.hypot(((free.exponent + toHead) * u) / head_m, (toTail * u) / tailwater_m),
  };
  return rated(drowned, "submerged, corrected", flags, ratio, submergenceUncertainty(table, ratio));
}
