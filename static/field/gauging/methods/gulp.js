/** Salt dilution by one gulp: dose, calibration at the site, and the trace of one or two probes. */
import { BadInput } from "../../../shared/bad_input.js";
import { fill } from "../../../shared/dom.js";
import { drawTrace } from "../../../shared/gauging_picture.js";
import { thresholds } from "../../base/thresholds.js";
import { gulp } from "../../sums/gaugings.js";
import { asked, options, typed } from "../figures.js";
import { calibrate, pointsOf } from "./gulp/calibration.js";
import { readTrace } from "./trace.js";

const limits = thresholds.gaugings;

export { draw } from "./gulp/form.js";

export const key = "dilution_gulp";
export const title = "Salt dilution, gulp";

export const hint =
  "Salt thrown in at once, conductivity read downstream. Rough, turbulent water, 3 to 7 %.";
export const wading = false;

export const empty = () => ({
  dose: "mass",
  mass: "",
  volume: "",
  strength: "",
  points: [],
  factor: "",
  factorPct: "",
  dosePct: "",
  text: "",
  from: "typed",
  file: null,
  interval: "5",
  next: "",
  nextSecond: "",
  background: "",
  backgroundEnd: "",
});

/** The trace stands in one box; a calibration point in two of a row. */
export function boxOf(box, _part, [field, index, more]) {
  if (["time_s", "conductivity_us_cm", "second_us_cm", "trace_from", "file_name"].includes(field))
    return box.querySelector('[name="trace_text"]');
  if (field !== "calibration") return null;
  const name = more === "conductivity_us_cm" ? "conductivity" : "concentration_mg_l";
  return box.querySelectorAll(`[name="${name}"]`)[index ?? 0] ?? null;
}

export const begun = (part) =>
  Boolean(part.text.trim()) ||
  [part.mass, part.volume, part.next, part.background, part.backgroundEnd].some((text) =>
    text.trim(),
  ) ||
  part.points.length > 0;

export function observed(part) {
  let read = { time_s: [], trace: [], second: null };
  let problem = null;
  try {
    read = readTrace(part.text);
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    problem = error;
  }
  const mass = part.dose === "mass";
  const seen = {
    method: key,
    mass_g: mass ? typed(part.mass) : null,
    volume_l: mass ? null : typed(part.volume),
    concentration_g_l: mass ? null : typed(part.strength),
    time_s: read.time_s,
    conductivity_us_cm: read.trace,
    second_us_cm: read.second,
    trace_text: part.text,
    trace_from: part.from,
    file_name: part.file,
    background_us_cm: typed(part.background),
    background_end_us_cm: typed(part.backgroundEnd),
    calibration: pointsOf(part),
    factor_mg_l_per_us_cm: typed(part.factor),
    factor_uncertainty_pct: typed(part.factorPct),
    dose_uncertainty_pct: typed(part.dosePct),
  };
  // carried beside the entry, never in it: the phone says what is wrong with the text
  Object.defineProperty(seen, "problem", { value: problem, enumerable: false });
  return seen;
}

export function fromObserved(seen) {
  const text =
    seen.trace_text ||
    seen.time_s
      .map((at, i) =>
        [at, seen.conductivity_us_cm[i], seen.second_us_cm?.[i]]
          .filter((each) => each !== undefined)
          .join("; "),
      )
      .join("\n");
  return {
    ...empty(),
    dose: seen.volume_l === null ? "mass" : "solution",
    mass: String(seen.mass_g ?? ""),
    volume: String(seen.volume_l ?? ""),
    strength: String(seen.concentration_g_l ?? ""),
    text,
    from: seen.trace_from,
    file: seen.file_name,
    points: seen.calibration.map((each) => ({
      concentration: String(each.concentration_mg_l),
      conductivity: String(each.conductivity_us_cm),
    })),
    factor: String(seen.factor_mg_l_per_us_cm ?? ""),
    factorPct: String(seen.factor_uncertainty_pct ?? ""),
    dosePct: String(seen.dose_uncertainty_pct ?? ""),
    background: String(seen.background_us_cm ?? ""),
    backgroundEnd: String(seen.background_end_us_cm ?? ""),
  };
}

export function work(seen) {
  if (seen.problem) throw seen.problem;
  const strength = asked(seen, "concentration_g_l");
  const { factor, uncertainty_pct } = seen.calibration.length
    ? calibrate(seen.calibration)
    : {
        factor: asked(seen, "factor_mg_l_per_us_cm"),
        uncertainty_pct: asked(seen, "factor_uncertainty_pct"),
      };
  return gulp({
    time_s: seen.time_s,
    trace: seen.conductivity_us_cm,
    second_trace: seen.second_us_cm,
    mass_g: asked(seen, "mass_g"),
    volume_l: asked(seen, "volume_l"),
    concentration_mg_l: strength === null ? null : strength * 1000,
    factor,
    factor_uncertainty_pct: uncertainty_pct,
    background: asked(seen, "background_us_cm"),
    background_end: asked(seen, "background_end_us_cm"),
    dose_uncertainty_pct:
      options(seen, "dose_uncertainty_pct").dose_uncertainty_pct ?? limits.dose_pct,
  });
}

export function picture(box, seen, result) {
  if (seen.time_s.length < 2) return fill(box);
  return drawTrace(box, {
    time_s: seen.time_s,
    trace: seen.conductivity_us_cm,
    second: seen.second_us_cm,
    background: result ? [result.background, result.background_end] : null,
  });
}
