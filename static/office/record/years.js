// Year over year: one line a water year over the days of the year.

import { lineOf } from "../charts/colours.js";
import { legendLine } from "../charts/nodes.js";
import { ask, axis, plotIn, unitFor } from "../charts/plot.js";
import { saveButtons } from "../charts/save.js";

const figure = document.querySelector("[data-years]");
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/** Where months begin in a year that begins on MM-DD; the 29th of February is always there. */
function monthMarks(begins) {
  const [month, day] = begins.split("-").map(Number);
  const start = Date.UTC(2023, month - 1, day);
  const marks = [];
  for (let k = 0; k < 13; k += 1) {
    const at = Math.round((Date.UTC(2023, month - 1 + k, 1) - start) / 86400000) + 1;
    if (at >= 1 && at <= 366) marks.push([at, MONTHS[(month - 1 + k) % 12]]);
  }
  return marks;
}

async function start() {
  const found = await ask(figure.dataset.years);
  const place = figure.querySelector("[data-plot]");
  const largest = Math.max(0, ...found.years.flatMap((one) => one.mean.filter((v) => v !== null)));
  const unit = unitFor("discharge", largest);
  const marks = monthMarks(found.begins);
  const data = [
    found.day,
    ...found.years.map((one) => one.mean.map((v) => (v === null ? null : v * unit.scale))),
  ];
  const readout = figure.querySelector("[data-readout]");
  const plot = plotIn(
    place,
    {
      height: 300,
      scales: {
        x: { time: false, range: () => [1, 366] },
        y: { range: () => [0, largest * unit.scale * 1.08 || 1] },
      },
      cursor: { drag: { x: false, y: false } },
      axes: [
        axis({
          splits: () => marks.map(([at]) => at),
          values: () => marks.map(([, name]) => name),
        }),
        axis({ label: unit.label, size: 62, labelSize: 22 }),
      ],
      series: [
        {},
        ...found.years.map((_, k) => ({
          stroke: lineOf(k).stroke,
          dash: lineOf(k).dash,
          width: 1.8,
          points: { show: false },
        })),
      ],
      hooks: {
        setCursor: [
          (u) => {
            if (u.cursor.idx === null || u.cursor.idx === undefined) return;
            readout.textContent =
              `Day ${u.data[0][u.cursor.idx]}: ` +
              found.years
                .map(
                  (one, k) =>
                    `${one.year} ${u.data[k + 1][u.cursor.idx] === null ? "no record" : `${u.data[k + 1][u.cursor.idx].toPrecision(3)} ${unit.word}`}`,
                )
                .join(" \u00b7 ");
          },
        ],
      },
    },
    data,
  );
  figure
    .querySelector("[data-legend]")
    .replaceChildren(...found.years.map((one, k) => legendLine(lineOf(k), one.year)));
  saveButtons(
    figure,
    () => plot,
    () => ({
      title: `${document.querySelector("h1").textContent}: year over year`,
      note: "Daily means by day of the water year; uncertainty is in daily.csv.",
      name: "year-over-year",
      lines: found.years.map((one, k) => ({ ...lineOf(k), words: one.year })),
    }),
  );
}

if (figure) {
  start().catch((error) => {
    figure.querySelector("[data-readout]").textContent =
      `The chart could not be drawn: ${error.message}`;
  });
}
