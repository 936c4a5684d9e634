// The history chart: readings as marks with their uncertainty, an envelope where there are many,
// gaps open. All figures and words come from the server; nothing is computed here but pixels.
import { drawFlag, drawMark } from "./charts/marks.js";

const css = getComputedStyle(document.documentElement);
const ink = css.getPropertyValue("--ink");
const accent = css.getPropertyValue("--accent");
const soft = css.getPropertyValue("--wash");
const grid = css.getPropertyValue("--line");
const AXIS_FONT = "13px system-ui, sans-serif";

const figure = document.querySelector("[data-chart]");
if (figure) start(figure);

async function start(figure) {
  const readout = figure.querySelector(".readout");
  try {
    const answer = await fetch(figure.dataset.chart, { headers: { accept: "application/json" } });
    if (!answer.ok) throw new Error(`the server answered ${answer.status}`);
    drawAll(figure, await answer.json(), readout);
  } catch (error) {
    readout.textContent = `The chart could not be drawn (${error.message}); the tables below hold the readings.`;
  }
}

function drawAll(figure, data, readout) {
  const width = () => figure.querySelector(".plot").clientWidth;
  const plots = [
    makePlot(figure, data, readout, "discharge", "discharge_m3s", width(), 320),
    makePlot(figure, data, readout, "head", "head_m", width(), 190),
  ];
  new ResizeObserver(() => {
    for (const plot of plots) plot.setSize({ width: width(), height: plot.height });
  }).observe(figure);
}

/** Put envelope rows and readings into one list in the order of time, as uPlot wants them. */
function columnsOf(envelope, marks, key) {
  const rows = envelope.t.map((t, k) => ({
    t,
    low: envelope.low[k],
    high: envelope.high[k],
    mean: envelope.mean[k],
  }));
  marks.t.forEach((t, k) => rows.push({ t, mark: k }));
  rows.sort((a, b) => a.t - b.t);
  // undefined leaves a line whole, null opens it: a gap of the record stays a gap.
  const column = (name) => rows.map((row) => ("mark" in row ? undefined : row[name]));
  const value = rows.map((row) => ("mark" in row ? marks[key][row.mark] : undefined));
  return {
    data: [rows.map((row) => row.t), column("low"), column("high"), column("mean"), value],
    mark: rows.map((row) => row.mark),
  };
}

function unitOf(name, values) {
  if (name === "head") return { label: "Head, mm", scale: 1000 };
  const largest = Math.max(0, ...values.filter((v) => v !== null));
  return largest >= 1
    ? { label: "Discharge, m³/s", scale: 1 }
    : { label: "Discharge, L/s", scale: 1000 };
}

function makePlot(figure, data, readout, name, key, width, height) {
  const place = figure.querySelector(`[data-plot="${name}"]`);
  const { data: columns, mark } = columnsOf(data[name], data.marks, key);
  const unit = unitOf(name, data.marks[key]);
  const scaled = columns.map((column, k) =>
    k === 0 ? column : column.map((v) => (v === null || v === undefined ? v : v * unit.scale)),
  );
  const spread = (k) =>
    name === "discharge" && data.marks.uncertainty_pct[k] !== null
      ? (data.marks.discharge_m3s[k] * unit.scale * data.marks.uncertainty_pct[k]) / 100
      : 0;
  const top = Math.max(
    0,
    ...mark
      .map((k, at) => (k === undefined ? scaled[2][at] : scaled[4][at] + spread(k)))
      .filter(Number.isFinite),
  );
  const bottom = Math.min(0, ...scaled[4].filter(Number.isFinite));
  const range = timeRange(data);

  const plot = new uPlot(
    {
      width,
      height,
      legend: { show: false },
      padding: [8, 14, 0, 0],
      scales: {
        x: { time: true, range: () => range },
        y: { range: () => [bottom, top > bottom ? top * (name === "head" ? 1.3 : 1.15) : 1] },
      },
      // The site's clock, whatever clock the browser keeps.
      tzDate: (seconds) =>
        new Date(
          (seconds + data.utc_offset_min * 60 + new Date(seconds * 1000).getTimezoneOffset() * 60) *
            1000,
        ),
      cursor: { sync: { key: "history" }, drag: { x: false, y: false }, points: { show: false } },
      axes: [
        { stroke: ink, font: AXIS_FONT, grid: { stroke: grid, width: 1 }, ticks: { stroke: grid } },
        {
          stroke: ink,
          font: AXIS_FONT,
          size: 62,
          label: unit.label,
          labelFont: AXIS_FONT,
          labelSize: 22,
          grid: { stroke: grid, width: 1 },
          ticks: { stroke: grid },
        },
      ],
      series: [
        {},
        { stroke: null, points: { show: false } },
        { stroke: null, points: { show: false } },
        { stroke: accent, width: 1.5, points: { show: false } },
        { paths: () => null, points: { show: false } },
      ],
      bands: [{ series: [2, 1], fill: soft }],
      hooks: {
        draw: [(u) => drawMarks(u, data, scaled, mark, spread)],
        setCursor: [(u) => tell(u, data, mark, readout)],
        ready: [(u) => u.over.addEventListener("click", () => open(u, data, mark))],
      },
    },
    scaled,
    place,
  );
  return plot;
}

function timeRange(data) {
  const t = data.marks.t;
  const first = data.from_s ?? t[0];
  const last = data.to_s ?? t[t.length - 1];
  return first < last ? [first, last] : [first - 43200, first + 43200];
}

function drawMarks(u, data, scaled, mark, spread) {
  const pen = u.ctx;
  const ratio = devicePixelRatio || 1;
  const r = 4.5 * ratio;
  pen.save();
  pen.beginPath();
  pen.rect(u.bbox.left - r, u.bbox.top, u.bbox.width + 4 * r, u.bbox.height + r);
  pen.clip();
  pen.lineWidth = 1.5 * ratio;
  mark.forEach((k, at) => {
    if (k === undefined) return;
    const x = u.valToPos(scaled[0][at], "x", true);
    const value = scaled[4][at];
    const known = Number.isFinite(value);
    // A reading without a discharge stands on the floor of the chart: it happened.
    const y = known ? u.valToPos(value, "y", true) : u.bbox.top + u.bbox.height - r;
    const bar = known ? spread(k) : 0;
    pen.strokeStyle = accent;
    pen.fillStyle = accent;
    if (bar > 0) {
      pen.globalAlpha = 0.45;
      pen.beginPath();
      pen.moveTo(x, u.valToPos(value - bar, "y", true));
      pen.lineTo(x, u.valToPos(value + bar, "y", true));
      pen.stroke();
      pen.globalAlpha = 1;
    }
    drawMark(pen, data.marks.flow_code[k], x, y, r);
    if (data.marks.flags[k]) {
      pen.strokeStyle = ink;
      drawFlag(pen, x, y, r);
    }
  });
  pen.restore();
}

/** Find the reading nearest to the cursor in time, within a finger's width. */
function nearest(u, mark) {
  if (u.cursor.left === undefined || u.cursor.left < 0) return undefined;
  let found;
  let off = 24;
  mark.forEach((k, at) => {
    if (k === undefined) return;
    const away = Math.abs(u.valToPos(u.data[0][at], "x") - u.cursor.left);
    if (away < off) [found, off] = [k, away];
  });
  return found;
}

function tell(u, data, mark, readout) {
  const k = nearest(u, mark);
  if (k === undefined) return;
  const marks = data.marks;
  readout.textContent = [
    marks.when[k],
    `head ${marks.head_shown[k]}`,
    marks.shown[k],
    marks.flow[k],
    marks.flags[k],
  ]
    .filter(Boolean)
    .join(" · ");
}

function open(u, data, mark) {
  const k = nearest(u, mark);
  if (k !== undefined) location.href = `/readings/${data.marks.id[k]}`;
}
