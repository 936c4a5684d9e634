/** Floats: for emergencies, an indication only. */

import { BadInput } from "../../../shared/bad_input.js";
import { el, fill } from "../../../shared/dom.js";
import { floatGauging } from "../../sums/gaugings.js";
import { figure, figures, options, typed, typedList } from "../figures.js";
import { figureBox, figureList, more, stopwatch } from "../inputs.js";

export const key = "float";
export const title = "Float, for emergencies";
export const hint =
  "When nothing else can be done, such as in a flood. Indication only, 10 to 25 %.";
export const wading = true;

export const empty = () => ({
  distance: "",
  width: "",
  depths: [""],
  times: [""],
  factor: "",
  pct: "",
});

export function draw(box, part, { changed }) {
  const set = (name) => (text) => {
    part[name] = text;
    changed();
  };
  const times = figureList({
    label: "Times",
    unit: "s",
    list: part.times,
    name: "times_s",
    changed,
  });
  fill(
    box,
    el(
      "p",
      { class: "notice" },
      el("strong", {}, "Indication only."),
      " A float cannot judge a rating. Three floats or more, spread over the width.",
    ),
    figureBox({
      label: "Length of the run",
      unit: "m",
      value: part.distance,
      name: "distance_m",
      set: set("distance"),
    }),
    times.part,
    el(
      "div",
      { class: "beside" },
      stopwatch((seconds) => times.put(seconds)),
    ),
    figureBox({
      label: "Width of the water",
      unit: "m",
      value: part.width,
      name: "width_m",
      set: set("width"),
    }),
    figureList({ label: "Depths across", unit: "m", list: part.depths, name: "depths_m", changed })
      .part,
    more(
      "Factor and uncertainty",
      figureBox({
        label: "Mean over surface velocity",
        value: part.factor,
        name: "factor",
        hint: "0.85 when empty; 0.84 to 0.90 in channels (ISO 748, from memory), lower where shallow",
        set: set("factor"),
      }),
      figureBox({
        label: "Uncertainty, k = 2",
        unit: "%",
        value: part.pct,
        name: "uncertainty_pct",
        hint: "25 % when empty (common practice)",
        set: set("pct"),
      }),
    ),
  );
}

export const begun = (part) =>
  [part.distance, part.width, ...part.times, ...part.depths].some((text) => text.trim());

export function observed(part) {
  return {
    method: key,
    distance_m: part.distance.trim(),
    times_s: typedList(part.times),
    width_m: part.width.trim(),
    depths_m: typedList(part.depths),
    factor: typed(part.factor),
    uncertainty_pct: typed(part.pct),
  };
}

export function fromObserved(seen) {
  return {
    distance: String(seen.distance_m),
    width: String(seen.width_m),
    times: seen.times_s.map(String),
    depths: seen.depths_m.map(String),
    factor: String(seen.factor ?? ""),
    pct: String(seen.uncertainty_pct ?? ""),
  };
}

export function work(seen) {
  const depths = figures("depths_m", seen.depths_m);
  if (depths.length === 0)
    throw new BadInput("depths_m", "none", "needs a depth", "Sound the run at several places.");
  const mean = depths.reduce((total, each) => total + each, 0) / depths.length;
  return floatGauging({
    distance_m: figure("distance_m", seen.distance_m),
    times_s: figures("times_s", seen.times_s),
    area_m2: figure("width_m", seen.width_m) * mean,
    ...options(seen, "factor", "uncertainty_pct"),
  });
}

export function picture(box) {
  fill(box);
}
