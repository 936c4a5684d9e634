/** The methods of gauging, one line each, in the order in which they are offered. */
import { BadInput } from "./bad_input.js";
import * as constant from "./gauging_constant.js";
import * as float from "./gauging_float.js";
import * as gulp from "./gauging_gulp.js";
import * as portable from "./gauging_portable.js";
import * as velocity from "./gauging_velocity.js";
import * as volumetric from "./gauging_volumetric.js";

export const METHODS = [velocity, volumetric, gulp, constant, portable, float];

/** The gauging that observations give; throws BadInput naming what stands in the way. */
export function worked(observed, pack = {}) {
  const found = methodOf(observed.method).work(observed, pack);
  if (!(found.discharge_m3s > 0 && found.uncertainty_pct > 0)) {
    throw new BadInput(
      "uncertainty_pct",
      found.uncertainty_pct,
      "must be more than zero",
      "No gauging is exact: say what vessel, watch or feed are good for.",
    );
  }
  return found;
}

export const methodOf = (key) => METHODS.find((method) => method.key === key) ?? null;
