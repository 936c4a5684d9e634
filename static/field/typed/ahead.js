/**
 * A typed time that lies ahead of this phone's clock: twin of refuse_future() in
 * app/language/typed.py. The office stores such a time and flags it, for the clock may be wrong.
 */
import { thresholds } from "../base/thresholds.js";

const limits = thresholds.typed;

/** Words for a time to come, else "". `name` says which time: "The gate's time". */
export const ahead = (iso, now, name = "The time") =>
  Date.parse(iso) > Date.parse(now) + limits.clock_skew_s * 1000
    ? `${name} lies ahead. Check its day and year, and this phone's clock.`
    : "";
