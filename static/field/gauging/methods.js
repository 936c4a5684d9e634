/** The methods of gauging, one line each, in the order in which they are offered. */
import { BadInput } from "../../shared/bad_input.js";
import * as constant from "./methods/constant.js";
import * as float from "./methods/float.js";
import * as gulp from "./methods/gulp.js";
import * as portable from "./methods/portable.js";
import * as velocity from "./methods/velocity.js";
import * as volumetric from "./methods/volumetric.js";

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
