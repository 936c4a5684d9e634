/** Is a dimension as built like its named value? Twin of slip() in app/language/typed.py, in mm. */
import { thresholds } from "../base/thresholds.js";

const limits = thresholds.typed;
const SLIPS = [1000, 10, 0.1, 0.001, 25.4, 304.8]; // metres for mm, the decimal sign, inches and feet

/** What a dimension is likely meant as; itself when it is like its named value, null when unlike. */
export function slip(value, named) {
  if (Math.abs(value - named) <= Math.max(limits.like_named * named, limits.like_named_mm))
    return value;
  const meant = SLIPS.map((factor) => value * factor).filter(
    (each) => Math.abs(each - named) <= limits.like_named * named,
  );
  return meant.sort((a, b) => Math.abs(a - named) - Math.abs(b - named))[0] ?? null;
}
