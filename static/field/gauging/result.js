/** What the gauging page shows of the result: discharge, uncertainty and its parts, the verdict. */
import { counted } from "../../shared/counted.js";
import { byId, el, fill, show } from "../../shared/dom.js";
import { discharge, dischargeLine, millimetres } from "../../shared/format.js";
import { problemWords } from "./entry.js";

const SVG = "http://www.w3.org/2000/svg";
const SHAPES = {
  agrees: "M2 8.5L6.5 13L14 3.5",
  fails: "M3 3L13 13M13 3L3 13",
  "not proven": "M2 6H14M2 10.5H14M11 2L5 14",
};

const PART_WORDS = {
  systematic: "systematic",
  verticals: "number of verticals",
  panels: "depth, width, points, meter, exposure",
  scatter: "scatter of the repeats",
  volume: "volume",
  timer: "stopwatch",
  dose: "dose",
  factor: "calibration factor",
  background: "background and scatter of the readings",
  drift: "drift of the background",
  mixing: "mixing",
  tail: "tail not seen",
  injection: "feed rate",
  injected: "concentration of the feed",
  plateau: "plateau",
  method: "method",
  device: "device",
  head: "head",
  dimensions: "dimensions",
};

/** How deviation and the gauging's own uncertainty lie to the tolerance: not a verdict beside it. */
const TOLERANCE_WORDS = {
  verified: "kept, also when all of the gauging's uncertainty counts against it",
  fails: "passed by, also when all of the gauging's uncertainty counts for it",
  "not proven either way": "may be kept or not: the gauging's uncertainty reaches across it",
};

const pct = (value) => `${value < 10 ? value.toFixed(1) : value.toFixed(0)} %`;

/** The verdict as shape and word. */
export function verdictMark(word) {
  const svg = document.createElementNS(SVG, "svg");
  const path = document.createElementNS(SVG, "path");
  for (const [name, value] of [
    ["viewBox", "0 0 16 16"],
    ["aria-hidden", "true"],
    ["class", "shape"],
  ])
    svg.setAttribute(name, value);
  for (const [name, value] of [
    ["d", SHAPES[word] ?? "M2 8H14"],
    ["fill", "none"],
    ["stroke", "currentColor"],
    ["stroke-width", "2.4"],
  ])
    path.setAttribute(name, value);
  svg.append(path);
  return el("span", { class: "verdict", "data-word": word }, svg, el("span", {}, word));
}

/** The dock: the discharge as the largest thing, the verdict's word beside it. */
export function drawDock(read) {
  const output = byId("discharge");
  const { gauging, verdict, unfinished } = read;
  output.dataset.line =
    gauging && !unfinished ? dischargeLine(gauging.discharge_m3s, gauging.uncertainty_pct) : "";
  if (!gauging)
    return fill(
      output,
      el("span", { class: "aside" }, read.observed ? "No discharge yet" : "Choose the method"),
    );
  const said = discharge(gauging.discharge_m3s, gauging.uncertainty_pct);
  return fill(
    output,
    el(
      "span",
      { class: "amount" },
      said.value,
      el("span", { class: "unit-text" }, ` ${said.unit}`),
    ),
    el(
      "span",
      { class: "plus-minus" },
      unfinished ? "so far" : `\u00b1 ${said.plusMinus} (${said.pct} %)`,
    ),
    el(
      "span",
      { class: "words" },
      unfinished ? null : verdictMark(verdict.word),
      !unfinished && verdict.deviation_pct !== null
        ? ` \u00b7 ${sign(verdict.deviation_pct)} \u00b7 E`
        : "",
      !unfinished && verdict.deviation_pct !== null ? el("sub", {}, "n") : null,
      !unfinished && verdict.deviation_pct !== null ? ` ${verdict.e_n.toFixed(2)}` : "",
      " \u00b7 preview",
    ),
  );
}

const sign = (value) => `${value < 0 ? "\u2212" : "+"}${Math.abs(value).toFixed(1)} %`;

/** The full result in the page: problem or parts, rating, reason, flags. */
export function drawResult(read, { wadingWords = null } = {}) {
  const { gauging, problem, unfinished, atHead, verdict, flags } = read;
  const wrong = problem ?? unfinished;
  show(byId("result"), Boolean(gauging || wrong));
  fill(byId("wading-live"), wadingWords ? el("p", { class: "caution" }, wadingWords) : null);
  show(byId("wading-live"), Boolean(wadingWords));
  fill(
    byId("result-words"),
    wrong ? el("p", { class: problem ? "problem" : "", id: "named" }, problemWords(wrong)) : null,
    gauging && !unfinished
      ? [
          el("p", { id: "verdict-line" }, verdictMark(verdict.word), `: ${verdict.reason}.`),
          rows([
            ["Gauged", dischargeLine(gauging.discharge_m3s, gauging.uncertainty_pct)],
            [
              "By the rating",
              atHead.rated?.discharge_m3s
                ? `${dischargeLine(atHead.rated.discharge_m3s, atHead.rated.uncertainty_pct)}, ${atHead.rated.flow}`
                : "not known",
            ],
            [
              "Deviation",
              verdict.deviation_pct === null
                ? "not known"
                : `${sign(verdict.deviation_pct)}, the rating as the base`,
            ],
            [
              "E_n",
              verdict.e_n === null
                ? "not known"
                : `${verdict.e_n.toFixed(2)}; over 1 the two differ by more than both explain`,
            ],
            [
              `Tolerance ${Number(verdict.tolerance_pct.toPrecision(4))} %`,
              TOLERANCE_WORDS[verdict.tolerance_word] ?? "cannot be told without the rating",
            ],
            [
              "Mean head",
              atHead.head
                ? `${millimetres(atHead.head.mean_m)} over the crest, ${atHead.head.word}`
                : atHead.lacking,
            ],
          ]),
        ]
      : null,
    gauging ? factsOf(gauging) : null,
    gauging && !unfinished
      ? el(
          "p",
          { class: "aside" },
          `Uncertainty (k = 2) from ${Object.entries(gauging.parts)
            .filter(([, value]) => value > 0)
            .map(([name, value]) => `${PART_WORDS[name] ?? name} ${pct(value)}`)
            .join(", ")}.`,
        )
      : null,
    gauging && flags.length
      ? el(
          "div",
          { class: "flags" },
          flags.map((flag) => el("span", { class: "flag" }, flag)),
        )
      : null,
  );
}

const rows = (list) =>
  el(
    "dl",
    { class: "pairs" },
    list.map(([name, words]) =>
      el(
        "div",
        {},
        el("dt", {}, name === "E_n" ? ["E", el("sub", {}, "n")] : name),
        el("dd", {}, words),
      ),
    ),
  );

function factsOf(gauging) {
  if (gauging.distance_m) {
    return rows([
      [
        "Section",
        `${counted(gauging.verticals, "vertical")} in the water, ${gauging.width_m.toFixed(2)} m wide, ${gauging.area_m2.toFixed(3)} m\u00b2`,
      ],
      ["Mean velocity", `${gauging.mean_velocity_ms.toFixed(3)} m/s`],
      ["Largest panel", `${gauging.largest_share_pct.toFixed(1)} %`],
    ]);
  }
  if (gauging.dose_g) {
    return rows([
      [
        "Background",
        `${gauging.background.toFixed(1)} \u00b5S/cm before, ${gauging.background_after_from === "not read" ? "after not read" : `${gauging.background_end.toFixed(1)} after`}, peak ${gauging.peak.toFixed(1)}`,
      ],
      [
        "Mixing",
        gauging.mixed === null
          ? "not checked: one probe"
          : `the probes differ by ${gauging.mixing_difference_pct.toFixed(1)} %: ${gauging.mixed ? "mixed" : "not mixed"}`,
      ],
      [
        "Tail",
        gauging.tail_complete ? "complete" : `${gauging.tail_missing_pct.toFixed(1)} % missing`,
      ],
    ]);
  }
  return null;
}
