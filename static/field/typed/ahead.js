/**
 * A typed time that lies ahead of this phone's clock: twin of refuse_future() in
 * app/language/typed.py. The office stores such a time and flags it, for the clock may be wrong.
 */
const CLOCK_SKEW_MS = 300000; // two clocks differ by so much; common practice

/** Words for a time to come, else "". `name` says which time: "The gate's time". */
export const ahead = (iso, now, name = "The time") =>
  Date.parse(iso) > Date.parse(now) + CLOCK_SKEW_MS
    ? `${name} lies ahead. Check its day and year, and this phone's clock.`
    : "";
