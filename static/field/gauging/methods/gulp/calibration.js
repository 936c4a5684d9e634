/** The calibration of the probe at the site: points, factor, their words. */
import { el, fill } from "../../../../shared/dom.js";
import { calibrationFactor } from "../../../sums/gaugings.js";
import { blank, figures } from "../../figures.js";
import { button, figureBox, more } from "../../inputs.js";

export function calibrationBoxes(part, _set, changed) {
  const rows = el("div", { class: "list" });
  const said = el("p", { class: "sums", id: "calibration-said" });
  const tell = () => (said.textContent = calibrationWords(part));
  const heard = () => {
    tell();
    changed();
  };
  const redraw = () =>
    fill(
      rows,
      part.points.map((each, i) =>
        el(
          "div",
          { class: "two" },
          figureBox({
            label: `Point ${i + 1}, added`,
            unit: "mg/L",
            value: each.concentration,
            name: "concentration_mg_l",
            set: (text) => {
              each.concentration = text;
              heard();
            },
          }),
          figureBox({
            label: "reads",
            unit: "\u00b5S/cm",
            value: each.conductivity,
            name: "conductivity",
            set: (text) => {
              each.conductivity = text;
              heard();
            },
          }),
        ),
      ),
    );
  redraw();
  tell();
  return el(
    "fieldset",
    {},
    el("legend", {}, "Calibration at the site"),
    rows,
    el(
      "div",
      { class: "beside" },
      button("Add a calibration point", () => {
        part.points.push({ concentration: "", conductivity: "" });
        redraw();
        rows.lastElementChild.querySelector("input").focus();
        heard();
      }),
    ),
    said,
    more(
      "A factor found elsewhere",
      figureBox({
        label: "Factor",
        unit: "mg/L for 1 \u00b5S/cm",
        value: part.factor,
        name: "factor_mg_l_per_us_cm",
        hint: "Used when there are no calibration points; 0.486 when empty (Richardson and others 2017)",
        set: (text) => {
          part.factor = text;
          heard();
        },
      }),
      figureBox({
        label: "Its uncertainty, k = 2",
        unit: "%",
        value: part.factorPct,
        name: "factor_uncertainty_pct",
        set: (text) => {
          part.factorPct = text;
          heard();
        },
      }),
    ),
  );
}

function calibrationWords(part) {
  const points = pointsOf(part);
  if (points.length === 0) return "Without calibration the default factor is used and flagged.";
  try {
    const { factor, uncertainty_pct, r_squared } = calibrate(points);
    return `Factor ${factor.toFixed(4)} mg/L for 1 \u00b5S/cm \u00b1 ${uncertainty_pct.toFixed(1)} %, r\u00b2 ${r_squared.toFixed(4)}`;
  } catch (error) {
    return `${error.rule}. ${error.remedy}`;
  }
}

export const pointsOf = (part) =>
  part.points
    .filter(({ concentration, conductivity }) => !blank(concentration) || !blank(conductivity))
    .map(({ concentration, conductivity }) => ({
      concentration_mg_l: concentration.trim(),
      conductivity_us_cm: conductivity.trim(),
    }));

export const calibrate = (points) =>
  calibrationFactor({
    concentration_mg_l: figures(
      "concentration_mg_l",
      points.map((each) => each.concentration_mg_l),
    ),
    conductivity_us_cm: figures(
      "conductivity_us_cm",
      points.map((each) => each.conductivity_us_cm),
    ),
  });
