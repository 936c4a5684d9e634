/** The figures of a plan asked for anew: as the office had them, and as typed. */
import { parseNumber, possible, spelled } from "../../shared/numbers.js";

export const FIGURES = {
  q_min_l_s: "Least flow",
  q_mid_l_s: "Middle flow",
  q_max_l_s: "Greatest flow",
  weed_margin_mm: "Weed margin",
  crest_rl_m: "Crest",
  bank_rl_m: "Lowest bank",
};
const MAY_BE_EMPTY = new Set(["crest_rl_m", "bank_rl_m"]);

export function figuresOf(plan) {
  const flows = plan.result.flows_m3s.map((q) => spelled(Number((q * 1000).toPrecision(4))));
  return {
    ...plan.inputs,
    q_min_l_s: flows[0],
    q_mid_l_s: flows[1],
    q_max_l_s: flows[2],
    name: `${plan.name}, again`.slice(0, 80),
    note: "",
  };
}

/** The figures as numbers, or the words of the first that is none. */
export function readFigures(typed) {
  const found = {};
  for (const [key, label] of Object.entries(FIGURES)) {
    const text = typed[key].trim();
    const limits = { high: key.endsWith("_m") ? 999 : Infinity };
    found[key] = text ? parseNumber(text, limits) : null;
    if (possible(text, limits).length > 1)
      return { problem: `${label}: ${text} can be two numbers. Tap which it is.` };
    if (found[key] === null && (text || !MAY_BE_EMPTY.has(key)))
      return { problem: `${label}: type a number.` };
  }
  const flows_m3s = [found.q_min_l_s, found.q_mid_l_s, found.q_max_l_s].map((q) => q / 1000);
  if (!(flows_m3s[0] > 0 && flows_m3s[0] < flows_m3s[1] && flows_m3s[1] < flows_m3s[2]))
    return { problem: "Flows go up from least to greatest." };
  if (found.weed_margin_mm < 0) return { problem: "Weed margin: 0 or more." };
  return { flows_m3s, ...found };
}
