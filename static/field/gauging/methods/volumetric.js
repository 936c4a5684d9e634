/** Volumetric: the whole flow caught in a vessel, timed, again and again. */
import { el, fill } from "../../../shared/dom.js";
import { volumetric } from "../../sums/gaugings.js";
import { figures, options, typed } from "../figures.js";
import { button, figureBox, more, stopwatch } from "../inputs.js";

export const key = "volumetric";
export const title = "Volumetric";
export const hint = "All the water caught in a vessel and timed. Up to about 5 L/s, 1 to 5 %.";
export const wading = false;

export const empty = () => ({ fills: [{ volume: "", time: "" }], volumePct: "", timerS: "" });

export function draw(box, part, { changed }) {
  const rows = el("div", { class: "list" });
  const redraw = () =>
    fill(
      rows,
      part.fills.map((each, i) =>
        el(
          "div",
          { class: "two" },
          figureBox({
            label: `Fill ${i + 1}`,
            unit: "L",
            value: each.volume,
            name: "volume_l",
            set: (text) => {
              each.volume = text;
              changed();
            },
          }),
          figureBox({
            label: "Time",
            unit: "s",
            value: each.time,
            name: "time_s",
            set: (text) => {
              each.time = text;
              changed();
            },
          }),
        ),
      ),
    );
  const add = () => {
    part.fills.push({ volume: part.fills.at(-1)?.volume ?? "", time: "" });
    redraw();
    rows.lastElementChild.querySelectorAll("input")[1].focus();
    changed();
  };
  redraw();
  fill(
    box,
    el(
      "p",
      { class: "aside" },
      "Five fills or more, each of 5 s or longer, and no leak past the vessel.",
    ),
    rows,
    el(
      "div",
      { class: "beside" },
      button("Add a fill", add),
      stopwatch((seconds) => {
        if (part.fills.every((each) => each.time.trim()))
          part.fills.push({ volume: part.fills.at(-1).volume, time: "" });
        part.fills.find((each) => !each.time.trim()).time = seconds;
        redraw();
        changed();
      }),
    ),
    more(
      "Uncertainty of vessel and watch",
      figureBox({
        label: "Volume, k = 2",
        unit: "%",
        value: part.volumePct,
        name: "volume_uncertainty_pct",
        hint: "1 % when empty (common practice)",
        set: (text) => {
          part.volumePct = text;
          changed();
        },
      }),
      figureBox({
        label: "Watch, k = 2",
        unit: "s",
        value: part.timerS,
        name: "timer_uncertainty_s",
        hint: "0.1 s when empty (common practice)",
        set: (text) => {
          part.timerS = text;
          changed();
        },
      }),
    ),
  );
}

export const begun = (part) => part.fills.some(({ time }) => time.trim());

export function observed(part) {
  return {
    method: key,
    fills: part.fills
      .filter(({ time }) => time.trim())
      .map(({ volume, time }) => ({ volume_l: volume.trim(), time_s: time.trim() })),
    volume_uncertainty_pct: typed(part.volumePct),
    timer_uncertainty_s: typed(part.timerS),
  };
}

export function fromObserved(seen) {
  return {
    fills: seen.fills.map(({ volume_l, time_s }) => ({
      volume: String(volume_l),
      time: String(time_s),
    })),
    volumePct: String(seen.volume_uncertainty_pct ?? ""),
    timerS: String(seen.timer_uncertainty_s ?? ""),
  };
}

export function work(seen) {
  return volumetric({
    volume_m3: figures(
      "volume_l",
      seen.fills.map((each) => each.volume_l),
    ).map((litres) => litres * 0.001),
    times_s: figures(
      "time_s",
      seen.fills.map((each) => each.time_s),
    ),
    ...options(seen, "volume_uncertainty_pct", "timer_uncertainty_s"),
  });
}

export function picture(box) {
  fill(box);
}
