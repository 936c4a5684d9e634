// Head and tailwater under the flow, on the same axis of time.
import { lineOf } from "../charts/colours.js";
import { legendLine } from "../charts/nodes.js";
import { axis, plotIn, siteClock, timeValues } from "../charts/plot.js";
import { drawLonely, tables } from "./lines.js";
import { lowestOf, marksIn, paintMarks, topOf } from "./marks.js";

const HEIGHT = 170;
const NAMES = ["head", "tailwater"];

/** Draw what is under the flow; `hooks` are those of the chart above. */
export function drawBelow(place, shown, { view, offsetMin, sync }) {
  const lines = NAMES.map((name) => ({ name, ...shown.below[name] })).filter((one, k) =>
    k === 0 ? true : one.mean.some((value) => value !== null),
  );
  const { unit, data, top } = tables({ series: lines }, "head");
  const marks = marksIn(shown, "head", unit.scale);
  const highest = Math.max(top, topOf(marks));
  const known = data
    .slice(1)
    .flat()
    .filter((value) => Number.isFinite(value));
  const lowest = Math.min(lowestOf(marks), ...known);
  const plot = plotIn(
    place,
    {
      height: HEIGHT,
      tzDate: siteClock(offsetMin),
      scales: {
        x: { time: true, range: () => [view.from_s, view.to_s] },
        y: { range: () => [lowest, highest > lowest ? highest * 1.3 : 1] },
      },
      cursor: { sync, drag: { x: false, y: false }, points: { show: false } },
      axes: [
        axis({ values: timeValues, size: 50, space: 80 }),
        axis({ label: "Head, mm", size: 66, labelSize: 22 }),
      ],
      series: [
        {},
        ...lines.flatMap((_, k) => [
          { stroke: null, points: { show: false } },
          { stroke: null, points: { show: false } },
          { stroke: lineOf(k).stroke, dash: lineOf(k).dash, width: 1.4, points: { show: false } },
        ]),
      ],
      bands: lines.map((_, k) => ({ series: [3 * k + 2, 3 * k + 1], fill: lineOf(k).fill })),
      hooks: {
        draw: [
          (u) => {
            drawLonely(u, lines);
            paintMarks(u, { ...marks, limits: [] });
          },
        ],
      },
    },
    data,
  );
  return {
    plot,
    marks,
    legend: lines.map((one, k) =>
      legendLine(lineOf(k), `${one.name} over the crest, in the lower chart`),
    ),
    missing: lines.length < NAMES.length,
  };
}
