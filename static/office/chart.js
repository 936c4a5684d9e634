// What all charts of the record share: looks, the site's clock, units, saving as PNG and SVG.
// All figures come from the server; here only pixels are computed.

const css = getComputedStyle(document.documentElement);
const colour = (name) => css.getPropertyValue(name).trim();
export const INK = colour("--ink");
export const QUIET = colour("--quiet");
export const ACCENT = colour("--accent");
export const SOFT = colour("--soft");
export const GRID = colour("--line");
export const WARN = colour("--warn-line");
export const BAD = colour("--bad");
export const PAPER = colour("--card");
export const FONT = "13px system-ui, sans-serif";

// A line is told from another by its dashes and its colour.
export const LINES = [
  { stroke: ACCENT, fill: "#bfdcdd", edge: "#5d9ea4", dash: [] },
  { stroke: "#8a3b00", fill: "#f0d3bd", edge: "#c98a5e", dash: [9, 4] },
  { stroke: "#5a2a82", fill: "#dccbeb", edge: "#a583c4", dash: [2, 3] },
  { stroke: "#1f5fae", fill: "#c5d9f2", edge: "#7da3d6", dash: [12, 3, 2, 3] },
  { stroke: "#3d6b1f", fill: "#cfe2c0", edge: "#8db06f", dash: [5, 2] },
  { stroke: "#16222b", fill: "#d2d6d8", edge: "#8b969c", dash: [1, 5] },
];
export const lineOf = (k) => LINES[k % LINES.length];

/** uPlot shows the browser's clock; this gives it the site's. */
export function siteClock(offsetMin) {
  return (seconds) => {
    const browser = new Date(seconds * 1000).getTimezoneOffset();
    return new Date((seconds + (offsetMin + browser) * 60) * 1000);
  };
}

export function siteText(seconds, offsetMin) {
  return new Date((seconds + offsetMin * 60) * 1000).toISOString().slice(0, 16);
}

export function fromSiteText(text, offsetMin) {
  const plain = /^\d{4}-\d{2}-\d{2}$/.test(text) ? `${text}T00:00` : text;
  const ms = Date.parse(`${plain}Z`);
  return Number.isFinite(ms) ? Math.round(ms / 1000) - offsetMin * 60 : null;
}

/** Unit and factor that suit the largest value of a quantity. */
export function unitFor(what, largest) {
  if (what === "head" || what === "tailwater")
    return { label: what === "head" ? "Head, mm" : "Tailwater, mm", scale: 1000, word: "mm" };
  return largest >= 1
    ? { label: "Discharge, m³/s", scale: 1, word: "m³/s" }
    : { label: "Discharge, L/s", scale: 1000, word: "L/s" };
}

export const axis = (more = {}) => ({
  stroke: INK,
  font: FONT,
  labelFont: FONT,
  grid: { stroke: GRID, width: 1 },
  ticks: { stroke: GRID },
  ...more,
});

/** Axis text of times: numbers only, day before month never in doubt. */
export const timeValues = [
  [3600 * 24 * 365, "{YYYY}", null, null, null, null, null, null, 1],
  [3600 * 24 * 28, "{MMM}", "\n{YYYY}", null, null, null, null, null, 1],
  [3600 * 24, "{D} {MMM}", "\n{YYYY}", null, null, null, null, null, 1],
  [3600, "{HH}:{mm}", "\n{D} {MMM} {YYYY}", null, "\n{D} {MMM}", null, null, null, 1],
  [60, "{HH}:{mm}", "\n{D} {MMM} {YYYY}", null, "\n{D} {MMM}", null, null, null, 1],
  [1, "{HH}:{mm}:{ss}", "\n{D} {MMM} {YYYY}", null, "\n{D} {MMM}", null, null, null, 1],
];

/** Make a plot that keeps the width of its place. */
export function plotIn(place, options, data) {
  const width = () => Math.max(place.clientWidth, 200);
  const plot = new uPlot(
    { legend: { show: false }, padding: [8, 34, 0, 0], ...options, width: width() },
    data,
    place,
  );
  const watch = new ResizeObserver(() => {
    if (plot.width !== width()) plot.setSize({ width: width(), height: options.height });
  });
  watch.observe(place);
  const destroy = plot.destroy.bind(plot);
  plot.destroy = () => {
    watch.disconnect();
    destroy();
  };
  return plot;
}

/** Get JSON, or throw the server's own words. */
export async function ask(url, signal) {
  const answer = await fetch(url, { headers: { accept: "application/json" }, signal });
  if (answer.ok) return answer.json();
  const said = await answer.json().catch(() => ({}));
  throw new Error(
    [said.rule, said.remedy].filter(Boolean).join(". ") || `the server answered ${answer.status}`,
  );
}

export function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    if (value !== null && value !== false) node.setAttribute(name, value);
  node.append(...children);
  return node;
}

const SVG = "http://www.w3.org/2000/svg";
export function svgEl(tag, attributes = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  node.append(...children);
  return node;
}

/** A line of the legend: the stroke itself, then its words. */
export function legendLine({ stroke, dash }, words) {
  const line = svgEl("line", {
    x1: 1,
    y1: 7,
    x2: 33,
    y2: 7,
    stroke,
    "stroke-width": 2.5,
    "stroke-dasharray": dash.join(" ") || "none",
  });
  return el(
    "li",
    {},
    svgEl("svg", { viewBox: "0 0 34 14", width: 34, height: 14, "aria-hidden": "true" }, line),
    ` ${words}`,
  );
}

function save(blob, name) {
  const url = URL.createObjectURL(blob);
  const link = el("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

/** Save the chart as it stands, with its title above and a note below. */
export function savePng(plot, { title, note, name, lines = [] }) {
  const ratio = devicePixelRatio;
  const drawn = plot.ctx.canvas;
  const legendHigh = lines.length * 18;
  const [above, below] = [34 * ratio, (26 + legendHigh) * ratio];
  const sheet = el("canvas");
  [sheet.width, sheet.height] = [drawn.width, drawn.height + above + below];
  const pen = sheet.getContext("2d");
  pen.fillStyle = PAPER;
  pen.fillRect(0, 0, sheet.width, sheet.height);
  pen.drawImage(drawn, 0, above);
  pen.fillStyle = INK;
  pen.font = `600 ${15 * ratio}px system-ui, sans-serif`;
  pen.fillText(title, 10 * ratio, 22 * ratio, sheet.width - 20 * ratio);
  pen.fillStyle = QUIET;
  pen.font = `${12 * ratio}px system-ui, sans-serif`;
  lines.forEach(({ stroke, dash, words }, k) => {
    const y = sheet.height - (legendHigh + 18 - 18 * k) * ratio;
    pen.save();
    [pen.strokeStyle, pen.lineWidth] = [stroke, 2.5 * ratio];
    pen.setLineDash(dash.map((part) => part * ratio));
    pen.beginPath();
    pen.moveTo(10 * ratio, y);
    pen.lineTo(44 * ratio, y);
    pen.stroke();
    pen.restore();
    pen.fillText(words, 52 * ratio, y + 4 * ratio);
  });
  pen.fillText(note, 10 * ratio, sheet.height - 9 * ratio, sheet.width - 20 * ratio);
  sheet.toBlob((blob) => save(blob, `${name}.png`), "image/png");
}

const round = (value) => Math.round(value * 100) / 100;

/** One path of a series; a gap (null) lifts the pen, a missing place in the row (undefined) not. */
function pathOf(plot, k) {
  const scale = plot.series[k].scale ?? "y";
  let run = 0;
  const parts = [];
  const lift = () => {
    if (run === 1) parts.push("h0"); // a reading alone: a dot, by the round ends of the line
    run = 0;
  };
  plot.data[k].forEach((value, at) => {
    if (value === undefined) return;
    if (value === null || !Number.isFinite(value)) return lift();
    parts.push(
      `${run ? "L" : "M"}${round(plot.valToPos(plot.data[0][at], "x"))} ${round(plot.valToPos(value, scale))}`,
    );
    run += 1;
    return undefined;
  });
  lift();
  return parts.join("");
}

function axisMarks(plot, width, height) {
  const marks = [];
  plot.axes.forEach((one, k) => {
    if (!one.show || !one._splits) return;
    one._splits.forEach((split, at) => {
      const words = String(one._values?.[at] ?? "")
        .split("\n")
        .filter(Boolean);
      if (split === null || !words.length) return;
      const across = k === 0;
      const at_ = round(plot.valToPos(split, one.scale));
      if (across ? at_ < 0 || at_ > width : at_ < 0 || at_ > height) return;
      marks.push(
        svgEl(
          "line",
          across
            ? { x1: at_, y1: 0, x2: at_, y2: height, stroke: GRID }
            : { x1: 0, y1: at_, x2: width, y2: at_, stroke: GRID },
        ),
      );
      words.forEach((word, row) => {
        marks.push(
          svgEl(
            "text",
            across
              ? { x: at_, y: height + 18 + 15 * row, "text-anchor": "middle" }
              : { x: -8, y: at_ + 4, "text-anchor": "end" },
            word,
          ),
        );
      });
    });
  });
  return marks;
}

/** Save the chart as SVG, drawn anew from its data; `extra(plot)` gives more nodes. */
export function saveSvg(plot, { title, note, name, lines = [], extra = () => [] }) {
  const { width, height } = { width: plot.over.clientWidth, height: plot.over.clientHeight };
  const [left, top, right, bottom] = [80, 100, 34, 74 + 18 * lines.length];
  const inner = svgEl(
    "g",
    { transform: `translate(${left} ${top})` },
    ...axisMarks(plot, width, height),
  );
  inner.append(svgEl("rect", { x: 0, y: 0, width, height, fill: "none", stroke: GRID }));
  plot.series.forEach((series, k) => {
    if (k === 0 || !series.show || typeof series.stroke !== "function") return;
    const stroke = series.stroke(plot, k);
    if (!stroke) return;
    inner.append(
      svgEl("path", {
        d: pathOf(plot, k),
        fill: "none",
        stroke,
        "stroke-width": series.width || 1,
        "stroke-dasharray": series.dash?.join(" ") || "none",
        "stroke-linejoin": "round",
        "stroke-linecap": series.dash?.length ? "butt" : "round",
      }),
    );
  });
  inner.append(...extra(plot));
  lines.forEach(({ stroke, dash, words }, row) => {
    const y = height + 54 + 18 * row;
    inner.append(
      svgEl("line", {
        x1: 0,
        y1: y,
        x2: 34,
        y2: y,
        stroke,
        "stroke-width": 2.5,
        "stroke-dasharray": dash.join(" ") || "none",
      }),
      svgEl("text", { x: 42, y: y + 4, "font-size": 12 }, words),
    );
  });
  const label = plot.axes[1].label ?? "";
  const sheet = svgEl(
    "svg",
    {
      xmlns: SVG,
      viewBox: `0 0 ${width + left + right} ${height + top + bottom}`,
      width: width + left + right,
      height: height + top + bottom,
      "font-family": "system-ui, sans-serif",
      "font-size": 13,
      fill: INK,
    },
    svgEl("title", {}, title),
    svgEl("rect", { width: "100%", height: "100%", fill: PAPER }),
    svgEl("text", { x: 12, y: 26, "font-size": 16, "font-weight": 600 }, title),
    svgEl("text", { x: 12, y: 48 }, typeof label === "string" ? label : ""),
    inner,
    svgEl("text", { x: 12, y: height + top + bottom - 10, fill: QUIET, "font-size": 12 }, note),
  );
  const text = new XMLSerializer().serializeToString(sheet);
  save(new Blob([text], { type: "image/svg+xml" }), `${name}.svg`);
}

/** Wire the two save buttons of a figure; `about()` gives title, note and name at that moment. */
export function saveButtons(figure, plot, about) {
  for (const button of figure.querySelectorAll("[data-save]")) {
    button.addEventListener("click", () =>
      (button.dataset.save === "png" ? savePng : saveSvg)(plot(), about()),
    );
  }
}
