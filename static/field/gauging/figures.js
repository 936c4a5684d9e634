/** Figures as typed, understood: the same rules and words as app/services/gaugings/work.py. */
import { BadInput } from "../../shared/bad_input.js";
import { typedFigure } from "../typed/number_words.js";

export const blank = (value) =>
  value === null || value === undefined || String(value).trim() === "";

export function figure(field, value) {
  if (blank(value))
    throw new BadInput(field, "none", "is needed", "Measure it, or leave out the row.");
  return typedFigure(field, value);
}

export const figures = (field, values) =>
  values.map((each, i) => figure(`${field} ${i + 1}`, each));

/** A figure that may be left out: null when its box is empty. */
export const asked = (observed, field) =>
  blank(observed[field]) ? null : figure(field, observed[field]);

/** The optional figures that were given, by field; the sums keep their own defaults for the rest. */
export function options(observed, ...fields) {
  return Object.fromEntries(
    fields
      .filter((field) => !blank(observed[field]))
      .map((field) => [field, figure(field, observed[field])]),
  );
}

/** A typed figure for the entry: trimmed text, or null from an empty box. */
export const typed = (text) => (blank(text) ? null : String(text).trim());

export const typedList = (list) => list.map(typed).filter((text) => text !== null);
