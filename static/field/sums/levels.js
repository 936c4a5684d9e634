/**
 * The level book on the phone: reduce, check, close and adjust. What it means is in sums_crest.js.
 *
 * The same steps, keys and errors as app/hydraulics/levelling/reduce.py, where the sources are;
 * tests/tables/levels_vectors.json proves the two equal. A missing number is null.
 *
 *   reduceRun({rows, start_rl, close_rl?, unit?, rule?, distance_km?, limit_mm?}) -> run
 *   pointLevels(run, adjusted?) -> {point: {rl, count, spread}}
 *   misclosureLimitMm({rule, setups, distance_km?, limit_mm?})   markName(name)
 */
import { BadInput } from "../../shared/bad_input.js";
import { typedFigure } from "../typed/number_words.js";

const FOOT = 0.3048;
export const UNITS_M = { m: 1, ft: FOOT };
const LONGEST_SIGHT_M = 300;
const NOT_BY_DISTANCE =
  "lengths of the sights not all booked: the misclosure is shared equally by set-up";
const LONGEST_READING_M = 10;

const blank = (value) => value === null || value === undefined || String(value).trim() === "";
const sum = (list) => list.reduce((total, value) => total + value, 0);
export const markName = (name) =>
  name.replace(/\s*\((?:again|close|closing|check)\)\s*$/i, "").trim();

function number(field, value, longest = 999) {
  return typedFigure(field, value, { low: -longest, high: longest });
}

function positive(field, value, remedy) {
  if (!(value > 0)) throw new BadInput(field, value ?? "none", "must be more than zero", remedy);
  return value;
}

export function misclosureLimitMm({ rule, setups, distance_km = null, limit_mm = null }) {
  if (rule === "setups") return Math.min(0.003 * Math.sqrt(setups), 0.015) * FOOT * 1000;
  if (rule === "ordinary") return 5 * Math.sqrt(setups);
  if (rule === "distance")
    return 12 * Math.sqrt(positive("distance_km", distance_km, "Give the length in km."));
  if (rule === "fixed") return positive("limit_mm", limit_mm, "Give the limit in mm.");
  throw new BadInput(
    "rule",
    rule,
    "no such rule of misclosure",
    "Choose one of setups, distance, ordinary, fixed.",
  );
}

function checkOrder(place, point, kind, last) {
  if (kind !== "bs" && (!last || last.kind === "fs")) {
    throw new BadInput(
      `row ${place} ${kind}`,
      point,
      "a set-up begins with a backsight",
      "Book the backsight on the mark or turning point first.",
    );
  }
  if (kind === "bs" && last && last.kind !== "fs") {
    throw new BadInput(
      `row ${place} bs`,
      point,
      "the set-up before has no foresight",
      "Close it with a foresight on the turning point.",
    );
  }
  if (kind === "bs" && last && markName(last.point) !== markName(point)) {
    throw new BadInput(
      `row ${place} point`,
      point,
      `a backsight goes to the turning point ${last.point} just set`,
      "Correct the name, or book the sight on that point.",
    );
  }
}

function reading(field, value, longest) {
  const found = number(field, value, longest);
  if (Math.abs(found) > longest) {
    throw new BadInput(
      field,
      value,
      `a staff reading lies between -${longest.toFixed(1)} and ${longest.toFixed(1)}`,
      "Check the unit: 1342 mm is written 1.342.",
    );
  }
  return found;
}

/** Length of every sight, m; null where none was booked (app/hydraulics/levelling/book.py, sight_lengths). */
export function sightLengths(rows, sights) {
  return sights.map(({ row: place, kind }) => {
    const row = rows[place - 1];
    const alone = sights.filter((one) => one.row === place).length === 1;
    const key = blank(row[`${kind}_distance_m`]) && alone ? "distance_m" : `${kind}_distance_m`;
    if (blank(row[key])) return null;
    const length = number(`row ${place} ${key}`, row[key]);
    if (!(length > 0 && length <= LONGEST_SIGHT_M)) {
      throw new BadInput(
        `row ${place} ${key}`,
        row[key],
        `a sight is longer than 0 and at most ${LONGEST_SIGHT_M} m`,
        "Pace or tape it from the instrument to the staff.",
      );
    }
    return length;
  });
}

/** How the misclosure is shared out: {through, shared_by, distance_km, told}. */
function sharing(rows, sights, { rule, setups, distance_km, closed }) {
  const evenly = {
    through: Array.from({ length: setups + 1 }, (_, i) => i / setups),
    shared_by: "set-up",
    distance_km,
    told: [],
  };
  if (rule !== "distance") return evenly;
  const lengths = sightLengths(rows, sights);
  if (sights.some(({ kind }, i) => kind !== "is" && lengths[i] === null))
    return { ...evenly, told: closed ? [NOT_BY_DISTANCE] : [] };
  const through = new Array(setups + 1).fill(0);
  sights.forEach(({ setup, kind }, i) => {
    if (kind !== "is") through[setup] += lengths[i];
  });
  for (let i = 1; i <= setups; i += 1) through[i] += through[i - 1];
  const total = through[setups];
  const km = distance_km ?? total / 1000;
  const told =
    Math.abs((km * 1000) / total - 1) <= 0.1
      ? []
      : [
          `the run is said to be ${(km * 1000).toFixed(0)} m, its sights add up to ${total.toFixed(0)} m: check the lengths`,
        ];
  return {
    through: through.map((each) => each / total),
    shared_by: "distance",
    distance_km: km,
    told,
  };
}

/** One sight a reading, in order; the first bad row is refused by name. */
function sights(rows, longest) {
  if (rows.length === 0)
    throw new BadInput("rows", "none", "a run has at least one sight", "Book the first backsight.");
  const found = [];
  let setup = 0;
  let label = "";
  let labelFree = true;
  rows.forEach((row, index) => {
    const place = index + 1;
    const point = String(row.point ?? "").trim();
    if (!point)
      throw new BadInput(`row ${place} point`, "", "every sight has a point", "Name the point.");
    const kinds = ["fs", "is", "bs"].filter((kind) => !blank(row[kind]));
    const readings = kinds.map((kind) => reading(`row ${place} ${kind}`, row[kind], longest));
    if (kinds.length === 0 || (kinds.length > 1 && kinds.join() !== "fs,bs")) {
      throw new BadInput(
        `row ${place}`,
        point,
        "a row holds one reading, or the two of a turning point",
        "Book one of backsight, intermediate and foresight.",
      );
    }
    const given = blank(row.setup) ? "" : String(row.setup).trim();
    if (given && !labelFree && given !== label && kinds[0] !== "bs") {
      throw new BadInput(
        `row ${place} setup`,
        given,
        `set-up ${given} begins without a backsight`,
        "Book the backsight on the turning point first.",
      );
    }
    if (given && !labelFree && given === label && kinds[0] === "bs") {
      throw new BadInput(
        `row ${place} bs`,
        point,
        `set-up ${given} has a second backsight`,
        "Book it as an intermediate, or give the new set-up its number.",
      );
    }
    kinds.forEach((kind, i) => {
      checkOrder(place, point, kind, found.at(-1));
      if (kind === "bs") setup += 1;
      found.push({ row: place, setup, point, kind, reading: readings[i] });
    });
    label = given || label;
    labelFree = kinds.length > 1 || !label;
  });
  return found;
}

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
  const taken = sights(rows, LONGEST_READING_M / UNITS_M[unit]);
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
