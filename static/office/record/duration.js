// The curve of daily means over the share of days on which they are reached or passed.
import { counted } from "../../shared/counted.js";
import { ACCENT } from "../charts/colours.js";
import { ask, axis, plotIn, unitFor } from "../charts/plot.js";
import { saveButtons } from "../charts/save.js";

const figure = document.querySelector("[data-duration]");

async function start() {
  const found = await ask(figure.dataset.duration);
  const largest = Math.max(0, ...found.discharge_m3s);
  const unit = unitFor("discharge", largest);
  const plot = plotIn(
    figure.querySelector("[data-plot]"),
    {
      height: 260,
      scales: {
        x: { time: false, range: () => [0, 100] },
        y: { range: () => [0, largest * unit.scale * 1.05 || 1] },
      },
      cursor: { drag: { x: false, y: false } },
      axes: [
        axis({ label: "Share of days, %", labelSize: 20 }),
        axis({ label: unit.label, size: 62, labelSize: 22 }),
      ],
      series: [{}, { stroke: ACCENT, width: 2, points: { show: false } }],
    },
    [found.exceeded_pct, found.discharge_m3s.map((v) => v * unit.scale)],
  );
  saveButtons(
    figure,
    () => plot,
    () => ({
      title: `${document.querySelector("h1").textContent}: duration`,
      note: `${counted(found.days, "full day")}; ${found.left_out} left out.`,
      name: "duration",
    }),
  );
}

if (figure)
  start().catch(() =>
    figure
      .querySelector("[data-plot]")
      .replaceChildren("The chart could not be drawn; the table holds the figures."),
  );
