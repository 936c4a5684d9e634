/** Where a wrong reading is likely, and why a run needs a reason. */

import { pointLevels, UNITS_M } from "../sums/levelling/reduce.js";
import { markName } from "../sums/levelling/sights.js";
import { CORNERS, pointsByRole } from "./reduce.js";

const ODD_CORNER_M = 0.02; // further from the others than this is a misreading sooner than a tilt

/**
 * Where a wrong reading is likely: a corner far from the others; marks sighted from two set-ups,
 * which clear or accuse the turning points between them; a misclosure of a round figure.
 */
export function suspicions(values, run) {
  const found = [];
  const levels = pointLevels(run);
  const points = pointsByRole(values.sights);
  const corners = CORNERS.filter((corner) => points[corner]).map((corner) => [
    points[corner],
    levels[points[corner]].rl * UNITS_M[run.unit],
  ]);
  for (const [name, rl] of corners) {
    const others = corners.filter(([other]) => other !== name).map(([, each]) => each);
    if (others.length > 1 && others.every((each) => Math.abs(each - rl) > ODD_CORNER_M)) {
      found.push(
        `${name} lies ${Math.abs((rl - others[0]) * 1000).toFixed(0)} mm from the other corners: read it again`,
      );
    }
  }
  if (run.within_limit !== false) return found;
  const seen = {};
  run.point.map(markName).forEach((name, i) => {
    if (run.kind[i] !== "bs" || i === 0)
      (seen[name] ??= []).push({ setup: run.setup[i], rl: run.rl[i] });
  });
  const first = markName(run.point[0]);
  for (const [name, sights] of Object.entries(seen)) {
    const [a, b] = [sights[0], sights.at(-1)];
    if (name === first || a.setup === b.setup) continue;
    const apart_mm = Math.abs(b.rl - a.rl) * UNITS_M[run.unit] * 1000;
    found.push(
      apart_mm > run.limit_mm
        ? `${name} differs by ${apart_mm.toFixed(1)} mm: look at the sights on it and the turning points from set-up ${a.setup} to ${b.setup}`
        : `${name} agrees from set-up ${a.setup} to ${b.setup}: the turning points between them are good`,
    );
  }
  const round = [1000, 100, 10].find(
    (step) => Math.abs(Math.abs(run.misclosure_mm) - step) <= Math.max(run.limit_mm, 1.5),
  );
  if (round)
    found.push(
      `the misclosure is close to ${round} mm: a digit of a backsight or foresight may be misread`,
    );
  return found;
}

/** Why a run needs a reason before it may set the gauge zero; empty when it needs none. */
export function doubt(run) {
  if (!run.arithmetic_agrees) return "the book does not agree with itself";
  if (run.within_limit === null) return "the run is not closed, so its misclosure is not known";
  if (!run.within_limit)
    return `the misclosure ${run.misclosure_mm.toFixed(1)} mm is over the limit ${run.limit_mm.toFixed(2)} mm`;
  return "";
}
