/**
 * Tracer gaugings on the phone: one gulp, or a feed at a constant rate.
 *
 * The same steps, keys and errors as app/hydraulics/gauging/dilution.py and tracer.py, where sources and provenance are;
 * tests/tables/gaugings_vectors.json proves the two equal. Uncertainties are expanded, k = 2.
 *
 *   gulp({time_s, trace, kind?, mass_g?, volume_l?, concentration_mg_l?, factor?,
 *         factor_uncertainty_pct?, background?, background_end?, second_trace?, dose_uncertainty_pct?})
 *   constantRate({injection_m3s, injected, plateau, background?, background_end?,
 *                 injection_uncertainty_pct?, concentration_uncertainty_pct?})
 *   calibrationFactor({concentration_mg_l, conductivity_us_cm})   saltMassKg({discharge_m3s})
 */
import { BadInput } from "../../shared/bad_input.js";
import { thresholds } from "../base/thresholds.js";
import { aboveBackground, onePlace } from "./background.js";
import { general, meanAndError, positive, signed, sum, twoSided } from "./statistics.js";

const limits = thresholds.dilution;

const DUST = 1e-9;

function doseG(mass_g, volume_l, concentration_mg_l) {
  if (mass_g !== null) return positive("mass_g", mass_g);
  if (volume_l === null || concentration_mg_l === null) {
    throw new BadInput(
      "mass_g",
      "none",
      "the dose is unknown",
      "Give the mass of tracer, or volume and concentration of the solution.",
    );
  }
  const strength = positive("concentration_mg_l", concentration_mg_l);
  return (positive("volume_l", volume_l) * strength) / 1000;
}

function integralOf(times, rise) {
  const total =
    sum(times.slice(1).map((time, i) => (time - times[i]) * (rise[i] + rise[i + 1]))) / 2;
  if (!(total > 0))
    throw new BadInput(
      "background",
      "too high",
      "nothing is left above background",
      "Read the background before the gulp arrives.",
    );
  return total;
}

/** The share of the cloud after the last reading, its tail taken as exponential. */
function tailMissingPct(times, rise, integral) {
  const peak = Math.max(...rise);
  const top = rise.indexOf(peak);
  const last = rise.at(-1);
  if (last <= (limits.tail_pct / 100) * peak) return 0;
  const half = rise.findIndex((value, i) => i >= top && value <= peak / 2);
  const start = half < 0 ? top : half;
  if (start >= rise.length - 1 || !(rise[start] > last)) return 100;
  const decay = Math.log(rise[start] / last) / (times.at(-1) - times[start]);
  const beyond = last / decay;
  return (100 * beyond) / (integral + beyond);
}

/** What a reader must know of the background: drifted, not read, hardly read. */
function backgroundFlags(below, effect, integral, typed) {
  const flags = [];
  const share = (area) => onePlace((100 * area) / integral).toFixed(1);
  if (below.before_count === 1 && !typed)
    flags.push("background before is one reading: read five before the gulp arrives");
  if (below.after_from === "not read")
    flags.push(
      `background after not read: taken as before, the uncertainty widened by ${share(below.drift_spread)} %; read it once the cloud has passed`,
    );
  else if (effect === null || Math.abs(effect) >= limits.drift_told_pct)
    flags.push(drifted(below.before, below.after, effect, "straight line"));
  else if (typed && below.after_from === "trace")
    flags.push("background after not given: taken from the level end of the trace");
  if ((100 * below.short_spread) / integral >= limits.drift_told_pct)
    flags.push(
      `background after seen for a short while: the uncertainty widened by ${share(below.short_spread)} %; read on once the cloud has passed`,
    );
  return flags;
}

/** By how much the background may have drifted under the plateau, and the flags. */
function constantDrift(before, after, plateau) {
  if (before === null && after === null)
    return [
      limits.unread_background * plateau,
      ["background not read: taken as nothing and the uncertainty widened; read it upstream"],
    ];
  if (before === null || after === null) {
    return [
      limits.unread_drift * (before ?? after),
      [
        `background ${before === null ? "before" : "after"} not read: taken as steady and the uncertainty widened; read it upstream before and after the plateau`,
      ],
    ];
  }
  const effect =
    plateau > before ? (100 * (plateau - (before + after) / 2)) / (plateau - before) - 100 : null;
  const told = effect === null || Math.abs(effect) >= limits.drift_told_pct;
  return [Math.abs(after - before), told ? [drifted(before, after, effect, "mean")] : []];
}

function drifted(before, after, effect, used) {
  const share = before > 0 ? ` (${signed(onePlace(100 * (after / before - 1)))} %)` : "";
  const said = effect === null ? "more than the cloud" : `${signed(onePlace(effect))} %`;
  return `background drifted from ${general(before)} to ${general(after)}${share}: ignored, the discharge would be off by ${said}; ${used} used, uncertainty widened; gauge again when it holds still`;
}

function factorOf(kind, factor, factor_uncertainty_pct, flags) {
  if (kind === "concentration") return [1, 0];
  if (factor === null) {
    flags.push("default salt factor: calibrate at the site");
    return [limits.salt_factor, limits.salt_factor_uncertainty_pct];
  }
  return [positive("factor", factor), factor_uncertainty_pct ?? 2];
}

export function gulp({
  time_s,
  trace,
  kind = "conductivity",
  mass_g = null,
  volume_l = null,
  concentration_mg_l = null,
  factor = null,
  factor_uncertainty_pct = null,
  background = null,
  background_end = null,
  second_trace = null,
  dose_uncertainty_pct = 1,
}) {
  if (kind !== "conductivity" && kind !== "concentration")
    throw new BadInput("kind", kind, "is conductivity or concentration", "Say which was read.");
  const flags = [];
  const dose_g = doseG(mass_g, volume_l, concentration_mg_l);
  const [used_factor, factor_part] = factorOf(kind, factor, factor_uncertainty_pct, flags);
  const below = aboveBackground("trace", time_s, trace, background, background_end);
  const { rise, before: base } = below;
  const integral = integralOf(time_s, rise);
  const spreads = [
    { scatter: below.scatter_spread / integral, drift: below.drift_spread / integral },
  ];
  const ignored = integral + below.drift_area;
  const effect = ignored > 0 ? 100 * (integral / ignored - 1) : null;
  flags.push(...backgroundFlags(below, effect, integral, background !== null));
  const peak = Math.max(...rise);
  let [second, difference, mixed] = [null, null, null];
  if (second_trace === null) flags.push("mixing not checked: one probe");
  else {
    const other = aboveBackground("second_trace", time_s, second_trace);
    second = integralOf(time_s, other.rise);
    spreads.push({ scatter: other.scatter_spread / second, drift: other.drift_spread / second });
    difference = (200 * Math.abs(integral - second)) / (integral + second);
    mixed = difference <= limits.mixed_pct + DUST;
    if (!mixed) flags.push(`not mixed: the probes differ by ${difference.toFixed(1)} %`);
  }
  const used = second === null ? integral : (integral + second) / 2;
  const missing = tailMissingPct(time_s, rise, integral);
  if (missing > 0) flags.push("tail incomplete: the trace ends before the cloud has passed");
  const readings_in_cloud = rise.filter((value) => value > 0.01 * peak).length;
  if (readings_in_cloud < 10) flags.push("fewer than ten readings in the cloud: read faster");
  if (kind === "conductivity" && peak < 0.1 * base)
    flags.push("peak less than a tenth above background: use more salt");
  const parts = {
    dose: dose_uncertainty_pct,
    factor: factor_part,
    background: 100 * Math.max(...spreads.map(({ scatter }) => scatter)),
    drift: 100 * Math.max(...spreads.map(({ drift }) => drift)),
    mixing: difference === null ? limits.unchecked_mixing_pct : difference / 2,
    tail: missing,
  };
  return {
    method: "dilution gulp",
    discharge_m3s: dose_g / (used_factor * used),
    uncertainty_pct: Math.hypot(...Object.values(parts)),
    parts,
    flags,
    indication_only: false,
    dose_g,
    factor: used_factor,
    background: base,
    background_end: below.after,
    background_after_from: below.after_from,
    drift_effect_pct: effect,
    peak: base + peak,
    integral,
    second_integral: second,
    mixing_difference_pct: difference,
    mixed,
    tail_complete: missing === 0,
    tail_missing_pct: missing,
    readings_in_cloud,
  };
}

export function constantRate({
  injection_m3s,
  injected,
  plateau,
  background = null,
  background_end = null,
  injection_uncertainty_pct = 1,
  concentration_uncertainty_pct = 1,
}) {
  const q = positive("injection_m3s", injection_m3s);
  const readings = [plateau].flat();
  const level = meanAndError(readings);
  const read = Object.entries({ background, background_end }).filter(([, value]) => value !== null);
  for (const [name, value] of read)
    if (value < 0)
      throw new BadInput(name, value, "must not be below zero", "Measure it upstream.");
  const [c0, c1, c2] = [
    sum(read.map(([, value]) => value)) / Math.max(read.length, 1),
    injected,
    level.mean,
  ];
  if (!(c2 > c0))
    throw new BadInput(
      "plateau",
      c2,
      `is not above background ${general(c0)}`,
      "Swap or read again.",
    );
  if (!(c1 > c2))
    throw new BadInput(
      "injected",
      c1,
      `is not above the plateau ${general(c2)}`,
      "Check the solution.",
    );
  const discharge_m3s = (q * (c1 - c2)) / (c2 - c0);
  const flags = [];
  if (level.count === 1) flags.push("one plateau reading: steadiness unknown");
  else if (Math.max(...readings) - Math.min(...readings) > 0.05 * (c2 - c0))
    flags.push("plateau not flat: wait longer");
  const [drift, told] = constantDrift(background, background_end, c2);
  flags.push(...told);
  const scatter = level.count > 1 ? twoSided(level.count - 1) * level.standard_error : 0;
  const share = concentration_uncertainty_pct / 100;
  const parts = {
    injection: injection_uncertainty_pct,
    injected: (100 * share * c1 * q) / (c2 - c0) / discharge_m3s,
    plateau:
      (100 * ((q * (c1 - c0)) / (c2 - c0) ** 2) * Math.hypot(share * c2, scatter)) / discharge_m3s,
    background: (100 * share * c0 * q * (c1 - c2)) / (c2 - c0) ** 2 / discharge_m3s,
    drift: (100 * drift) / Math.sqrt(3) / (c2 - c0),
  };
  return {
    method: "dilution constant rate",
    discharge_m3s,
    uncertainty_pct: Math.hypot(...Object.values(parts)),
    parts,
    flags,
    indication_only: false,
  };
}

export function calibrationFactor({ concentration_mg_l, conductivity_us_cm }) {
  const [c, ec] = [concentration_mg_l, conductivity_us_cm];
  if (c.length !== ec.length || c.length < 3)
    throw new BadInput("calibration", c.length, "needs three points or more", "Add salt again.");
  const [cMean, ecMean] = [sum(c) / c.length, sum(ec) / ec.length];
  const away = ec.map((value) => value - ecMean);
  const square = sum(away.map((value) => value ** 2));
  if (!(Math.max(...ec) > Math.min(...ec)))
    throw new BadInput("calibration", ec[0], "conductivity never changed", "Check the probe.");
  if (!(Math.max(...c) > Math.min(...c)))
    throw new BadInput("calibration", c[0], "concentration never changed", "Add salt again.");
  const spread = sum(c.map((value) => (value - cMean) ** 2));
  const together = sum(away.map((value, i) => value * (c[i] - cMean)));
  const factor = together / square;
  if (!(together > DUST * Math.sqrt(square * spread)))
    throw new BadInput(
      "calibration",
      factor,
      "conductivity falls as salt is added",
      "Swap columns.",
    );
  const residual = sum(c.map((value, i) => (value - cMean - factor * away[i]) ** 2));
  const error = Math.sqrt(residual / (c.length - 2) / square);
  return {
    factor,
    uncertainty_pct: (100 * twoSided(c.length - 2) * error) / factor,
    intercept: cMean - factor * ecMean,
    r_squared: 1 - residual / spread,
    count: c.length,
  };
}

export function saltMassKg({ discharge_m3s }) {
  return (
    limits.salt_kg_per_m3s * positive("discharge_m3s", discharge_m3s, "Give the flow expected.")
  );
}
