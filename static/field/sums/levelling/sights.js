/** The rows of a level book as sights, in their order, each checked. */
import { BadInput } from "../../../shared/bad_input.js";
import { typedFigure } from "../../typed/number_words.js";

export const FOOT = 0.3048;

export const blank = (value) =>
  value === null || value === undefined || String(value).trim() === "";

export const markName = (name) =>
  name.replace(/\s*\((?:again|close|closing|check)\)\s*$/i, "").trim();

export function number(field, value, longest = 999) {
  return typedFigure(field, value, { low: -longest, high: longest });
}

function checkOrder(place, point, kind, last) {
  if (kind !== "bs" && (!last || last.kind === "fs")) {
    throw new BadInput(
      `row ${place} ${kind}`,
      point,
      "a set-up begins with a backsight",
      "Book the backsight on the mark or turning point first.",
    );
  }
  if (kind === "bs" && last && last.kind !== "fs") {
    throw new BadInput(
      `row ${place} bs`,
      point,
      "the set-up before has no foresight",
      "Close it with a foresight on the turning point.",
    );
  }
  if (kind === "bs" && last && markName(last.point) !== markName(point)) {
    throw new BadInput(
      `row ${place} point`,
      point,
      `a backsight goes to the turning point ${last.point} just set`,
      "Correct the name, or book the sight on that point.",
    );
  }
}

function reading(field, value, longest) {
  const found = number(field, value, longest);
  if (Math.abs(found) > longest) {
    throw new BadInput(
      field,
      value,
      `a staff reading lies between -${longest.toFixed(1)} and ${longest.toFixed(1)}`,
      "Check the unit: 1342 mm is written 1.342.",
    );
  }
  return found;
}

/** One sight a reading, in order; the first bad row is refused by name. */
export function sights(rows, longest) {
  if (rows.length === 0)
    throw new BadInput("rows", "none", "a run has at least one sight", "Book the first backsight.");
  const found = [];
  let setup = 0;
  let label = "";
  let labelFree = true;
  rows.forEach((row, index) => {
    const place = index + 1;
    const point = String(row.point ?? "").trim();
    if (!point)
      throw new BadInput(`row ${place} point`, "", "every sight has a point", "Name the point.");
    const kinds = ["fs", "is", "bs"].filter((kind) => !blank(row[kind]));
    const readings = kinds.map((kind) => reading(`row ${place} ${kind}`, row[kind], longest));
    if (kinds.length === 0 || (kinds.length > 1 && kinds.join() !== "fs,bs")) {
      throw new BadInput(
        `row ${place}`,
        point,
        "a row holds one reading, or the two of a turning point",
        "Book one of backsight, intermediate and foresight.",
      );
    }
    const given = blank(row.setup) ? "" : String(row.setup).trim();
    if (given && !labelFree && given !== label && kinds[0] !== "bs") {
      throw new BadInput(
        `row ${place} setup`,
        given,
        `set-up ${given} begins without a backsight`,
        "Book the backsight on the turning point first.",
      );
    }
    if (given && !labelFree && given === label && kinds[0] === "bs") {
      throw new BadInput(
        `row ${place} bs`,
        point,
        `set-up ${given} has a second backsight`,
        "Book it as an intermediate, or give the new set-up its number.",
      );
    }
    kinds.forEach((kind, i) => {
      checkOrder(place, point, kind, found.at(-1));
      if (kind === "bs") setup += 1;
      found.push({ row: place, setup, point, kind, reading: readings[i] });
    });
    label = given || label;
    labelFree = kinds.length > 1 || !label;
  });
  return found;
}
