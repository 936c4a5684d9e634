/** Tracer fed at a constant rate until the plateau downstream holds. */
import { el, fill } from "../../../shared/dom.js";
import { constantRate } from "../../sums/gaugings.js";
import { figure, figures, options, typed, typedList } from "../figures.js";
import { figureBox, figureList, more, textBox } from "../inputs.js";

export const key = "dilution_constant";
export const title = "Dilution, constant rate";
export const hint = "Tracer fed steadily into small, steady, turbulent flow. 3 to 5 %.";
export const wading = false;

export const empty = () => ({
  feed: "",
  injected: "",
  background: "",
  backgroundEnd: "",
  plateau: [""],
  unit: "mg/L",
  feedPct: "",
  concentrationPct: "",
});

export function draw(box, part, { changed }) {
  const set = (name) => (text) => {
    part[name] = text;
    changed();
  };
  fill(
    box,
    el(
      "p",
      { class: "aside" },
      "Feed well upstream, 25 widths or more (from memory), and wait until the plateau holds. Dyes and salt may need permission.",
    ),
    figureBox({
      label: "Feed of the solution",
      unit: "mL/s",
      value: part.feed,
      name: "injection_ml_s",
      set: set("feed"),
    }),
    textBox({
      label: "Unit of the concentrations",
      value: part.unit,
      name: "unit",
      set: set("unit"),
    }),
    figureBox({
      label: "Concentration of the feed",
      value: part.injected,
      name: "injected",
      set: set("injected"),
    }),
    figureBox({
      label: "Background upstream, before",
      value: part.background,
      name: "background",
      hint: "0 only when the water holds none",
      set: set("background"),
    }),
    figureList({
      label: "Plateau",
      unit: "same unit",
      list: part.plateau,
      name: "plateau",
      changed,
    }).part,
    figureBox({
      label: "Background upstream, after",
      value: part.backgroundEnd,
      name: "background_end",
      hint: "Read it again once the plateau is read",
      set: set("backgroundEnd"),
    }),
    more(
      "Uncertainty of feed and readings",
      figureBox({
        label: "Feed, k = 2",
        unit: "%",
        value: part.feedPct,
        name: "injection_uncertainty_pct",
        hint: "1 % when empty (common practice)",
        set: set("feedPct"),
      }),
      figureBox({
        label: "Concentrations, k = 2",
        unit: "%",
        value: part.concentrationPct,
        name: "concentration_uncertainty_pct",
        hint: "1 % when empty (common practice)",
        set: set("concentrationPct"),
      }),
    ),
  );
}

export const begun = (part) =>
  [part.feed, part.injected, part.background, part.backgroundEnd, ...part.plateau].some((text) =>
    text?.trim(),
  ); // a draft of an older version has no box after

export function observed(part) {
  return {
    method: key,
    injection_ml_s: part.feed.trim(),
    injected: part.injected.trim(),
    background: typed(part.background),
    background_end: typed(part.backgroundEnd),
    plateau: typedList(part.plateau),
    unit: part.unit.trim(),
    injection_uncertainty_pct: typed(part.feedPct),
    concentration_uncertainty_pct: typed(part.concentrationPct),
  };
}

export function fromObserved(seen) {
  return {
    feed: String(seen.injection_ml_s),
    injected: String(seen.injected),
    background: String(seen.background ?? ""),
    backgroundEnd: String(seen.background_end ?? ""),
    plateau: seen.plateau.map(String),
    unit: seen.unit,
    feedPct: String(seen.injection_uncertainty_pct ?? ""),
    concentrationPct: String(seen.concentration_uncertainty_pct ?? ""),
  };
}

export function work(seen) {
  return constantRate({
    injection_m3s: figure("injection_ml_s", seen.injection_ml_s) * 1e-6,
    injected: figure("injected", seen.injected),
    plateau: figures("plateau", seen.plateau),
    ...options(
      seen,
      "background",
      "background_end",
      "injection_uncertainty_pct",
      "concentration_uncertainty_pct",
    ),
  });
}

export function picture(box) {
  fill(box);
}
