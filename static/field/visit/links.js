/** The way from a site or a visit into the work on its structures. */
import { address, el } from "../../shared/dom.js";

const WORKS = [
  ["levels", "Level book"],
  ["install", "Install stops"],
  ["opening", "Opening"],
];

export const workLinks = (structure, visitId = null) =>
  el(
    "div",
    { class: "works" },
    WORKS.map(([page, words]) =>
      el(
        "a",
        {
          class: "button",
          href: address(`/field/${page}`, { structure: structure.id, visit: visitId }),
        },
        words,
      ),
    ),
  );
