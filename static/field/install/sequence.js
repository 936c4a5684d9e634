/** The sequence of stops of a structure, and the mark of a stop-or-go word. */
import { address, byId, el, fill } from "../../shared/dom.js";
import { siteTime } from "../../shared/format.js";
import { checkStop } from "./check.js";

export const SHAPES = {
  stop: "\u25a0 stop",
  go: "\u25b6 go",
  unknown: "? not known",
  noted: "noted",
};

export const wordMark = (word) =>
  el("span", { class: "word-mark", "data-word": word }, SHAPES[word]);

/** The list of stops, each with its last word. */
export function drawSequence({ structure, stops, earlier, visitId, site }, cautions) {
  fill(
    byId("all-cautions"),
    ["certify", "trench", "water", "lifting", "concrete"].map((key) => el("li", {}, cautions[key])),
  );
  fill(
    byId("stops"),
    stops.map((stop) => {
      const mine = earlier.filter(({ body }) => body.stop === stop.key);
      const last = mine.at(-1);
      const word = last
        ? checkStop(
            last.body,
            earlier.slice(0, earlier.indexOf(last)).map(({ body }) => body),
            stop,
          ).word
        : null;
      return el(
        "li",
        {},
        el(
          "a",
          {
            class: "stop-row",
            href: address("/field/install", {
              structure: structure.id,
              stop: stop.key,
              visit: visitId,
            }),
          },
          el("span", { class: "key" }, stop.key),
          el("strong", {}, stop.title),
          el("span", {}, stop.check),
          last
            ? el(
                "span",
                { class: "line" },
                wordMark(word),
                el(
                  "span",
                  {},
                  `${last.body.moment ? `${last.body.moment} ` : ""}${siteTime(last.observed_at, site.utc_offset_min)}${mine.length > 1 ? `, recorded ${mine.length} times` : ""}`,
                ),
              )
            : el("span", { class: "aside" }, "not recorded yet"),
        ),
      );
    }),
  );
}
