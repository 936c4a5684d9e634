/**
 * The states of a record as a word and a shape, never by colour alone:
 * on this phone, at the office, reviewed; and "needs a look" for a refused one.
 */
import { el } from "../../shared/dom.js";

const SVG = "http://www.w3.org/2000/svg";
const SHAPES = {
  "on this phone": ["M3 3h14v14H3z", ""], // an empty box
  "at the office": ["M3 3h14v14H3z", "M3 10h14v7H3z"], // half full
  reviewed: ["M3 3h14v14H3z", "M3 3h14v14H3z"], // full
  "needs a look": ["M10 2l9 16H1z", "M9 8h2v5H9zM9 14.5h2v2H9z"], // a warning triangle
  replaced: ["M3 10h14", ""],
};
const WORDS = {
  waiting: "on this phone",
  stored: "at the office",
  refused: "needs a look",
  replaced: "replaced",
};

/** The word for an outbox record; `reviewedIds` comes from the pack. */
export function stateWord(record, reviewedIds = new Set()) {
  if (record.state === "stored" && reviewedIds.has(record.id)) return "reviewed";
  return WORDS[record.state];
}

function shape(word) {
  const svg = document.createElementNS(SVG, "svg");
  for (const [name, value] of [
    ["viewBox", "0 0 20 20"],
    ["aria-hidden", "true"],
    ["class", "shape"],
  ]) {
    svg.setAttribute(name, value);
  }
  const [outline, solid] = SHAPES[word];
  for (const [path, kind] of [
    [outline, "outline"],
    [solid, "solid"],
  ]) {
    if (!path) continue;
    const node = document.createElementNS(SVG, "path");
    node.setAttribute("d", path);
    node.setAttribute("class", kind);
    svg.append(node);
  }
  return svg;
}

export function stateMark(word) {
  return el("span", { class: "state", "data-state": word }, shape(word), el("span", {}, word));
}
