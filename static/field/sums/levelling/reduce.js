/**
 * The level book on the phone: reduce, check, close and adjust. What it means is in crest.js.
 *
 * The same steps, keys and errors as app/hydraulics/levelling/reduce.py, where the sources are;
 * tests/tables/levels_vectors.json proves the two equal. A missing number is null.
 *
 *   reduceRun({rows, start_rl, close_rl?, unit?, rule?, distance_km?, limit_mm?}) -> run
 *   pointLevels(run, adjusted?) -> {point: {rl, count, spread}}
 *   misclosureLimitMm({rule, setups, distance_km?, limit_mm?})   markName(name)
 */
import { BadInput } from "../../../shared/bad_input.js";
import { thresholds } from "../../base/thresholds.js";
import { misclosureLimitMm, sharing } from "./sharing.js";
import { blank, FOOT, markName, number, sights } from "./sights.js";

export const UNITS_M = { m: 1, ft: FOOT };
const sum = (list) => list.reduce((total, value) => total + value, 0);

export function reduceRun({
  rows,
  start_rl,
  close_rl = null,
  unit = "m",
  rule = "setups",
  distance_km = null,
  limit_mm = null,
}) {
  if (!(unit in UNITS_M))
    throw new BadInput("unit", unit, "the book is in metres or in feet", "Choose m or ft.");
  const start = number("start_rl", start_rl);
  const taken = sights(rows, thresholds.levelling.longest_reading_m / UNITS_M[unit]);
  const run = {
    unit,
    row: [],
    setup: [],
    point: [],
    kind: [],
    reading: [],
    collimation: [],
    rise: [],
    fall: [],
    rl: [],
    rl_rise_fall: [],
  };
  taken.forEach((sight, i) => {
    for (const key of ["row", "setup", "point", "kind", "reading"]) run[key].push(sight[key]);
    const first = sight.kind === "bs";
    const change = first ? null : run.reading[i - 1] - sight.reading;
    run.collimation.push(
      first ? (i === 0 ? start : run.rl[i - 1]) + sight.reading : run.collimation[i - 1],
    );
    run.rl.push(first ? (i === 0 ? start : run.rl[i - 1]) : run.collimation[i] - sight.reading);
    run.rl_rise_fall.push(
      first ? (i === 0 ? start : run.rl_rise_fall[i - 1]) : run.rl_rise_fall[i - 1] + change,
    );
    run.rise.push(first ? null : Math.max(change, 0));
    run.fall.push(first ? null : Math.max(-change, 0));
  });
  const all = (kind) => sum(run.reading.filter((_, i) => run.kind[i] === kind));
  const last = run.rl.at(-1);
  run.setups = run.setup.at(-1);
  run.sum_bs = all("bs");
  run.sum_fs = all("fs");
  run.sum_rises = sum(run.rise.filter((each) => each !== null));
  run.sum_falls = sum(run.fall.filter((each) => each !== null));
  run.last_minus_first = last - run.rl[0];
  run.complete = run.kind.at(-1) === "fs";
  const differences = [
    run.sum_rises - run.sum_falls - run.last_minus_first,
    ...run.rl.map((rl, i) => run.rl_rise_fall[i] - rl),
  ];
  if (run.complete) differences.push(run.sum_bs - run.sum_fs - run.last_minus_first);
  run.arithmetic_agrees = differences.every((each) => Math.abs(each) < 1e-6);
  const back = run.complete && markName(run.point.at(-1)) === markName(run.point[0]);
  run.close_rl = blank(close_rl) ? (back ? start : null) : number("close_rl", close_rl);
  const closed = run.complete && run.close_rl !== null;
  run.misclosure = closed ? last - run.close_rl : null;
  run.misclosure_mm = closed ? run.misclosure * UNITS_M[unit] * 1000 : null;
  const shared = sharing(rows, taken, { rule, setups: run.setups, distance_km, closed });
  run.limit_mm = misclosureLimitMm({
    rule,
    setups: run.setups,
    distance_km: shared.distance_km,
    limit_mm,
  });
  run.within_limit = closed ? Math.abs(run.misclosure_mm) <= run.limit_mm + 1e-6 : null;
  const share = (i) => shared.through[run.setup[i] - (run.kind[i] === "bs" ? 1 : 0)];
  run.correction = run.rl.map((_, i) => (closed ? 0 - run.misclosure * share(i) : null));
  run.rl_adjusted = run.rl.map((rl, i) => (closed ? rl + run.correction[i] : null));
  run.shared_by = shared.shared_by;
  run.words = [...shared.told, ...words(run)];
  return run;
}

function words(run) {
  const said = [];
  if (!run.arithmetic_agrees) said.push("the three sums do not agree");
  if (!run.complete) said.push("open: the last set-up has no foresight");
  else if (run.within_limit === null) said.push("not closed on a known mark: misclosure unknown");
  else if (!run.within_limit)
    said.push("misclosure outside the limit: level it again before it sets a gauge zero");
  for (const [name, { spread }] of Object.entries(pointLevels(run))) {
    const spread_mm = spread * UNITS_M[run.unit] * 1000;
    if (spread_mm > run.limit_mm + 1e-6)
      said.push(`${name} differs by ${spread_mm.toFixed(1)} mm between its sights`);
  }
  return said;
}

export function pointLevels(run, adjusted = false) {
  const values = adjusted ? run.rl_adjusted : run.rl;
  const seen = {};
  run.point.map(markName).forEach((name, i) => {
    if (i === 0 || (run.kind[i] !== "bs" && name !== markName(run.point[0])))
      (seen[name] ??= []).push(values[i]);
  });
  return Object.fromEntries(
    Object.entries(seen).map(([name, found]) => [
      name,
      {
        rl: found.includes(null) ? null : sum(found) / found.length,
        count: found.length,
        spread: found.includes(null) ? null : Math.max(...found) - Math.min(...found),
      },
    ]),
  );
}
