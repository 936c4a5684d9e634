/**
 * Is the flow steady enough for the head to speak for the discharge?
 *
 * The same plain steps as the server takes (app/hydraulics/gauging/steadiness.py states the rule and where
 * its figures come from); tests/tables/steadiness_vectors.json proves the two equal.
 */
import { thresholds } from "../base/thresholds.js";

const limits = thresholds.steadiness;

/** Two-sided 5 % points of Student's t for 1 to 30 degrees of freedom, then the normal's. */
export const STUDENT_T_95 = [
  12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.16, 2.145,
  2.131, 2.12, 2.11, 2.101, 2.093, 2.086, 2.08, 2.074, 2.069, 2.064, 2.06, 2.056, 2.052, 2.048,
  2.045, 2.042,
];
export const STUDENT_T_95_LARGE = 1.96;

const sum = (list) => list.reduce((total, value) => total + value, 0);

/** Least squares of the heads on the times, and what is left over. */
function line(x, y) {
  const n = x.length;
  const xMean = sum(x) / n;
  const yMean = sum(y) / n;
  const sxx = sum(x.map((a) => (a - xMean) ** 2));
  const sxy = sum(x.map((a, i) => (a - xMean) * (y[i] - yMean)));
  const slope = sxx > 0 ? sxy / sxx : null;
  const left =
    slope === null ? null : sum(x.map((a, i) => (y[i] - yMean - slope * (a - xMean)) ** 2));
  return { yMean, sxx, slope, left };
}

/**
 * Class a series of readings: {word, wait_min, slope_m_per_s, range_m, storage_m3s, tau_s, reason}.
 * Times in seconds on any clock, heads in metres over the crest; null where a thing is not known.
 */
export function classify(times_s, heads_m, known = {}) {
  const {
    exponent = null,
    discharge_m3s = null,
    pond_area_m2 = null,
    gate_opened_s = null,
  } = known;
  const { reading_uncertainty_m = 0.003 } = known;
  const count = times_s.length;
  const found = { slope_m_per_s: null, range_m: null, storage_m3s: null, tau_s: null };
  const answer = (word, wait_s, reason) => ({
    word,
    wait_min: wait_s === null ? null : wait_s / 60,
    ...found,
    reason,
  });
  if (count === 0) return answer("unknown", null, "no readings");

  const byTime = times_s.map((time, i) => [time, heads_m[i]]).sort((a, b) => a[0] - b[0]);
  const [firstTime, firstHead] = byTime[0];
  const x = byTime.map(([time]) => time - firstTime);
  const y = byTime.map(([, one]) => one - firstHead);
  const { yMean, sxx, slope, left } = line(x, y);
  const head = firstHead + yMean;
  const range = Math.max(...y) - Math.min(...y);
  const tooWide = range > Math.max(reading_uncertainty_m, limits.range_share * head);
  const span = x[count - 1];
  const flow = discharge_m3s > 0 ? discharge_m3s : null;
  const tau =
    pond_area_m2 && flow && exponent && head > 0 ? (pond_area_m2 * head) / (exponent * flow) : null;
  const storage = pond_area_m2 && slope !== null ? pond_area_m2 * slope : null;
  Object.assign(found, { slope_m_per_s: slope, range_m: range, storage_m3s: storage, tau_s: tau });

  const trend = hasTrend({ y, slope, sxx, left, storage, flow, tooWide });
  const waitForPond =
    trend && tau !== null
      ? settlingTime(tau, Math.abs(storage), limits.settled_share * flow) || null
      : null;

  if (gate_opened_s !== null) {
    const rest = tau === null ? limits.rest_without_pond_s : limits.rest_time_constants * tau;
    const since = Math.max(firstTime + span - gate_opened_s, 0);
    if (since < rest) {
      const wait = waitForPond === null ? rest - since : Math.max(rest - since, waitForPond);
      return answer("settling", wait, "the gate was opened a short while ago");
    }
  }
  if (slope === null) return answer("unknown", null, "readings at one moment cannot show a trend");
  if (head <= 0) return answer("unknown", null, "no head over the crest");
  if (count < limits.least_readings) {
    if (tooWide) return answer("unsteady", null, "two readings differ: take a third");
    return answer("unknown", null, "two readings cannot show a trend");
  }
  if (trend)
    return answer("settling", waitForPond, `the head is ${slope > 0 ? "rising" : "falling"}`);
  if (tooWide) return answer("unsteady", null, "readings scatter without a trend");
  const need = Math.max(limits.least_span_s, tau ?? 0);
  if (span < need) return answer("unknown", need - span, "the readings span too short a time");
  return answer("steady", 0, "no trend and little scatter");
}

/** A slope that matters, and either clear of the scatter or never turning while spread wide. */
function hasTrend({ y, slope, sxx, left, storage, flow, tooWide }) {
  if (slope === null || y.length < limits.least_readings) return false;
  const matters =
    Math.abs(slope) * limits.drift_window_s > limits.drift_limit_m ||
    (storage !== null && flow !== null && Math.abs(storage) > limits.storage_share * flow);
  const dof = y.length - 2;
  const limit = STUDENT_T_95[dof - 1] ?? STUDENT_T_95_LARGE;
  const steps = y.slice(1).map((after, i) => after - y[i]);
  const oneWay = Math.min(...steps) >= 0 || Math.max(...steps) <= 0;
  return matters && (slope * slope * sxx * dof > limit * limit * left || (oneWay && tooWide));
}

/** Seconds until a difference of inflow and outflow has shrunk to what is wanted. */
function settlingTime(tau_s, difference_m3s, wanted_m3s) {
  return difference_m3s <= wanted_m3s ? 0 : tau_s * Math.log(difference_m3s / wanted_m3s);
}
