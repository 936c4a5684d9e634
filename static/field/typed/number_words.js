/** What a number that can be two is told as: the words of app/hydraulics/base/figures.py TwoMeanings. */
import { BadInput } from "../../shared/bad_input.js";
import { possible, spelled } from "../../shared/numbers.js";

const BELOW_THOUSAND = 999;
const general = (value) => String(Number(value.toPrecision(15)));

/** The largest figure that a field can hold, by the unit that ends its name (app/language/typed.py). */
export function limitOf(field) {
  const name = field.replace(/( \d+)+$/, "");
  return /(^|[ _])(m|ms|pct)$|(^| )v(02|06|08)?$|^meter equation/.test(name)
    ? BELOW_THOUSAND
    : Infinity;
}

/** A figure of an entry as app/language/typed.py figure() reads it; throws BadInput. */
export function typedFigure(field, text, { low = -Infinity, high = limitOf(field) } = {}) {
  const found = typeof text === "number" ? [text] : possible(String(text), { low, high });
  if (found.length > 1)
    throw new BadInput(
      field,
      text,
      `it can be ${found.map(general).join(" or ")}`,
      `Write ${found.map(spelled).join(" or ")}.`,
    );
  if (!found.length || !(Math.abs(found[0]) <= 1e15))
    throw new BadInput(field, text, "must be a number", "Give digits 0 to 9, such as 0.5.");
  return found[0];
}

/** The decimal sign that the plain cells of a column use; "any" when nothing is grouped, "" unknown. */
export function decimalSign(texts) {
  const said = new Set();
  for (const text of texts) {
    const marks = [...text].filter((each) => each === "," || each === ".");
    const plain = possible(text).length === 1;
    if (!plain || (!marks.length && text.replace(/[^0-9]/g, "").length < 4)) continue;
    if (!marks.length) {
      if (!/[^0-9+-]/.test(text.trim())) said.add("any");
    } else if (marks.length > 1 && new Set(marks).size === 1)
      said.add(marks[0] === "," ? "." : ",");
    else said.add(marks.at(-1));
  }
  const signs = [".", ","].filter((sign) => said.has(sign));
  return signs.length > 1 ? "" : (signs[0] ?? (said.has("any") ? "any" : ""));
}

/** A column of figures decided as a whole; null where a cell is no number or can be two. */
export function columnOf(texts, sign = "") {
  const known = decimalSign(texts) || sign;
  return texts.map((text) => {
    const found = possible(text);
    if (found.length < 2) return found[0] ?? null;
    return known ? found[known === "any" || text.includes(known) ? 0 : 1] : null;
  });
}
