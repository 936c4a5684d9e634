// The marks beside the series: readings and gaugings with their bars, the instants from which
// another rating or gauge zero holds, the limits of takes; and which of them lies under a finger.
import { ACCENT, BAD, FONT, INK, lineOf, QUIET } from "../charts/colours.js";
import { drawFlag, drawMark, GAUGING, svgFlag, svgMark } from "../charts/marks.js";
import { el, legendLine, svgEl } from "../charts/nodes.js";

const NEAR_PX = 12;
const R = 4.5;
const FAR_ABOVE = 1.6; // a limit farther above the flows is named, not drawn
const VALUE = { discharge: "discharge_m3s", head: "head_m", tailwater: "tailwater_m" };
const READING = "staff reading";
const LINES = {
  rating: { stroke: INK, dash: [9, 4], words: "another rating from here on" },
  "gauge zero": { stroke: QUIET, dash: [2, 4], words: "another gauge zero from here on" },
};
const LIMIT = { stroke: BAD, dash: [12, 5] };

const isPoint = (mark) => mark.kind === READING || mark.kind === "check gauging";
const codeOf = (mark) => (mark.kind === READING ? mark.flow_code : GAUGING);
const colourOf = (mark) => (mark.kind === READING ? ACCENT : lineOf(1).stroke);

/** The marks of an answer as they stand in a chart of one quantity, in its unit. */
export function marksIn(shown, what, scale) {
  const points = [];
  const lines = [];
  const limits = [];
  for (const mark of shown.marks) {
    if (mark.kind in LINES) lines.push(mark);
    else if (mark.parts.length && what === "discharge")
      limits.push({ ...mark, value: mark.amount_m3s * scale });
    if (!isPoint(mark)) continue;
    const known = mark[VALUE[what]];
    // A reading without a discharge stands on the floor of the chart: it happened.
    if (known === null && what !== "discharge") continue;
    const value = known === null ? null : known * scale;
    const pct = what === "discharge" ? mark.uncertainty_pct : null;
    points.push({ ...mark, value, spread: pct === null ? 0 : ((value ?? 0) * pct) / 100 });
  }
  return { points, lines, limits };
}

export const topOf = ({ points }) =>
  Math.max(0, ...points.map((one) => (one.value ?? 0) + one.spread));
export const lowestOf = ({ points }) => Math.min(0, ...points.map((one) => one.value ?? 0));

/** The top of the chart with the limits that lie near its flows. */
export function withLimits(top, { limits }) {
  const near = limits.map((one) => one.value).filter((value) => value <= top * FAR_ABOVE);
  return Math.max(top, ...near);
}

/** Where a mark stands, in pixels of the page or of the canvas. */
function spot(u, one, onCanvas) {
  const ratio = onCanvas ? devicePixelRatio : 1;
  const floor = onCanvas ? u.bbox.top + u.bbox.height : u.over.clientHeight;
  return {
    x: u.valToPos(one.from_s, "x", onCanvas),
    y: one.value === null ? floor - R * ratio : u.valToPos(one.value, "y", onCanvas),
  };
}

function drawLine(pen, { stroke, dash }, a, b, ratio) {
  pen.strokeStyle = stroke;
  pen.setLineDash(dash.map((part) => part * ratio));
  pen.beginPath();
  pen.moveTo(...a);
  pen.lineTo(...b);
  pen.stroke();
  pen.setLineDash([]);
}

/** Draw all marks on the canvas of a chart. */
export function paintMarks(u, { points, lines, limits }) {
  const pen = u.ctx;
  const ratio = devicePixelRatio;
  const { left, top, width, height } = u.bbox;
  pen.save();
  pen.beginPath();
  pen.rect(left - R * ratio, top, width + 2 * R * ratio, height + R * ratio);
  pen.clip();
  pen.lineWidth = 1.8 * ratio;
  pen.font = FONT.replace("13px", `${12 * ratio}px`);
  [pen.textBaseline, pen.textAlign] = ["top", "left"];
  for (const one of limits)
    for (const [from, to] of one.parts) {
      const y = u.valToPos(one.value, "y", true);
      drawLine(pen, LIMIT, [u.valToPos(from, "x", true), y], [u.valToPos(to, "x", true), y], ratio);
    }
  let clear = [left, left, left];
  for (const one of lines) {
    const x = u.valToPos(one.from_s, "x", true);
    drawLine(pen, LINES[one.kind], [x, top], [x, top + height], ratio);
    const wide = pen.measureText(one.title).width + 10 * ratio;
    const row = clear.findIndex((end) => end <= x);
    if (row < 0 || x + wide > left + width) continue; // the legend and the table name it
    clear = clear.with(row, x + wide);
    pen.fillStyle = LINES[one.kind].stroke;
    pen.fillText(one.title, x + 4 * ratio, top + (3 + 15 * row) * ratio);
  }
  for (const one of points) {
    const { x, y } = spot(u, one, true);
    [pen.strokeStyle, pen.fillStyle] = [colourOf(one), colourOf(one)];
    if (one.spread > 0) {
      const ends = [one.value - one.spread, one.value + one.spread].map((v) =>
        u.valToPos(v, "y", true),
      );
      pen.beginPath();
      pen.moveTo(x, ends[0]);
      pen.lineTo(x, ends[1]);
      for (const end of ends) {
        pen.moveTo(x - 3 * ratio, end);
        pen.lineTo(x + 3 * ratio, end);
      }
      pen.stroke();
    }
    drawMark(pen, codeOf(one), x, y, R * ratio);
    if (one.flags) {
      pen.strokeStyle = INK;
      drawFlag(pen, x, y, R * ratio);
    }
  }
  pen.restore();
}

const svgLine = ({ stroke, dash }, x1, y1, x2, y2) =>
  svgEl("line", {
    x1,
    y1,
    x2,
    y2,
    stroke,
    "stroke-width": 1.8,
    "stroke-dasharray": dash.join(" ") || "none",
  });

/** The same marks for a saved SVG. */
export function svgMarks(u, { points, lines, limits }) {
  const at = (s) => u.valToPos(s, "x");
  const nodes = limits.flatMap((one) =>
    one.parts.map(([from, to]) => {
      const y = u.valToPos(one.value, "y");
      return svgLine(LIMIT, at(from), y, at(to), y);
    }),
  );
  for (const one of lines)
    nodes.push(
      svgLine(LINES[one.kind], at(one.from_s), 0, at(one.from_s), u.over.clientHeight),
      svgEl("text", { x: at(one.from_s) + 4, y: 12, "font-size": 11 }, one.title),
    );
  for (const one of points) {
    const { x, y } = spot(u, one, false);
    if (one.spread > 0) {
      const ends = [one.value - one.spread, one.value + one.spread].map((v) => u.valToPos(v, "y"));
      nodes.push(svgLine({ stroke: colourOf(one), dash: [] }, x, ends[0], x, ends[1]));
    }
    const mark = svgMark(codeOf(one), x, y, R, colourOf(one));
    mark.append(svgEl("title", {}, `${one.title}: ${one.words}`));
    nodes.push(mark);
    if (one.flags) nodes.push(svgFlag(x, y, R, INK));
  }
  return nodes;
}

/** The mark that lies under x, y (pixels of the plot): a point, else a line, else a limit. */
export function markAt(u, { points, lines, limits }, x, y) {
  let [found, off] = [null, NEAR_PX];
  for (const one of points) {
    const at = spot(u, one, false);
    const away = Math.hypot(at.x - x, at.y - y);
    if (away < off) [found, off] = [one, away];
  }
  if (found) return found;
  const near = (one) => Math.abs(u.valToPos(one.from_s, "x") - x);
  const line = lines.filter((one) => near(one) <= NEAR_PX / 2).sort((a, b) => near(a) - near(b))[0];
  if (line) return line;
  const second = u.posToVal(x, "x");
  return limits.find(
    (one) =>
      Math.abs(u.valToPos(one.value, "y") - y) <= NEAR_PX / 2 &&
      one.parts.some(([from, to]) => from <= second && second <= to),
  );
}

const picture = (...drawn) =>
  svgEl("svg", { viewBox: "0 0 18 18", width: 18, height: 18, "aria-hidden": "true" }, ...drawn);
const line = (...parts) => el("li", {}, ...parts);

/** The lines of the legend for the marks that are there, each with its shape and its words. */
export function legendOf({ points, lines, limits }, top) {
  const out = [];
  const seen = new Set();
  for (const one of points) {
    const words = one.kind === READING ? `${READING}, ${one.flow}` : one.kind;
    if (seen.has(words)) continue;
    seen.add(words);
    out.push(line(picture(svgMark(codeOf(one), 9, 9, R, colourOf(one))), ` ${words}`));
  }
  if (points.some((one) => one.spread > 0)) out.push(line("bars: uncertainty, k = 2"));
  if (points.some((one) => one.flags))
    out.push(line(picture(svgFlag(7, 20, 5, INK)), " flagged: its words are in the table"));
  for (const [kind, look] of Object.entries(LINES))
    if (lines.some((one) => one.kind === kind)) out.push(legendLine(look, look.words));
  for (const one of limits)
    out.push(legendLine(LIMIT, one.value > top ? `${one.title}: far above this chart` : one.title));
  return out;
}
