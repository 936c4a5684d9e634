/** The tables of components behind a velocity-area uncertainty, every figure open to change. */
import { el, fill } from "../../shared/dom.js";
import { parseNumber } from "../../shared/numbers.js";
import { COMPONENTS } from "../sums/gaugings.js";
import { blank } from "./figures.js";
import { button, choice, figureBox } from "./inputs.js";

/** Meter with a group rating; read at 0.5 m/s in Morgenschweis 2010, from memory below. */
const GROUP_METER = [
  [0.03, 10],
  [0.1, 5],
  [0.15, 2.5],
  [0.25, 2],
  [0.5, 1.5],
];

/** What each is, and where its figures come from. */
const WORDS = {
  systematic_pct: ["Systematic", "common practice"],
  width_pct: ["Width", "common practice"],
  depth_pct: ["Depth", "common practice"],
  verticals: ["Number of verticals", "read in Morgenschweis 2010 after ISO 748"],
  points: [
    "Points in a vertical",
    "1, 2, 5 read in Morgenschweis 2010 after ISO 748; 3 from memory",
  ],
  meter: ["Meter, by velocity", "read at 0.5 m/s, from memory below"],
  exposure: ["Exposure time, by velocity", "from memory"],
};
const KEYS = { verticals: "verticals", points: "points", meter: "m/s", exposure: "m/s" };

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

export function componentBoxes(part, changed) {
  const box = el("div", { class: "list" });
  const valueFor = (name) => structuredClone(part.components[name] ?? COMPONENTS[name]);
  const put = (name, value) => {
    if (same(value, COMPONENTS[name])) delete part.components[name];
    else part.components[name] = value;
    changed();
  };
  const redraw = () =>
    fill(
      box,
      el(
        "p",
        { class: "hint" },
        "Standard uncertainties in %, k = 1. Check them against your own copy of ISO 748 and your meter's certificate; what you change here is kept with this gauging.",
      ),
      choice({
        legend: "Meter rated",
        name: "meter-kind",
        options: [
          ["individual", "by itself"],
          ["group", "as a type"],
        ],
        value: part.meter,
        set: (value) => {
          part.meter = value;
          put(
            "meter",
            value === "group" ? structuredClone(GROUP_METER) : structuredClone(COMPONENTS.meter),
          );
          redraw();
        },
      }),
      Object.entries(WORDS).map(([name, [label, source]]) =>
        el(
          "fieldset",
          { class: "component" },
          el("legend", {}, label),
          el("p", { class: "hint" }, source),
          Array.isArray(COMPONENTS[name])
            ? tableBoxes(name, valueFor, put)
            : figureBox({
                label: `${label}, %`,
                value: String(valueFor(name)),
                set: (text) =>
                  put(
                    name,
                    blank(text) ? COMPONENTS[name] : (parseNumber(text, { high: 999 }) ?? text),
                  ),
              }),
        ),
      ),
      button("Back to the usual figures", () => {
        part.components = {};
        part.meter = "individual";
        redraw();
        changed();
      }),
    );
  redraw();
  return box;
}

function tableBoxes(name, valueFor, put) {
  return el(
    "div",
    { class: "cells" },
    valueFor(name).map(([at], i) =>
      figureBox({
        label: `${at} ${KEYS[name]}`,
        unit: "%",
        value: String(valueFor(name)[i][1]),
        set: (text) => {
          const table = valueFor(name);
          table[i][1] = blank(text)
            ? COMPONENTS[name][i][1]
            : (parseNumber(text, { high: 999 }) ?? text);
          put(name, table);
        },
      }),
    ),
  );
}
