/** Means, errors and Student's t for the gauging sums; the server's are in student.py. */
import { BadInput } from "../../shared/bad_input.js";

export const sum = (list) => list.reduce((total, value) => total + value, 0);
export const signed = (value) => (value < 0 ? "" : "+") + value.toFixed(1);
export const general = (value) => String(Number(value.toPrecision(6)));

export function positive(field, value, remedy = "Measure it again.") {
  if (!(typeof value === "number" && value > 0 && Number.isFinite(value)))
    throw new BadInput(field, value, "must be more than zero", remedy);
  return value;
}

/** Mean and standard error s / sqrt(n); the error of one value is not known. */
export function meanAndError(values) {
  if (values.length === 0 || !values.every(Number.isFinite))
    throw new BadInput("values", "none", "needs numbers", "Give at least one reading.");
  const count = values.length;
  const mean = sum(values) / count;
  const squares = sum(values.map((value) => (value - mean) ** 2));
  return {
    mean,
    standard_error: count > 1 ? Math.sqrt(squares / (count - 1) / count) : null,
    count,
  };
}

/** P(|T| < t) for whole degrees of freedom: Abramowitz and Stegun 1964, 26.7.3 and 26.7.4. */
function inside(t, dof) {
  const angle = Math.atan(t / Math.sqrt(dof));
  const cos2 = Math.cos(angle) ** 2;
  const odd = dof % 2 === 1;
  let term = odd ? Math.cos(angle) : 1;
  let series = dof === 1 ? 0 : term;
  for (let k = odd ? 3 : 2; k <= dof - 2; k += 2) {
    term *= ((k - 1) / k) * cos2;
    series += term;
  }
  return odd ? (2 / Math.PI) * (angle + Math.sin(angle) * series) : Math.sin(angle) * series;
}

/** The factor that spans the middle of Student's distribution, by bisection. */
export function twoSided(dof, confidence = 0.95) {
  let [low, high] = [0, 1];
  while (inside(high, dof) < confidence) [low, high] = [high, 2 * high];
  for (let i = 0; i < 80; i += 1) {
    const middle = (low + high) / 2;
    if (inside(middle, dof) < confidence) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
