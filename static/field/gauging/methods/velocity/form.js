/** The boxes of a velocity-area gauging: edges, one open vertical at a time, meter, uncertainty. */
import { el, fill } from "../../../../shared/dom.js";
import { parseNumber } from "../../../../shared/numbers.js";
import { thresholds } from "../../../base/thresholds.js";
import { componentBoxes } from "../../components.js";
import { blank } from "../../figures.js";
import { button, choice, figureBox, more } from "../../inputs.js";
import { edgeBoxes, meterBoxes } from "./boxes.js";
import { emptyRow, MODES, numbersOf } from "./rows.js";

const limits = thresholds.gaugings;

const METRES = { high: 999 }; // tape and depth never reach a thousand metres
const POINT_WORDS = { v06: "at 0.6", v02: "at 0.2", v08: "at 0.8" };

/** Draw the form; gives back {tell(result)} to show shares and the next vertical as figures change. */
export function draw(box, part, { changed }) {
  const list = el("div", { class: "list", id: "verticals" });
  const next = el("div", { id: "next-vertical" });
  let told = null;

  const redraw = () => {
    fill(
      list,
      part.rows.map((row, i) => (i === part.open ? openRow(row, i) : closedRow(row, i))),
    );
    tell(told);
  };

  function openRow(row, i) {
    const words = el("p", { class: "sums", "data-share": i });
    const points = el("div", { class: "list" });
    const redrawPoints = () =>
      fill(
        points,
        MODES[row.mode].map((at) => pointBoxes(row, at)),
      );
    const deep = el("p", { class: "hint" });
    const heed = () => {
      const depth = parseNumber(row.depth, METRES);
      deep.textContent =
        depth > limits.one_point_depth_m && row.mode === "v06"
          ? `Deeper than ${limits.one_point_depth_m} m: read at 0.2 and 0.8 of the depth.`
          : "";
    };
    redrawPoints();
    heed();
    return el(
      "section",
      { class: "panel vertical", "aria-label": "Vertical", "data-row": i },
      el(
        "div",
        { class: "line" },
        el("h3", { "data-name": i }, "Vertical"),
        button("Take it out", () => takeOut(i), "small"),
      ),
      el(
        "div",
        { class: "two" },
        figureBox({
          label: "Tape",
          unit: "m",
          value: row.distance,
          name: `distance_m-${i}`,
          set: (text) => {
            row.distance = text;
            changed();
          },
        }),
        figureBox({
          label: "Depth",
          unit: "m",
          value: row.depth,
          name: `depth_m-${i}`,
          set: (text) => {
            row.depth = text;
            heed();
            changed();
          },
        }),
      ),
      deep,
      choice({
        legend: "Velocity, depth from the surface",
        name: `mode-${i}`,
        value: row.mode,
        options: [
          ["v06", "0.6"],
          ["two", "0.2, 0.8"],
          ["three", "all three"],
        ],
        set: (value) => {
          row.mode = value;
          redrawPoints();
          heed();
          changed();
        },
      }),
      points,
      words,
    );
  }

  function pointBoxes(row, at) {
    const point = (row.points[at] ??= { velocity: "", counts: "", seconds: "" });
    const set = (name) => (text) => {
      point[name] = text;
      changed();
    };
    if (part.how === "velocity")
      return figureBox({
        label: `Velocity ${POINT_WORDS[at]}`,
        unit: "m/s",
        value: point.velocity,
        set: set("velocity"),
      });
    return el(
      "div",
      { class: "two" },
      figureBox({ label: `Counts ${POINT_WORDS[at]}`, value: point.counts, set: set("counts") }),
      figureBox({ label: "in 40 s or more", unit: "s", value: point.seconds, set: set("seconds") }),
    );
  }

  function closedRow(_row, i) {
    return el(
      "button",
      { type: "button", class: "closed", "data-row": i, onclick: () => open(i) },
      el("span", { "data-summary": i }),
      el("span", { class: "share", "data-share": i }),
    );
  }

  function open(i) {
    part.open = i;
    redraw();
    list.querySelector(`section[data-row="${i}"] input`)?.focus();
  }

  function takeOut(i) {
    part.rows.splice(i, 1);
    if (part.rows.length === 0) part.rows.push(emptyRow());
    part.open = Math.min(i, part.rows.length - 1);
    redraw();
    changed();
  }

  function add(at = part.rows.length, distance = "") {
    const before = part.rows[at - 1] ?? part.rows.at(-1);
    part.rows.splice(at, 0, { ...emptyRow(before?.mode), distance });
    open(at);
    const input = list.querySelectorAll(`section[data-row="${at}"] input`)[distance ? 1 : 0];
    input?.focus();
    changed();
  }

  function insert(distance) {
    const place = part.rows.findIndex((row) => {
      const here = parseNumber(row.distance, METRES);
      return here !== null && way() * (here - distance) > 0;
    });
    add(place < 0 ? part.rows.length : place, String(Math.round(distance * 1000) / 1000));
  }

  const way = () => {
    const known = [part.first, ...part.rows]
      .map((row) => parseNumber(row.distance, METRES))
      .filter((each) => each !== null);
    return known.length > 1 && known.at(-1) < known[0] ? -1 : 1;
  };

  function inOrder() {
    const by = (row) =>
      blank(row.distance) ? Infinity : way() * (parseNumber(row.distance, METRES) ?? Infinity);
    part.rows.sort((a, b) => by(a) - by(b));
    redraw();
    changed();
  }

  /** Show numbers, shares and the suggestion by the newest sums; `result` is null without any. */
  function tell(result, error = null) {
    told = result;
    const numbers = numbersOf(part);
    const placeOf = (number) =>
      number === undefined || !result ? -1 : result.places ? result.places.indexOf(number) : number;
    part.rows.forEach((row, i) => {
      const number = numbers.get(i);
      const at = placeOf(number);
      const name = list.querySelector(`[data-name="${i}"]`);
      if (name) name.textContent = number === undefined ? "New vertical" : `Vertical ${number + 1}`;
      const summary = list.querySelector(`[data-summary="${i}"]`);
      const speed = at >= 0 ? result.velocity_ms[at] : null;
      if (summary) {
        summary.textContent =
          number === undefined
            ? "Not typed yet"
            : [
                `${number + 1}`,
                `${row.distance || "?"} m`,
                `deep ${row.depth || "?"} m`,
                speed === null ? null : `${speed.toFixed(3)} m/s`,
              ]
                .filter(Boolean)
                .join(" \u00b7 ");
      }
      const share = list.querySelector(`[data-share="${i}"]`);
      const carried = at >= 0 ? result.share_pct[at] : undefined;
      const over = carried > limits.panel_limit_pct + 1e-9;
      if (share) {
        share.textContent =
          carried === undefined
            ? ""
            : `${carried.toFixed(1)} %${over ? `, over ${limits.panel_limit_pct} %` : ""}`;
        share.classList.toggle("over", over);
      }
    });
    const astray = error?.rule === "verticals go one way along the tape";
    fill(
      next,
      astray
        ? button("Put the verticals in order", inOrder)
        : result && result.next_vertical_m !== null && result.next_vertical_m !== undefined
          ? el(
              "p",
              {},
              `The largest panel carries ${result.largest_share_pct.toFixed(1)} %. `,
              button(`Add a vertical at ${Number(result.next_vertical_m.toFixed(3))} m`, () =>
                insert(result.next_vertical_m),
              ),
            )
          : null,
    );
  }

  fill(
    box,
    edgeBoxes("first", "First edge", part, changed),
    el(
      "fieldset",
      {},
      el("legend", {}, "Verticals"),
      list,
      el(
        "div",
        { class: "beside" },
        button("Add a vertical", () => add(), "strong"),
      ),
      next,
    ),
    edgeBoxes("last", "Last edge", part, changed),
    meterBoxes(part, changed, redraw),
    more(
      "How the section is summed",
      choice({
        legend: "Panels",
        name: "section",
        options: [
          ["mid", "mid-section"],
          ["mean", "mean-section"],
        ],
        value: part.section,
        set: (value) => {
          part.section = value;
          changed();
        },
      }),
      el(
        "p",
        { class: "hint" },
        "Mid-section: each vertical carries half the way to its neighbours. Mean-section: each gap carries the mean of its two verticals.",
      ),
    ),
    more("Uncertainty: the components", componentBoxes(part, changed)),
  );
  redraw();
  return { tell };
}
