/**
 * Check gaugings on the phone: fills, floats, the head meanwhile, and the verdict. Velocity-area and
 * tracers come along from their own files.
 *
 * The same steps, keys and words as app/hydraulics/gauging/verdict.py, where the sources are;
 * tests/tables/gaugings_vectors.json proves the two equal. Uncertainties are expanded, k = 2 (95 %).
 *
 *   volumetric({volume_m3, times_s, volume_uncertainty_pct?, timer_uncertainty_s?})
 *   floatGauging({distance_m, times_s, area_m2, factor?, uncertainty_pct?})
 *   knownGauging({method, discharge_m3s, uncertainty_pct})   meanHead({heads_m, times_s?, limit_pct?})
 *   verdict({discharge_m3s, uncertainty_pct, rating_m3s, rating_uncertainty_pct, tolerance_pct?, indication_only?})
 *   velocityArea, meanVelocity, meterVelocity (sums_velocity_area.js)
 *   gulp, constantRate, calibrationFactor (sums_dilution.js)
 */
import { BadInput } from "../../shared/bad_input.js";
import { thresholds } from "../base/thresholds.js";
import { general, meanAndError, positive, signed, sum, twoSided } from "./statistics.js";

const limits = thresholds.gaugings;

export * from "./dilution.js";
export * from "./velocity_area.js";

const DUST = 1e-9;

const timed = (times_s) => times_s.map((each, i) => positive(`times_s ${i + 1}`, each));

export function volumetric({
  volume_m3,
  times_s,
  volume_uncertainty_pct = 1,
  timer_uncertainty_s = 0.1,
}) {
  if (times_s.length === 0)
    throw new BadInput("times_s", "none", "needs a fill", "Time at least one fill.");
  const times = timed(times_s);
  const given = Array.isArray(volume_m3) ? volume_m3 : times.map(() => volume_m3);
  if (given.length !== times.length)
    throw new BadInput(
      "volume_m3",
      given.length,
      `not as many as times: ${times.length}`,
      "Give one volume a fill.",
    );
  const volumes = given.map((each) => positive("volume_m3", each));
  const pace = meanAndError(times.map((t, i) => t / volumes[i]));
  const meanTime = sum(times) / times.length;
  const flags = [];
  if (times.length === 1) flags.push(`one fill: scatter unknown, ${limits.one_fill_pct} % taken`);
  else if (times.length < 5) flags.push("fewer than five fills");
  if (meanTime < limits.shortest_fill_s)
    flags.push(`fills shorter than ${limits.shortest_fill_s} s: use a larger vessel`);
  const parts = {
    scatter:
      times.length === 1
        ? limits.one_fill_pct
        : (100 * twoSided(times.length - 1) * pace.standard_error) / pace.mean,
    volume: volume_uncertainty_pct,
    timer: (100 * timer_uncertainty_s) / meanTime,
  };
  return {
    method: "volumetric",
    discharge_m3s: sum(volumes) / sum(times),
    uncertainty_pct: Math.hypot(...Object.values(parts)),
    parts,
    flags,
    indication_only: false,
  };
}

export function floatGauging({
  distance_m,
  times_s,
  area_m2,
  factor = 0.85,
  uncertainty_pct = 25,
}) {
  const times = timed(times_s);
  if (times.length === 0)
    throw new BadInput("times_s", "none", "needs a float timed", "Time at least one float.");
  if (!(factor > 0 && factor <= 1))
    throw new BadInput("factor", factor, "lies between 0 and 1", "0.85 is common.");
  const speed = (factor * positive("distance_m", distance_m)) / (sum(times) / times.length);
  const flags = ["indication only"];
  if (times.length < 3) flags.push("fewer than three floats");
  return {
    method: "float",
    discharge_m3s: speed * positive("area_m2", area_m2),
    uncertainty_pct,
    parts: { method: uncertainty_pct },
    flags,
    indication_only: true,
  };
}

/** A discharge found by another rated device, such as a portable plate. */
export function knownGauging({ method, discharge_m3s, uncertainty_pct }) {
  return {
    method,
    discharge_m3s: positive("discharge_m3s", discharge_m3s),
    uncertainty_pct: positive("uncertainty_pct", uncertainty_pct),
    parts: { device: uncertainty_pct },
    flags: [],
    indication_only: false,
  };
}

export function meanHead({ heads_m, times_s = null, limit_pct = 2 }) {
  const heads = heads_m.map((each) => positive("heads_m", each));
  const last = heads.length - 1;
  if (last < 0)
    throw new BadInput("heads_m", "none", "needs a head", "Read the staff at start and end.");
  if (times_s && times_s.length !== heads.length)
    throw new BadInput("times_s", times_s.length, "one time a head", "Time every reading.");
  if (last === 0)
    return {
      mean_m: heads[0],
      change_m: null,
      change_pct: null,
      steady: null,
      word: "unknown: one reading of head",
    };
  const times = times_s ?? heads.map((_, i) => i);
  const steps = times.slice(1).map((later, i) => later - times[i]);
  if (Math.min(...steps) <= 0)
    throw new BadInput("times_s", times, "times go forward", "Put the readings in order.");
  const mean = sum(steps.map((s, i) => (s * (heads[i] + heads[i + 1])) / 2)) / sum(steps);
  const change = heads[last] - heads[0];
  const spread_pct = (100 * (Math.max(...heads) - Math.min(...heads))) / mean;
  const steady = spread_pct <= limit_pct + DUST;
  const word = steady
    ? "steady"
    : `head moved ${spread_pct.toFixed(1)} %: over ${general(limit_pct)} %`;
  return { mean_m: mean, change_m: change, change_pct: (100 * change) / mean, steady, word };
}

/** E_n and the permit's guarded rule; see the server's verdict() for the reasoning. */
export function verdict({
  discharge_m3s,
  uncertainty_pct,
  rating_m3s,
  rating_uncertainty_pct,
  tolerance_pct = 10,
  indication_only = false,
}) {
  const gauged = positive("discharge_m3s", discharge_m3s);
  const spread = positive("uncertainty_pct", uncertainty_pct);
  if (
    rating_m3s === null ||
    rating_uncertainty_pct === null ||
    !(rating_m3s > 0 && rating_m3s < Infinity)
  ) {
    const reason = "no rated discharge with its uncertainty at this head";
    return {
      word: "not proven",
      reason,
      deviation_pct: null,
      e_n: null,
      tolerance_pct,
      tolerance_word: "not proven",
    };
  }
  const deviation_pct = 100 * (gauged / rating_m3s - 1);
  const e_n =
    Math.abs(gauged - rating_m3s) /
    Math.hypot((gauged * spread) / 100, (rating_m3s * rating_uncertainty_pct) / 100);
  const size = Math.abs(deviation_pct);
  const [deviation, tolerance] = [signed(deviation_pct), general(tolerance_pct)];
  const said = (word, reason, tolerance_word) => ({
    word,
    reason,
    deviation_pct,
    e_n,
    tolerance_pct,
    tolerance_word,
  });
  if (indication_only)
    return said(
      "not proven",
      "indication only: the method cannot judge a rating",
      "not proven either way",
    );
  let guarded = "not proven either way";
  if (size + spread <= tolerance_pct + DUST) guarded = "verified";
  else if (size - spread > tolerance_pct + DUST) guarded = "fails";
  if (e_n > 1 + DUST) {
    return said(
      "fails",
      `differs by ${deviation} %, more than both uncertainties explain: check geometry, zero, submergence and repeat before touching the rating`,
      guarded,
    );
  }
  if (spread > tolerance_pct + DUST)
    return said(
      "not proven",
      `the gauging is known to ${spread.toFixed(1)} % only, the tolerance is ${tolerance} %`,
      guarded,
    );
  if (size > tolerance_pct + DUST)
    return said(
      "not proven",
      `${deviation} % is outside ${tolerance} % but the uncertainties overlap`,
      guarded,
    );
  return said(
    "agrees",
    `${deviation} % is inside ${tolerance} % and both uncertainties overlap`,
    guarded,
  );
}
