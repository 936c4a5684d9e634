/** The boxes of a gulp: dose, background, uncertainty. */
import { el, fill } from "../../../../shared/dom.js";
import { saltMassKg } from "../../../sums/gaugings.js";
import { choice, figureBox, more } from "../../inputs.js";
import { calibrationBoxes } from "./calibration.js";
import { traceBoxes } from "./trace_boxes.js";

export function draw(box, part, { changed, ratedFlow }) {
  const salt = el("p", { class: "aside" });
  const tell = () => (salt.textContent = saltHint(ratedFlow()));
  const set = (name) => (text) => {
    part[name] = text;
    changed();
  };
  fill(
    box,
    el(
      "p",
      { class: "aside" },
      "Pour well upstream: 25 widths or more, no dead water between (from memory). Ask whether salt may be used here.",
    ),
    salt,
    doseBoxes(part, set, changed),
    calibrationBoxes(part, set, changed),
    traceBoxes(part, set, changed),
    el(
      "fieldset",
      {},
      el("legend", {}, "Background of the water"),
      el(
        "div",
        { class: "two" },
        figureBox({
          label: "Background before",
          unit: "\u00b5S/cm",
          value: part.background,
          name: "background_us_cm",
          hint: "Empty: the readings before the rise",
          set: set("background"),
        }),
        figureBox({
          label: "Background after",
          unit: "\u00b5S/cm",
          value: part.backgroundEnd,
          name: "background_end_us_cm",
          hint: "Empty: the level end of the trace",
          set: set("backgroundEnd"),
        }),
      ),
      el(
        "p",
        { class: "hint" },
        "Keep reading until the water is level again: a drift of 1 % can move the discharge by more than 5 %.",
      ),
    ),
    more(
      "Uncertainty of the dose",
      figureBox({
        label: "Dose, k = 2",
        unit: "%",
        value: part.dosePct,
        name: "dose_uncertainty_pct",
        hint: "1 % when empty (common practice)",
        set: set("dosePct"),
      }),
    ),
  );
  return { tell };
}

function saltHint(flow) {
  if (!(flow > 0)) return "";
  const grams = saltMassKg({ discharge_m3s: flow }) * 1000;
  return `By the rating ${(flow * 1000).toPrecision(3)} L/s pass now: about ${Number(grams.toPrecision(2))} g of salt (10 kg for 1 m\u00b3/s, Morgenschweis 2010).`;
}

function doseBoxes(part, set, changed) {
  const inner = el("div", { class: "list" });
  const redraw = () =>
    fill(
      inner,
      part.dose === "mass"
        ? figureBox({
            label: "Salt, dry",
            unit: "g",
            value: part.mass,
            name: "mass_g",
            set: set("mass"),
          })
        : el(
            "div",
            { class: "two" },
            figureBox({
              label: "Solution",
              unit: "L",
              value: part.volume,
              name: "volume_l",
              set: set("volume"),
            }),
            figureBox({
              label: "Strength",
              unit: "g/L",
              value: part.strength,
              name: "concentration_g_l",
              set: set("strength"),
            }),
          ),
    );
  redraw();
  return el(
    "div",
    { class: "list" },
    choice({
      legend: "Dose",
      name: "dose",
      options: [
        ["mass", "by mass"],
        ["solution", "as a solution"],
      ],
      value: part.dose,
      set: (value) => {
        part.dose = value;
        redraw();
        changed();
      },
    }),
    inner,
  );
}
