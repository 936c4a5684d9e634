// The strips over the chart: states of months, how the record came about, what was found. Each
// carries its word where there is room; the list below the chart carries all of them.
import {
  ACCENT,
  FONT,
  GRID,
  INK,
  PAPER,
  QUIET,
  SOFT,
  WARN,
  WARN_PAPER,
} from "../charts/colours.js";
import { svgEl } from "../charts/nodes.js";
import { siteText } from "../charts/plot.js";

export const STRIPS = [
  ["state", "State"],
  ["how", "Record"],
  ["correction", "Corrected"],
  ["fault", "Found"],
  ["flag", "Flags"],
];
export const STRIP_PX = 18;
const words = (band) => band.word.replaceAll("_", " ");

function style(band) {
  if (band.word === "approved") return { fill: ACCENT, ink: PAPER };
  if (band.word === "reviewed") return { fill: SOFT, ink: INK };
  if (band.kind === "correction") return { fill: SOFT, ink: INK, edge: ACCENT };
  if (band.kind === "flag") return { fill: PAPER, ink: INK, edge: WARN };
  if (band.kind === "fault") return { fill: WARN_PAPER, ink: INK, edge: WARN };
  return { fill: PAPER, ink: INK, edge: QUIET, hatched: true };
}

function spanOf(u, band, scale) {
  const x0 = Math.max(u.valToPos(band.from_s, "x", true), u.bbox.left);
  const x1 = Math.min(u.valToPos(band.to_s, "x", true), u.bbox.left + u.bbox.width);
  return [x0, Math.max(x1, x0 + 3 * scale)];
}

/** Draw the strips on the canvas, in the room left above the plot. */
export function drawStrips(u, bands) {
  const pen = u.ctx;
  const ratio = devicePixelRatio;
  const high = STRIP_PX * ratio;
  pen.save();
  pen.font = FONT.replace("13px", `${12 * ratio}px`);
  pen.textBaseline = "middle";
  STRIPS.forEach(([kind, name], row) => {
    const y = u.bbox.top - (STRIPS.length - row) * high - 4 * ratio;
    pen.fillStyle = QUIET;
    pen.textAlign = "right";
    pen.fillText(name, u.bbox.left - 8 * ratio, y + high / 2);
    pen.textAlign = "left";
    pen.fillStyle = GRID;
    pen.fillRect(u.bbox.left, y + high - ratio, u.bbox.width, ratio);
    for (const band of bands) {
      if (band.kind !== kind) continue;
      const [x0, x1] = spanOf(u, band, ratio);
      if (x1 < u.bbox.left || x0 > u.bbox.left + u.bbox.width) continue;
      drawBand(pen, band, x0, y + 2 * ratio, x1 - x0, high - 5 * ratio, ratio);
    }
  });
  pen.restore();
}

function drawBand(pen, band, x, y, width, height, ratio) {
  const { fill, ink, edge, hatched } = style(band);
  pen.save();
  pen.beginPath();
  pen.rect(x, y, width, height);
  pen.clip();
  pen.fillStyle = fill;
  pen.fillRect(x, y, width, height);
  pen.lineWidth = ratio;
  pen.setLineDash([]);
  if (hatched) {
    pen.strokeStyle = GRID;
    pen.beginPath();
    for (let at = x - height; at < x + width; at += 5 * ratio) {
      pen.moveTo(at, y + height);
      pen.lineTo(at + height, y);
    }
    pen.stroke();
  }
  if (edge) {
    pen.strokeStyle = edge;
    pen.lineWidth = 2 * ratio;
    pen.strokeRect(x, y, width, height);
  }
  const text = words(band);
  if (pen.measureText(text).width + 8 * ratio < width) {
    pen.fillStyle = ink;
    pen.fillText(text, x + 4 * ratio, y + height / 2);
  }
  pen.restore();
}

/** The same strips for a saved SVG. */
export function svgStrips(plot, bands) {
  const nodes = [];
  STRIPS.forEach(([kind, name], row) => {
    const y = -(STRIPS.length - row) * 16 - 2;
    nodes.push(
      svgEl("text", { x: -8, y: y + 11, "text-anchor": "end", "font-size": 11, fill: QUIET }, name),
    );
    for (const band of bands) {
      if (band.kind !== kind) continue;
      const x0 = Math.max(0, plot.valToPos(band.from_s, "x"));
      const x1 = Math.min(plot.over.clientWidth, plot.valToPos(band.to_s, "x"));
      if (x1 < 0 || x0 > plot.over.clientWidth) continue;
      const { fill, ink, edge } = style(band);
      nodes.push(
        svgEl(
          "rect",
          { x: x0, y, width: Math.max(x1 - x0, 2), height: 13, fill, stroke: edge ?? "none" },
          svgEl("title", {}, words(band)),
        ),
      );
      if (x1 - x0 > 8 + 7 * words(band).length)
        nodes.push(
          svgEl("text", { x: x0 + 4, y: y + 10, "font-size": 11, fill: ink }, words(band)),
        );
    }
  });
  return nodes;
}

/** The bands in words: "approved, 2025-07-01 to 2025-08-01"; neighbours of one word together. */
export function bandLines(bands, offsetMin, most = 14) {
  const joined = [];
  const order = STRIPS.map(([kind]) => kind);
  const sorted = [...bands].sort(
    (a, b) => order.indexOf(a.kind) - order.indexOf(b.kind) || a.from_s - b.from_s,
  );
  for (const band of sorted) {
    const last = joined.findLast((one) => one.kind === band.kind && one.word === band.word);
    if (last && band.from_s <= last.to_s + 1) last.to_s = Math.max(last.to_s, band.to_s);
    else joined.push({ ...band });
  }
  const time = (s) => siteText(s, offsetMin).replace("T", " ");
  const lines = joined
    .slice(0, most)
    .map((band) => `${words(band)}: ${time(band.from_s)} to ${time(band.to_s)}`);
  if (joined.length > most) lines.push(`and ${joined.length - most} more; look closer to see them`);
  return lines;
}

const saidOf = (band) => (band.said === band.word ? words(band) : band.said);

export function bandsAt(bands, t) {
  return [...new Set(bands.filter((band) => band.from_s <= t && t <= band.to_s).map(saidOf))];
}

/** The band under x, y (pixels of the plot, y above it is negative); the narrowest of several. */
export function bandAt(u, bands, x, y) {
  const strip = STRIPS[STRIPS.length + Math.floor((y + 4) / STRIP_PX)];
  if (!strip) return null;
  const near = bands.filter((band) => {
    const [from, to] = [u.valToPos(band.from_s, "x"), u.valToPos(band.to_s, "x")];
    return band.kind === strip[0] && from - 3 <= x && x <= Math.max(to, from) + 3;
  });
  near.sort((a, b) => a.to_s - a.from_s - (b.to_s - b.from_s));
  return near[0] ?? null;
}
