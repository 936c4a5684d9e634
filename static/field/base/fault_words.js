/** The field of a refusal ("body.heads.1.staff_m") as a path and as words, and why it was one. */
import { siteTime } from "../../shared/format.js";

const METHODS =
  /^(velocity_area|volumetric|dilution_gulp|dilution_constant|float|portable|stated)$/;
const UNITS = { m: "m", mm: "mm", km: "km", s: "s", pct: "%", l: "L", kg: "kg", g: "g" };

/** What a check names besides the fields: "constrained-str", "list[nullable[...]]", "float". */
const isCheck = (part) => !/^\w+$/.test(part) || /^(str|float|int|bool|none)$/.test(part);

/** Parts of the path inside the body; the method of a gauging is not one of them. */
export const faultPath = (field) =>
  field
    .replace(/^body\./, "")
    .split(".")
    .filter(
      (part, i, all) => part !== "observed" && !(all[i - 1] === "observed" && METHODS.test(part)),
    )
    .filter((part) => !isCheck(part));

/** The unit of a field by its name; empty for none. A box may show another: mm for metres. */
function unitOf(path) {
  const pieces = (path.filter((part) => !/^\d+$/.test(part)).at(-1) ?? "").split("_");
  return (pieces.length > 1 && UNITS[pieces.at(-1)]) || "";
}

const LONGEST = 40;
/** A refused value in quotation marks, cut where it is long; empty for none. */
const shownValue = (value) =>
  value ? `\u201c${value.length > LONGEST ? `${value.slice(0, LONGEST)}\u2026` : value}\u201d` : "";

const INSTANT = /^\d{4}-\d\d-\d\dT[\d:.]+(Z|[+-]\d\d:\d\d)$/;
const BOUND = /((?:than|equal to|at most|at least) )(-?\d+(?:\.\d+)?)(?![\w.])/g;
const PER_METRE = { mm: 1000, cm: 100 };
const inUnit = (metres, unit) => Number((Number(metres) * PER_METRE[unit]).toPrecision(9));

/** What was refused and why, as its form shows it: in the unit of its box, in the time of the site. */
export function refusalWhy({ field, value, rule }, { boxUnit = "", utcOffsetMin = null } = {}) {
  const unit = unitOf(faultPath(field));
  if (INSTANT.test(value) && utcOffsetMin !== null)
    return `\u201c${siteTime(value, utcOffsetMin)}\u201d site time: ${rule}.`;
  if (unit === "m" && boxUnit in PER_METRE && value !== "" && Number.isFinite(Number(value))) {
    const bounds = rule.replace(
      BOUND,
      (_, words, bound) => `${words}${inUnit(bound, boxUnit)} ${boxUnit}`,
    );
    return `\u201c${inUnit(value, boxUnit)}\u201d ${boxUnit} (${Number(value)} m): ${bounds}.`;
  }
  const shown = shownValue(value);
  return `${[shown, shown && unit && `in ${unit}:`, rule].filter(Boolean).join(" ")}.`;
}

export function fieldWords(field) {
  const words = faultPath(field).map((part) =>
    /^\d+$/.test(part) ? String(Number(part) + 1) : wordsOf(part),
  );
  return words.join(" ").replace(/^./, (letter) => letter.toUpperCase()) || "This entry";
}

function wordsOf(part) {
  const pieces = part.split("_").filter(Boolean);
  const unit = pieces.length > 1 ? UNITS[pieces.at(-1)] : null;
  if (pieces.at(-1) === "id") pieces.pop();
  return unit ? `${pieces.slice(0, -1).join(" ")} (${unit})` : pieces.join(" ");
}
