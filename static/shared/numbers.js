/**
 * Numbers as people type them, twin of app/hydraulics/base/figures.py (the rule stands there);
 * tests/tables/typed_vectors.json proves the two equal.
 */

const GROUP = "[ '\u00a0\u2007\u2008\u2009\u200a\u2019\u202f]";
const MINUS = "\u2010\u2011\u2012\u2013\u2212\\-";
const SIGNED = new RegExp(
  `^([+${MINUS}]?)[ \u00a0\u202f]?([\\d.,].*?)(?:[eE]([+${MINUS}]?\\d{1,3}))?$`,
);
const PLAIN = new RegExp(`^(\\d+|[1-9]\\d{0,2}(?:${GROUP}\\d{3})+)?(?:([.,])(\\d*))?$`);
const MARKED = /^[1-9]\d{0,2}(?:(?:,\d{3})+\.\d+|(?:\.\d{3})+,\d+|(?:,\d{3}){2,}|(?:\.\d{3}){2,})$/;
const METRES_PER = { m: 1, cm: 0.01, mm: 0.001 };

/** The values that a text can mean: none, one, or two (as decimals, then grouped). */
export function meanings(text) {
  const [, sign, body, power] = (text.length <= 40 && SIGNED.exec(text.trim())) || [];
  if (body === undefined) return [];
  let [, whole = "", mark, part = ""] = PLAIN.exec(body) ?? [];
  let grouped = null;
  if (!whole && !part) {
    if (!MARKED.test(body)) return [];
    const last = Math.max(body.lastIndexOf(","), body.lastIndexOf("."));
    const cut = body.includes(",") && body.includes(".") ? last : body.length;
    [whole, part] = [body.slice(0, cut).replace(/[.,]/g, ""), body.slice(cut + 1)];
  } else if (mark && part.length === 3 && !power && /^[1-9]\d{0,2}$/.test(whole))
    grouped = Number(whole + part);
  const e = power ? power.replace(new RegExp(`[${MINUS}]`), "-") : 0;
  const value = Number(`${whole.replace(new RegExp(GROUP, "g"), "") || 0}.${part || 0}e${e}`);
  if (!Number.isFinite(value)) return [];
  return (grouped === null ? [value] : [value, grouped]).map(
    (each) => (!sign || sign === "+" ? each : -each) + 0,
  );
}

/** Of two meanings the one within the limits; both when both are possible. */
export function possible(text, { low = -Infinity, high = Infinity } = {}) {
  const found = meanings(text);
  if (found.length < 2) return found;
  const fits = found.filter((value) => value >= low && value <= high);
  return fits.length ? fits : found.slice(0, 1);
}

/** Returns the number, or null when the text is none or can be two. */
export function parseNumber(text, limits) {
  const [found, second] = possible(text, limits);
  return second === undefined && Math.abs(found) <= 1e15 ? found : null;
}

/** A number as text with this one meaning: 1.251 is written 1.2510. */
export function spelled(value) {
  const text = String(Number(value.toPrecision(12)));
  return meanings(text).length < 2 ? text : `${text}0`;
}

/** Metres to the micrometre: 251 mm is 0.251 m, not 0.25100000000000003. */
export function toMetres(value, unit) {
  return Math.round(value * METRES_PER[unit] * 1e6) / 1e6;
}

/** A length in the unit's usual digits: 251 mm, 25.1 cm, 0.251 m; half millimetres are kept. */
export function lengthText(metres, unit) {
  if (unit === "cm") return `${Math.round(metres * 1e4) / 100} cm`;
  if (unit === "mm") return `${Math.round(metres * 1e4) / 10} mm`;
  return `${(Math.round(metres * 1e4) / 1e4).toFixed(4).replace(/0$/, "")} m`;
}
