/**
 * Numbers as people type them: decimal comma or point, and a guard against the wrong unit.
 */

const NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/;
const METRES_PER = { m: 1, mm: 0.001 };
const OTHER = { m: "mm", mm: "m" };
const HIGHEST_STAFF_M = 10; // no staff of a flume is longer; a larger figure is another unit

/** Returns the number, or null when the text is not one (a thousands separator is not). */
export function parseNumber(text) {
  const tidy = text.trim().replace("\u2212", "-");
  return NUMBER.test(tidy) ? Number(tidy.replace(",", ".")) : null;
}

/** Metres to the micrometre: 251 mm is 0.251 m, not 0.25100000000000003. */
export function toMetres(value, unit) {
  return Math.round(value * METRES_PER[unit] * 1e6) / 1e6;
}

/** A length in the unit's usual digits: 251 mm, 0.251 m; half millimetres are kept. */
export function lengthText(metres, unit) {
  if (unit === "mm") return `${Math.round(metres * 1e4) / 10} mm`;
  return `${(Math.round(metres * 1e4) / 1e4).toFixed(4).replace(/0$/, "")} m`;
}

/**
 * Read one head or staff reading.
 *
 * Returns {metres} when it is plausible; {question, metres, text} when another unit would make
 * sense of it (`text` is what to put in the box if the person agrees, `must` says that the figure
 * cannot be right as it stands); {problem} when it is no number.
 */
export function readLength(text, unit, highestUsualM) {
  const value = parseNumber(text);
  if (value === null) {
    const like = unit === "mm" ? "251" : "0.251";
    return { problem: `"${text.trim()}" is not a number. Type digits, such as ${like}.` };
  }
  const metres = toMetres(value, unit);
  const other = OTHER[unit];
  const instead = toMetres(value, other);
  const tiny = Math.abs(value) < 3 && !Number.isInteger(value); // nobody reads 0.251 mm
  const doubtful = unit === "m" ? metres > highestUsualM : tiny;
  const fits = Math.abs(instead) <= highestUsualM;
  if (doubtful && fits) {
    const shown = String(Math.round((unit === "m" ? instead : instead * 1000) * 1e6) / 1e6);
    return {
      question: `${text.trim()} ${other}?`,
      metres,
      text: shown,
      must: Math.abs(metres) > HIGHEST_STAFF_M,
    };
  }
  if (Math.abs(metres) > HIGHEST_STAFF_M) {
    return { problem: `${text.trim()} ${unit} is more than ${HIGHEST_STAFF_M} m. Check the figure and its unit.` };
  }
  return { metres };
}
