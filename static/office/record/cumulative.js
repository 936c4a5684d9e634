// The volume since the season began, with its bounds, against the limit and where it is heading.
import { counted } from "../../shared/counted.js";
import { ACCENT, BAD, SOFT } from "../charts/colours.js";
import { legendLine } from "../charts/nodes.js";
import { ask, axis, plotIn, timeValues } from "../charts/plot.js";
import { saveButtons } from "../charts/save.js";

const figure = document.querySelector("[data-cumulative]");
const seconds = (day) => Date.parse(`${day}T00:00Z`) / 1000;
const cubic = (value) => `${Math.round(value).toLocaleString("en").replaceAll(",", "\u202f")} m³`;

async function start() {
  const found = await ask(figure.dataset.cumulative);
  const t = found.day.map((day) => seconds(day) + 86400); // the volume stands at the end of its day
  const nothing = found.missing_days >= t.length;
  const end = seconds(found.last) + 86400;
  const ahead = found.projection;
  const times = [...t, ...(t.length && t[t.length - 1] < end ? [end] : [])];
  const pad = (values) => [...values, ...Array(times.length - values.length).fill(null)];
  const last = t.length - 1;
  const way = (key) =>
    ahead && times.length > t.length
      ? [...t.map((_, k) => (k === last ? found.volume_m3[k] : undefined)), ahead[key]]
      : times.map(() => null);
  const limit = times.map((_, k) =>
    found.limit_m3 !== null && (k === 0 || k === times.length - 1) ? found.limit_m3 : undefined,
  );
  const data = [
    times,
    pad(found.low_m3),
    pad(found.high_m3),
    nothing ? times.map(() => null) : pad(found.volume_m3),
    limit,
    way("low"),
    way("high"),
    way("expected"),
  ];
  const top = Math.max(1, found.limit_m3 ?? 0, ...found.high_m3, ahead?.high ?? 0);
  const dashes = { limit: [12, 5], way: [3, 4] };
  const readout = figure.querySelector("[data-readout]");
  const plot = plotIn(
    figure.querySelector("[data-plot]"),
    {
      height: 320,
      tzDate: (s) => new Date((s + new Date(s * 1000).getTimezoneOffset() * 60) * 1000),
      scales: {
        x: { time: true, range: () => [seconds(found.first), end] },
        y: { range: () => [0, top * 1.06] },
      },
      cursor: { drag: { x: false, y: false } },
      axes: [
        axis({ values: timeValues, size: 50, space: 70 }),
        axis({ label: "Volume, m³", size: 84, labelSize: 22 }),
      ],
      series: [
        {},
        { stroke: null, points: { show: false } },
        { stroke: null, points: { show: false } },
        { stroke: ACCENT, width: 2, points: { show: false } },
        { stroke: BAD, width: 2, dash: dashes.limit, points: { show: false } },
        { stroke: ACCENT, width: 1, dash: [1, 3], points: { show: false } },
        { stroke: ACCENT, width: 1, dash: [1, 3], points: { show: false } },
        { stroke: ACCENT, width: 2, dash: dashes.way, points: { show: false } },
      ],
      bands: [{ series: [2, 1], fill: SOFT }],
      hooks: {
        setCursor: [
          (u) => {
            const k = u.cursor.idx;
            if (k === null || k === undefined || k >= t.length) return;
            readout.textContent = `${found.day[k]}: ${cubic(found.volume_m3[k])}, at least ${cubic(found.low_m3[k])}, ${found.high_m3[k] === null ? "at most not known from the record alone" : `at most ${cubic(found.high_m3[k])}`}`;
          },
        ],
      },
    },
    data,
  );
  const lines = [legendLine({ stroke: ACCENT, dash: [] }, "volume; the shade is its uncertainty")];
  if (found.limit_m3 !== null)
    lines.push(legendLine({ stroke: BAD, dash: dashes.limit }, `limit ${cubic(found.limit_m3)}`));
  if (ahead)
    lines.push(
      legendLine({ stroke: ACCENT, dash: dashes.way }, `if it goes on so: ${ahead.verdict}`),
    );
  figure.querySelector("[data-legend]").replaceChildren(...lines);
  const words = [
    `${found.first} to ${found.as_of}: ${nothing ? "no volume is known" : cubic(found.volume_m3[last])}`,
  ];
  words.push(
    found.limit_m3 === null
      ? "no limit of a season"
      : `the limit is ${cubic(found.limit_m3)}: ${found.said}`,
  );
  if (found.missing_days && !nothing)
    words.push(
      `${counted(found.missing_days, "day")} without a known volume: nothing is added to the line`,
    );
  figure.querySelector("[data-words]").textContent = `${words.join("; ")}.`;
  saveButtons(
    figure,
    () => plot,
    () => ({
      title: `${document.querySelector("h1").textContent}: volume of the season`,
      note: words.join("; "),
      name: `season-${found.first}`,
    }),
  );
}

if (figure) {
  start().catch((error) => {
    figure.querySelector("[data-readout]").textContent =
      `The chart could not be drawn: ${error.message}`;
  });
}
