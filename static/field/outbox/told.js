/** What an entry on this phone is, what its sheet found, and the one road to put it right. */
import { counted } from "../../shared/counted.js";
import { dischargeLine } from "../../shared/format.js";
import { KINDS, kindWords } from "../base/kinds.js";

/** What an entry is, in a few words: "Head reading, as found". */
export function recordTitle(entry) {
  const name = kindWords(entry.kind);
  const which = entry.body?.occasion?.replace("_", " ") ?? entry.body?.stop;
  return `${entry.corrects ? "Correction: " : ""}${name}${which ? `, ${which}` : ""}`;
}

const STOP_WORDS = { go: "go", stop: "stop", unknown: "not known", noted: "noted" };
const millimetres = (metres) => `${(metres * 1000).toFixed(1).replace("-", "\u2212")} mm`;

function runWords({ preview, set_zero }) {
  if (!preview) return "";
  const { misclosure_mm, limit_mm, within_limit, crest_rl_m, zero_rl_m } = preview;
  const closed =
    typeof misclosure_mm === "number"
      ? `misclosure ${misclosure_mm.toFixed(1)} mm, ${within_limit ? "within" : "OVER"} the limit ${limit_mm.toFixed(1)} mm`
      : "misclosure not known";
  const found = [closed];
  if (typeof crest_rl_m === "number") found.push(`crest ${crest_rl_m.toFixed(4)} m`);
  if (set_zero && typeof zero_rl_m === "number" && typeof crest_rl_m === "number")
    found.push(`sets the zero, ${millimetres(zero_rl_m - crest_rl_m)} from the crest`);
  if (set_zero?.accepted_because) found.push(`accepted because: ${set_zero.accepted_because}`);
  return found.join(" \u00b7 ");
}

function openingWords({ heads, fit_from, preview }) {
  const open = preview?.open_points;
  return [
    preview?.steady ? `head ${preview.steady}` : counted(heads.length, "head"),
    fit_from ? "fit to record" : "not yet fit to record",
    open ? `open: ${open}` : "",
  ]
    .filter(Boolean)
    .join(" \u00b7 ");
}

function gaugingWords({ preview }) {
  if (!preview) return "";
  const flow =
    typeof preview.discharge_m3s === "number"
      ? dischargeLine(preview.discharge_m3s, preview.uncertainty_pct)
      : "no discharge";
  return [flow, preview.word].filter(Boolean).join(" \u00b7 ");
}

const RESULTS = {
  head_reading: ({ preview }) =>
    preview ? dischargeLine(preview.discharge_m3s, preview.uncertainty_pct) : "",
  check_gauging: gaugingWords,
  level_run: runWords,
  install_stop: ({ preview }) => STOP_WORDS[preview?.word] ?? "",
  opening: openingWords,
  dimension_check: ({ dimensions }) =>
    dimensions
      .map(
        ({ key, label, measured_m }) => `${label || key} ${measured_m.map(millimetres).join(", ")}`,
      )
      .join(" \u00b7 "),
  benchmark: ({ name, rl_m }) =>
    typeof rl_m === "number" ? `${name} ${rl_m.toFixed(4)} m` : `${name}, no level given`,
  photo: ({ caption }) => caption || "no caption",
  logger_file: ({ name }) => name,
  visit: ({ purpose }) => purpose,
};

/** The result of an entry as its own sheet showed it when it was saved; empty for none. */
export function resultWords({ kind, body }) {
  try {
    return RESULTS[kind]?.(body) ?? "";
  } catch {
    return ""; // of another release: it is listed without its result
  }
}

/** {href, words} to the form that puts a refused entry right or corrects a saved one, or null. */
export function wayBack({ id, state, entry }) {
  const { page, once } = KINDS[entry.kind] ?? {};
  if (!page || state === "replaced" || (once && state !== "refused")) return null;
  return state === "refused"
    ? { href: `${page}?fix=${id}`, words: "Put it right" }
    : { href: `${page}?correct=${id}`, words: "Correct it" };
}
